"""The sheet: one page that needs nothing else, in which every name is text."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from tests.cli.conftest import Run
from tests.conftest import ROOT

READINGS = "284 258.5 212.5 225 --weighed-with none"
NAME = "<script>alert(1)</script> & “quoted” 'car' " + "x" * 120


class Page(HTMLParser):
    """What a browser would find: tags with their attributes, and text."""

    def __init__(self, source: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.feed(source)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.text += data


@pytest.fixture
def sheet(run: Run, garage: Path):
    """Write the sheet of the garage's coupe and read it back."""

    def sheet(options: str = READINGS, status: int = 0) -> str:
        ran = run(f"sheet coupe.toml {options} --output wall.html")
        assert (ran.status, ran.out) == (status, "wall.html written.\n")
        return (garage / "wall.html").read_text(encoding="utf-8")

    return sheet


def test_it_says_what_prep_says(sheet, run: Run) -> None:
    page = Page(sheet())
    ready = run(f"prep coupe.toml {READINGS} --json").json
    assert f"{ready['added']:.1f} kg of ballast" in page.text
    for load in ready["on_the_pads"]["loads"].values():
        assert f"{load:.1f}" in page.text
    raised = sum(turn > 0 for turn in ready["turns"].values())
    lowered = sum(turn < 0 for turn in ready["turns"].values())
    assert page.text.count("▲ up") == raised
    assert page.text.count("▼ down") == lowered
    assert page.text.count("leave") == 4 - raised - lowered


def test_it_needs_nothing_else(sheet) -> None:
    source = sheet()
    page = Page(source)
    names = {tag for tag, _ in page.tags}
    assert names.isdisjoint({"script", "link", "img", "iframe", "object"})
    links = [attrs for _, attrs in page.tags if {"src", "href"} & set(attrs)]
    assert links == []
    assert re.findall(r"url\(|@import", source) == []


def test_the_same_input_gives_the_same_bytes(sheet) -> None:
    assert sheet() == sheet()


def test_names_stay_text(sheet, garage: Path) -> None:
    file = garage / "coupe.toml"
    text = file.read_text(encoding="utf-8")
    named = text.replace('name = "', f"name = '''{NAME[:150]}''' #", 1)
    file.write_text(named, encoding="utf-8")
    page = Page(sheet())
    assert NAME[:150] in page.text
    assert "script" not in {tag for tag, _ in page.tags}


def test_who_cannot_see_it_hears_it(sheet) -> None:
    page = Page(sheet())
    attributes = dict(page.tags)
    assert attributes["html"] == {"lang": "en"}
    assert attributes["svg"]["role"] == "img"
    labels = str(attributes["svg"]["aria-labelledby"]).split()
    ids = {attrs.get("id") for _, attrs in page.tags}
    assert set(labels) <= ids
    assert "LF 284.0 kg, RF 258.5 kg" in page.text
    heads = [attrs for tag, attrs in page.tags if tag == "th"]
    assert all(attrs.get("scope") in ("row", "col") for attrs in heads)


def test_a_target_out_of_reach_is_said_on_the_page(sheet) -> None:
    page = Page(sheet(f"{READINGS} --cross 60", status=1))
    assert "Can't all be reached" in page.text


def test_a_page_has_the_name_of_one(run: Run, garage: Path) -> None:
    before = (garage / "coupe.toml").read_bytes()
    ran = run(f"sheet coupe.toml {READINGS} --output coupe.toml")
    assert ran == (2, "", "--output: coupe.toml is no page: let it end in .html\n")
    assert (garage / "coupe.toml").read_bytes() == before


def test_the_shipped_sheet_is_what_its_command_makes(run: Run, tmp_path: Path) -> None:
    text = (ROOT / "examples" / "README.md").read_text(encoding="utf-8")
    (line,) = re.findall(r"^balancer (sheet .*) --output (\S+)$", text, re.MULTILINE)
    command, shipped = line
    made = tmp_path / "made.html"
    assert run(f"{command} --output {made}").status == 0
    assert made.read_bytes() == (ROOT / shipped).read_bytes()
