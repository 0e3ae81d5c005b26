"""The sheet in a browser and on paper: all of it there, legible, and nothing over anything else."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

from balancer.carfile import read_car
from tests.browser.chrome import Chrome
from tests.browser.conftest import missing
from tests.browser.pages import worst

MEASURE = (Path(__file__).parent / "measure.js").read_text(encoding="utf-8")
WIDTHS = (390, 768, 1280)
PAPERS = {"A4": (210 / 25.4, 297 / 25.4), "Letter": (8.5, 11.0)}
SHEETS = ("example", "session", "corners", "worst", "overfull")
ONE_PAGE = SHEETS[:-1]
SCHEMES = pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
LEGIBLE = 7.0
"""Smallest type on paper [pt]."""


def shown(chrome: Chrome, page: Path, width: int, dark: bool) -> None:
    """Show a sheet in a window as high as itself, so that all of it can be measured."""
    chrome.open(page, width, dark)
    chrome.stretch(width)
    chrome.run(MEASURE)


def found(chrome: Chrome, check: str) -> Any:
    return chrome.run(f"measured.{check}()")


@SCHEMES
@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", SHEETS)
def test_all_of_it_shows(
    chrome: Chrome, sheets: dict[str, Path], name: str, width: int, dark: bool
) -> None:
    shown(chrome, sheets[name], width, dark)
    assert chrome.run("measured.count") > 80
    assert chrome.run("measured.room") == width
    assert chrome.run("measured.wide") <= width
    assert found(chrome, "clipped") == []
    assert found(chrome, "overlapping") == []
    assert found(chrome, "faint") == []
    sizes = found(chrome, "sizes")
    assert sizes["turns"]
    assert min(sizes["turns"]) > sizes["most"]
    assert sizes["least"] >= 11.5


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", SHEETS)
def test_paper_shows_all_of_it(
    chrome: Chrome, sheets: dict[str, Path], name: str, paper: str
) -> None:
    chrome.open(sheets[name], 768)
    chrome.on_paper(*PAPERS[paper])
    chrome.run(MEASURE)
    assert chrome.run("measured.wide") <= chrome.run("measured.room")
    assert found(chrome, "clipped") == []
    assert found(chrome, "overlapping") == []
    sizes = found(chrome, "sizes")
    assert 0.75 * sizes["least"] >= LEGIBLE - 0.01
    assert min(sizes["turns"]) > sizes["most"]


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", SHEETS)
def test_it_hangs_on_the_wall_as_one_page(
    chrome: Chrome, sheets: dict[str, Path], tmp_path: Path, name: str, paper: str
) -> None:
    chrome.open(sheets[name], 768)
    pdf = tmp_path / "sheet.pdf"
    pdf.write_bytes(chrome.pdf(*PAPERS[paper]))
    pages = _pages(pdf)
    assert (len(pages) == 1) == (name in ONE_PAGE)
    first = re.sub(r"\s+", " ", pages[0])
    lasting = ["LF", "RF", "LR", "RR", "Before and after", "By hand", "pressure", "Next time"]
    lasting += ["Doubts", "never work under a car on a jack", "cross, %"]
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
    chrome: Chrome, tmp_path: Path, places: int, items: int, paper: str
) -> None:
    page = tmp_path / "sheet.html"
    page.write_text(worst(tmp_path, places, items), encoding="utf-8")
    chrome.open(page, 768)
    pdf = tmp_path / "sheet.pdf"
    pdf.write_bytes(chrome.pdf(*PAPERS[paper]))
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


def test_names_stay_text(chrome: Chrome, sheets: dict[str, Path]) -> None:
    page = sheets["worst"]
    chrome.open(page, 768)
    file = read_car(page.parent / "worst.toml")
    assert chrome.dialogs == []
    assert chrome.run("document.querySelectorAll('script, img, b, iframe, link').length") == 0
    handlers = "[...document.querySelectorAll('*')].flatMap(e => e.getAttributeNames())"
    assert [name for name in chrome.run(handlers) if name.startswith("on")] == []
    assert chrome.run("document.querySelector('h1').textContent") == file.car.name
    assert chrome.run("document.title") == f"{file.car.name}: sheet"
    assert len(file.car.name) == 200
    texts = chrome.run("[...document.querySelectorAll('.ballast .whole')].map(e => e.textContent)")
    assert texts == [place.name for place in file.car.places]


@SCHEMES
@pytest.mark.parametrize("width", [390, 1280])
@pytest.mark.parametrize("name", ONE_PAGE)
def test_axe_finds_nothing(
    chrome: Chrome, axe: str, sheets: dict[str, Path], name: str, width: int, dark: bool
) -> None:
    shown(chrome, sheets[name], width, dark)
    chrome.run(f"{axe}\n;0")
    ran = chrome.run("axe.run(document, {resultTypes: ['violations', 'passes']})")
    assert len(ran["passes"]) > 15
    told = [(one["id"], one["nodes"][0]["html"]) for one in ran["violations"]]
    assert told == []
