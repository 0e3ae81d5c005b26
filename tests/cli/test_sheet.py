"""The sheet: one page that needs nothing else, in which every name is text."""

from __future__ import annotations

import io
import json
import re
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from balancer.report.words.turns import signed_turns
from tests.cli.conftest import Run
from tests.conftest import ROOT

Sheet = Callable[..., str]

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
def sheet(run: Run, garage: Path) -> Sheet:
    """Write the sheet of the garage's coupe and read it back."""

    def sheet(options: str = READINGS, status: int = 0) -> str:
        ran = run(f"sheet coupe.toml {options} --output wall.html")
        told = " ".join(ran.out.split())
        unmet = "\nNot all can be met: the page says what stands in the way." if status else ""
        assert ran.status == status
        assert ran.out.endswith(f"\nwall.html written.{unmet}\n")
        assert ", on the pads with " in told
        assert " Aims for " in told
        return (garage / "wall.html").read_text(encoding="utf-8")

    return sheet


def test_it_says_what_prep_says(sheet: Sheet, run: Run) -> None:
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


def test_it_needs_nothing_else(sheet: Sheet) -> None:
    source = sheet()
    page = Page(source)
    names = {tag for tag, _ in page.tags}
    assert names.isdisjoint({"script", "link", "img", "iframe", "object"})
    links = [attrs for _, attrs in page.tags if {"src", "href"} & set(attrs)]
    assert links == []
    assert re.findall(r"url\(|@import", source) == []


def test_the_same_input_gives_the_same_bytes(sheet: Sheet) -> None:
    assert sheet() == sheet()


def test_names_stay_text(sheet: Sheet, garage: Path) -> None:
    file = garage / "coupe.toml"
    text = file.read_text(encoding="utf-8")
    named = text.replace('name = "', f"name = '''{NAME[:150]}''' #", 1)
    file.write_text(named, encoding="utf-8")
    page = Page(sheet())
    assert NAME[:150] in page.text
    assert "script" not in {tag for tag, _ in page.tags}


def test_who_cannot_see_it_hears_it(sheet: Sheet) -> None:
    page = Page(sheet())
    attributes = dict(page.tags)
    assert attributes["html"]["lang"] == "en"
    assert attributes["svg"]["role"] == "img"
    labels = str(attributes["svg"]["aria-labelledby"]).split()
    ids = {attrs.get("id") for _, attrs in page.tags}
    assert set(labels) <= ids
    assert re.search(
        r"LF [0-9.]+ kg, RF [0-9.]+ kg, LR [0-9.]+ kg, RR [0-9.]+ kg; front", page.text
    )
    heads = [attrs for tag, attrs in page.tags if tag == "th"]
    assert all(attrs.get("scope") in ("row", "col") for attrs in heads)


def test_drawing_loads_and_turns_are_of_one_state_named_at_the_top(sheet: Sheet, run: Run) -> None:
    page = Page(sheet())
    ready = run(f"prep coupe.toml {READINGS} --json").json
    drawn = ", ".join(f"{pad} {load:.1f} kg" for pad, load in ready["race_trim"]["loads"].items())
    assert f"{drawn}; front {ready['race_trim']['front_pct']:.1f} %" in page.text
    (title,) = re.findall("(?m)^.*turns in all.*$", page.text)
    assert title.endswith("in race trim with the ballast; loads once turned, kg")
    assert page.text.index(title) < page.text.index(drawn)


def test_what_names_a_part_of_the_page_is_there_once(sheet: Sheet) -> None:
    attributes = [attrs for _, attrs in Page(sheet()).tags]
    ids = [attrs["id"] for attrs in attributes if "id" in attrs]
    assert len(ids) == len(set(ids))
    named = [attrs.get("aria-labelledby") or "" for attrs in attributes]
    assert {name for names in named for name in names.split()} == set(ids)


def test_a_target_out_of_reach_is_said_on_the_page(sheet: Sheet) -> None:
    page = Page(sheet(f"{READINGS} --cross 60", status=1))
    assert "Can't all be reached" in page.text


def test_a_page_has_the_name_of_one(run: Run, garage: Path) -> None:
    before = (garage / "coupe.toml").read_bytes()
    ran = run(f"sheet coupe.toml {READINGS} --output coupe.toml")
    assert ran == (2, "", "--output: coupe.toml is no page: let it end in .html\n")
    assert (garage / "coupe.toml").read_bytes() == before


def test_a_page_that_is_printed_leaves_no_room_for_json(run: Run, garage: Path) -> None:
    ran = run("sheet coupe.toml 302 288.5 231 244 --json --output -")
    assert (ran.status, ran.out) == (2, "")
    assert ran.err.startswith("--json: given beside --output -, where the page goes: ")


def test_the_shipped_sheet_is_what_its_command_makes(run: Run, tmp_path: Path) -> None:
    text = (ROOT / "examples" / "README.md").read_text(encoding="utf-8")
    (line,) = re.findall(r"^balancer (sheet .*) --output (\S+)$", text, re.MULTILINE)
    command, shipped = line
    made = tmp_path / "made.html"
    assert run(f"{command} --output {made}").status == 0
    assert made.read_bytes() == (ROOT / shipped).read_bytes()


def held(page: str) -> dict[str, list[list[str]]]:
    """Give the cells of each table, by its label."""
    found = {}
    for label, body in re.findall(r'<table[^>]*aria-label="([^"]*)">(.*?)</table>', page, re.S):
        rows = re.findall(r"<tr>(.*?)</tr>", body, re.S)
        cells = [re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row, re.S) for row in rows]
        found[label] = [[Page(cell).text.strip() for cell in row] for row in cells]
    return found


def test_margins_are_told_with_the_rules(sheet: Sheet, run: Run) -> None:
    rules = held(sheet())["Rules"]
    ready = run(f"prep coupe.toml {READINGS} --json").json["rules"]
    least = next(rule for rule in ready if rule["rule"].startswith("minimum weight"))
    row = next(row for row in rules if row[0].startswith("minimum weight"))
    assert float(row[3]) == pytest.approx(least["value"] - least["limit"], abs=0.051)
    assert row[4] == "yes"
    front = next(row for row in rules if row[0].startswith("front share"))
    low, high = (
        next(rule for rule in ready if rule["rule"] == f"front share, {end}")
        for end in ("lowest", "highest")
    )
    spare = min(low["value"] - low["limit"], high["limit"] - high["value"])
    assert front[3] == f"{spare:+.2f}"


def test_ballast_stands_where_its_place_is(sheet: Sheet, run: Run) -> None:
    page = sheet()
    items = run(f"prep coupe.toml {READINGS} --json").json["ballast"]
    told = held(page)["Ballast, numbered as in the drawing"][1:]
    assert [(row[1].split(" (")[0], row[2], row[3]) for row in told] == [
        (put["place"], f"{put['mass']:.1f}", f"{put['aft']:.0f}") for put in items
    ]
    # To scale: as far from the front axle, in wheelbases, as it says.
    wheels = [
        (float(x) + float(w) / 2, float(y) + float(h) / 2)
        for x, y, w, h in re.findall(
            r'"wheel" x="([\d.]+)" y="([\d.]+)" width="([\d.]+)" height="([\d.]+)"', page
        )
    ]
    (left, front), (right, _), (_, rear), _ = wheels
    drawn = re.findall(r'"ballast" x="([\d.]+)" y="([\d.]+)" width="([\d.]+)"', page)
    assert len(drawn) == len(items)
    for put, (x, y, side) in zip(items, drawn, strict=True):
        aft = (float(y) + float(side) / 2 - front) / (rear - front) * 2405
        across = ((left + right) / 2 - float(x) - float(side) / 2) / (rear - front) * 2405
        assert aft == pytest.approx(put["aft"], abs=5)
        assert across == pytest.approx(put["left"], abs=5)


def test_ride_heights_are_told_before_and_after(sheet: Sheet, run: Run) -> None:
    readings = "--readings weigh_in.toml"
    rows = {row[0]: row[1:] for row in held(sheet(readings))["Ride heights"]}
    change = run(f"prep coupe.toml {readings} --json").json["height_change"]
    measured = [float(cell) for cell in rows["measured"]]
    assert [float(cell) for cell in rows["wanted, ± 1.5"]] == measured
    then = [old + new for old, new in zip(measured, change.values(), strict=True)]
    assert [float(cell) for cell in rows["by the turns alone"]] == pytest.approx(then, abs=0.051)


def test_heights_that_nobody_measured_change(sheet: Sheet) -> None:
    rows = held(sheet())["Ride heights"]
    assert [row[0] for row in rows] == ["Height", "change by the turns"]


class Told:
    """What a session logs, so that the sheet can be held against it."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, run: Run) -> None:
        self.monkeypatch, self.run = monkeypatch, run

    def say(self, *lines: str, options: str = "") -> list[dict[str, Any]]:
        said = "".join(f"{line}\n" for line in lines)
        self.monkeypatch.setattr("sys.stdin", io.StringIO(said))
        return [
            json.loads(line)
            for line in self.run(f"session coupe.toml --json {options}").out.splitlines()[1:]
        ]


@pytest.fixture
def told(monkeypatch: pytest.MonkeyPatch, run: Run, garage: Path) -> Told:
    return Told(monkeypatch, run)


HEAVY = "302 298.5 251 264"


def test_a_session_that_goes_on_has_its_turns_on_the_sheet(sheet: Sheet, told: Told) -> None:
    made = [-0.5, 0.5, 0.5, -0.5]
    half = "made LF=-0.5 RF=0.5 LR=0.5 RR=-0.5"
    _, _, second = told.say(HEAVY, half, "299 301.5 254 261", options="--cross 50.4")
    assert any(second["turns"].values())
    page = sheet("")
    text, tables = Page(page).text, held(page)
    assert "Still to do: turn" in text
    turned = {corner: turn for corner, turn in second["turns"].items() if turn}
    assert text.count("▲ up") + text.count("▼ down") == len(turned)
    assert text.count("leave") == 4 - len(turned)
    assert "50.4 %" in text
    steps = tables["Steps of the session"]
    assert [row[0] for row in steps] == ["No.", "1", "2", "all"]
    assert steps[1][2:] == [signed_turns(turn) for turn in made]
    assert steps[-1][2:] == steps[1][2:]
    loads = tables["Loads before and after"]
    assert loads[0][1:] == ["first weighed", "last weighed", "plus turns"]
    assert loads[1][:3] == ["LF", "302.0", "299.0"]


def test_a_session_that_has_ended_leaves_nothing_to_turn(sheet: Sheet, told: Told) -> None:
    told.say(HEAVY, "yes", "299.4 301.2 253.6 261.4", "yes", "done", options="--tolerance 1")
    text = Page(sheet("--tolerance 1")).text
    assert "Nothing to turn" in text
    assert "The session has ended: in tolerance." in text
    assert text.count("leave") == 4


def test_turns_that_were_made_are_not_asked_for_again(sheet: Sheet, told: Told) -> None:
    told.say(HEAVY, "made LF=-0.5 RF=0.25")
    text = Page(sheet("")).text
    assert "Nothing to turn" in text
    assert "Turned since the last weigh-in: settle the car and weigh again." in text


def test_with_ballast_to_come_the_turns_are_planned_for_it(
    sheet: Sheet, told: Told, run: Run
) -> None:
    told.say("302 288.5 231 244")
    text = Page(sheet("")).text
    assert "These turns are for the car with the ballast below bolted in." in text
    ready = run("prep coupe.toml --json").json
    assert f"{ready['added']:.1f} kg of ballast" in text


def test_another_cross_weight_asked_for_goes_before_the_session(sheet: Sheet, told: Told) -> None:
    told.say(HEAVY)
    assert "cross weight (RF+LR) 51.0 %" in Page(sheet("--cross 51")).text


def test_a_long_session_tells_its_first_and_last_weigh_ins(sheet: Sheet, told: Told) -> None:
    told.say(*(line for _ in range(9) for line in (HEAVY, "yes", "made nothing")))
    rows = held(sheet(""))["Steps of the session"]
    assert [row[0] for row in rows[1:]] == ["1", "5", "6", "7", "8", "9", "all"]


def test_readings_typed_are_no_session(sheet: Sheet, told: Told) -> None:
    told.say(HEAVY)
    assert "Steps of the session" not in held(sheet(READINGS))


def test_a_damaged_session_still_makes_a_sheet(sheet: Sheet, told: Told, garage: Path) -> None:
    told.say(HEAVY)
    log = garage / "coupe.log.jsonl"
    broken = log.read_text(encoding="utf-8").replace(
        '"target_cross_pct": 50.0', '"target_cross_pct": "x"'
    )
    log.write_text(broken, encoding="utf-8")
    assert "cross weight (RF+LR) 50.0 %" in Page(sheet("")).text


def test_uneven_pads_are_in_the_column_to_compare_with(
    sheet: Sheet, run: Run, garage: Path
) -> None:
    readings = "--readings weigh_in.toml"
    page = sheet(readings)
    loads = held(page)["Loads before and after"]
    shown = run(f"prep coupe.toml {readings} --json").json["on_the_pads_as_read"]["loads"]
    assert loads[0][-1] == "next on pads"
    assert [row[-1] for row in loads[1:5]] == [f"{load:.1f}" for load in shown.values()]
    assert "is with the pads' heights as measured" in Page(page).text
    assert "heights as measured" not in Page(sheet()).text


def test_what_heights_leave_out_is_said(sheet: Sheet) -> None:
    said = "What ballast and what is on board would do to them is left out."
    assert said in Page(sheet()).text


def test_corners_and_bars_have_places_of_their_own(run: Run, garage: Path) -> None:
    read = "real.toml 303 297.5 236 229 --cross 52"
    run(f"sheet {read} --output page.html")
    source = (garage / "page.html").read_text(encoding="utf-8")
    sections = dict(re.findall(r'<h2 id="(\w+)">(.*?)</section>', source, re.DOTALL))
    first = source[: source.index('id="turn"')]
    assert "Care: RF stands on its bump stop" in first
    assert "bump stop" not in source[source.index('id="turn"') :]
    told = run(f"prep {read}").out
    links = re.findall(r"^- left (\w+) link", told, re.MULTILINE)
    assert links
    assert "the bars carry nothing when:" in sections["turn"]
    assert re.findall(r"left (\w+) link [\d.]", sections["turn"]) == links


def test_a_linear_car_has_no_word_of_corners(sheet: Sheet) -> None:
    page = sheet()
    assert 'id="stands"' not in page
    assert "bars carry nothing" not in page


def replanned(garage: Path, changes: dict[str, Any]) -> None:
    """Change what the last plan in the log says."""
    log = garage / "coupe.log.jsonl"
    entries = [json.loads(line) for line in log.read_text(encoding="utf-8").splitlines()]
    plan = next(entry for entry in reversed(entries) if entry["kind"] == "plan")
    plan["data"].update(changes)
    log.write_text("".join(f"{json.dumps(entry)}\n" for entry in entries), encoding="utf-8")


def test_a_session_that_reckons_with_another_cross_weight_says_so(
    sheet: Sheet, told: Told, garage: Path
) -> None:
    told.say(HEAVY)
    said = "By the last reading alone"
    assert said not in Page(sheet("")).text
    replanned(garage, {"turns": {"LF": -3.0, "RF": 3.0}, "cross_pct": 48.12})
    text = Page(sheet("")).text
    read = 100 * (298.5 + 251) / (302 + 298.5 + 251 + 264)
    assert f"{said}, {read:.2f} % as weighed" in text
    assert "the session reckons with 48.12 % in race trim" in text
    replanned(garage, {"cross_pct": "x"})
    text = Page(sheet("")).text
    assert said in text
    assert "reckons" not in text
