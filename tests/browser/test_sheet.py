"""The sheet in a browser and on paper: all of it there, legible, and nothing over anything else."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Dialog, Page

from balancer.files.car_reader import read_car
from tests.browser.browser import PAPERS, printed, show
from tests.browser.conftest import missing
from tests.browser.pages import worst

MEASURE = (Path(__file__).parent / "measure.js").read_text(encoding="utf-8")
WIDTHS = (390, 768, 1280)
INCHES = {"A4": (210 / 25.4, 297 / 25.4), "Letter": (8.5, 11.0)}
SHEETS = ("example", "session", "corners", "worst", "overfull")
ONE_PAGE = SHEETS[:-1]
SCHEMES = pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
LEGIBLE = 7.0
"""Smallest type on paper [pt]."""


def shown(page: Page, sheet: Path, width: int, dark: bool) -> None:
    """Show a sheet in a window as high as itself, so that all of it can be measured."""
    show(page, sheet, width, dark)
    high = page.evaluate("document.documentElement.scrollHeight")
    page.set_viewport_size({"width": width, "height": high})
    page.evaluate(MEASURE)


def on_paper(page: Page, paper: str) -> None:
    """Lay the page out as it is printed."""
    width, height = INCHES[paper]
    page.emulate_media(media="print")
    inner = round((width - 16 / 25.4) * 96)
    page.set_viewport_size({"width": inner, "height": round(height * 96)})


def found(page: Page, check: str) -> Any:
    return page.evaluate(f"measured.{check}()")


@SCHEMES
@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", SHEETS)
def test_all_of_it_shows(
    page: Page, sheets: dict[str, Path], name: str, width: int, dark: bool
) -> None:
    shown(page, sheets[name], width, dark)
    assert page.evaluate("measured.count") > 80
    assert page.evaluate("measured.room") == width
    assert page.evaluate("measured.wide") <= width
    assert found(page, "clipped") == []
    assert found(page, "overlapping") == []
    assert found(page, "faint") == []
    sizes = found(page, "sizes")
    assert sizes["turns"]
    assert min(sizes["turns"]) > sizes["most"]
    assert sizes["least"] >= 11.5


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", SHEETS)
def test_paper_shows_all_of_it(page: Page, sheets: dict[str, Path], name: str, paper: str) -> None:
    show(page, sheets[name], 768)
    on_paper(page, paper)
    page.evaluate(MEASURE)
    assert page.evaluate("measured.wide") <= page.evaluate("measured.room")
    assert found(page, "clipped") == []
    assert found(page, "overlapping") == []
    sizes = found(page, "sizes")
    assert 0.75 * sizes["least"] >= LEGIBLE - 0.01
    assert min(sizes["turns"]) > sizes["most"]


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", SHEETS)
def test_it_hangs_on_the_wall_as_one_page(
    page: Page, sheets: dict[str, Path], tmp_path: Path, name: str, paper: str
) -> None:
    show(page, sheets[name], 768)
    pdf = tmp_path / "sheet.pdf"
    pdf.write_bytes(printed(page, paper))
    pages = _pages(pdf)
    assert (len(pages) == 1) == (name in ONE_PAGE)
    first = re.sub(r"\s+", " ", pages[0])
    lasting = ["LF", "RF", "LR", "RR", "Before and after", "By hand", "pressure", "Next time"]
    lasting += ["Uncertainty", "never work under a car on a jack", "cross, %"]
    if name in ("worst", "overfull"):
        lasting += ["40¾", "199 23/24", "12 5/12", "2006.7", "to spare"]
        lasting += ["ballast that comes loose kills", "<script>alert(1)</script>"]
    if name == "overfull":
        lasting.append("on the next page")
    assert [words for words in lasting if words not in first] == []
    # Shrunk to fit the paper, type would be smaller than the style sheet says.
    assert min(_heights(pdf)) >= LEGIBLE * 1.1


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize(("places", "items"), [(0, 1), (3, 6), (9, 12), (20, 6)])
def test_between_the_usual_and_the_worst_it_is_one_page_too(
    page: Page, tmp_path: Path, places: int, items: int, paper: str
) -> None:
    sheet = tmp_path / "sheet.html"
    sheet.write_text(worst(tmp_path, places, items), encoding="utf-8")
    show(page, sheet, 768)
    pdf = tmp_path / "sheet.pdf"
    pdf.write_bytes(printed(page, paper))
    assert len(_pages(pdf)) == 1
    assert min(_heights(pdf)) >= LEGIBLE * 1.1


def _pages(pdf: Path) -> list[str]:
    """Extract the text of each page."""
    text = _poppler("-layout", str(pdf))
    return text.removesuffix("\f").split("\f")


def _heights(pdf: Path) -> list[float]:
    """Give the heights of the font boxes of all words [pt]."""
    found = re.findall(
        r'yMin="([\d.]+)" xMax="[\d.]+" yMax="([\d.]+)"', _poppler("-bbox", str(pdf))
    )
    return [float(high) - float(low) for low, high in found]


def _poppler(*words: str) -> str:
    path = shutil.which("pdftotext")
    if path is None:
        missing("no pdftotext", "apt-get install poppler-utils")
    assert path
    ran = subprocess.run([path, *words, "-"], capture_output=True, check=True)
    return ran.stdout.decode("utf-8")


def test_names_stay_text(page: Page, sheets: dict[str, Path]) -> None:
    sheet, said = sheets["worst"], list[str]()

    def heard(dialog: Dialog) -> None:
        said.append(dialog.message)
        dialog.dismiss()

    page.on("dialog", heard)
    show(page, sheet, 768)
    file = read_car(sheet.parent / "worst.toml")
    assert said == []
    assert page.evaluate("document.querySelectorAll('script, img, b, iframe, link').length") == 0
    handlers = "[...document.querySelectorAll('*')].flatMap(e => e.getAttributeNames())"
    assert [name for name in page.evaluate(handlers) if name.startswith("on")] == []
    assert page.evaluate("document.querySelector('h1').textContent") == file.car.name
    assert page.evaluate("document.title") == f"{file.car.name}: sheet"
    assert len(file.car.name) == 200
    texts = page.locator(".ballast .whole").all_text_contents()
    assert texts == [place.name for place in file.car.places]


@SCHEMES
@pytest.mark.parametrize("width", [390, 1280])
@pytest.mark.parametrize("name", ONE_PAGE)
def test_axe_finds_nothing(
    page: Page, sheets: dict[str, Path], name: str, width: int, dark: bool
) -> None:
    shown(page, sheets[name], width, dark)
    ran = Axe().run(page, options={"resultTypes": ["violations", "passes"]}).response
    assert len(ran["passes"]) > 15
    told = [(one["id"], one["nodes"][0]["html"]) for one in ran["violations"]]
    assert told == []
