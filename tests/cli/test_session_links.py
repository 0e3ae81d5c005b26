"""Drop links in a session: said once, planned as `perches` plans them, counted as made, undone."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from balancer.car.adjusters import ways_to_turn
from balancer.car.conventions import CORNERS
from balancer.car.statics import statics_of
from balancer.files.car_reader import read_car
from balancer.files.units import METRIC
from balancer.log.car_from_log import with_turns_made
from balancer.log.reader import effective, read_log
from tests.cli.conftest import Run
from tests.cli.test_session import FIRST, HATCH, LOG, Process, Sit, error, hatch, sit

__all__ = ["hatch", "sit"]

BARRED = HATCH.replace(
    "[rear]",
    """\
anti_roll_bar = 30
link_ratio = 0.8
link_lead = 1.0
link_travel = [-6, 6]
link_twist = 0

[rear]""",
)
"""The front bar is connected, and its left link can be turned."""

KEEP = "--keep LF --keep RF"


@pytest.fixture(autouse=True)
def barred(hatch: Path) -> Path:
    hatch.write_text(BARRED)
    return hatch


def shown(turns: dict[str, float], front_link: float) -> str:
    """Say what the pads show after turns from `FIRST`, by the statics of the file."""
    car = read_car("hatch.toml").car
    loads = np.array([METRIC.to_si(float(word), "load") for word in FIRST.split()])
    made = np.array([*(turns.get(pad, 0.0) for pad in CORNERS), front_link, 0.0])
    adjusters = next(ways_to_turn(car, links=True))
    after = statics_of(car, loads).turned(adjusters, adjusters.in_order(made)).loads
    return " ".join(f"{round(2 * METRIC.from_si(load, 'load')) / 2:g}" for load in after)


@pytest.mark.parametrize(
    "options", ["", KEEP, "--cross 51 --keep RR", f"--tolerance 0.5 {KEEP} --height-tolerance 1"]
)
def test_perches_plans_what_a_session_plans_first_with_links(
    options: str, sit: Sit, run: Run
) -> None:
    alone = run(f"perches hatch.toml {FIRST} --links {options} --json").json
    (there,) = sit.json(FIRST, options=f"--links {options}")
    for key in ("status", "turns", "link_turns", "alternatives"):
        assert alone[key] == there[key]
    used = [alone, *alone["alternatives"]]
    assert any(one["link_turns"]["front"] for one in used)


def test_links_said_once_are_known_and_count_as_made_and_teach(sit: Sit) -> None:
    first = Process("--links", *KEEP.split())
    planned = first.say(FIRST)
    first.kill()
    link = planned["link_turns"]["front"]
    assert link
    second = Process()
    opened = second.say("plan")
    assert opened["link_turns"] == planned["link_turns"]
    assert second.opening["target"]["links"] is True
    assert (
        "on the pads; its file names nothing that comes and goes. Drop links may be turned too:"
        " left front link." in " ".join(second.opening["text"].split())
    )
    answer = second.say(shown(planned["turns"], link))
    assert "made, unless you say otherwise" in second.end()
    # Had the link been forgotten, the turns would seem to have done more than they do.
    assert answer["stop"] == "in_tolerance"
    assert answer["belief"]["answer"] == pytest.approx(1, abs=0.02)
    made = [one.data for one in effective(read_log(LOG).entries) if one.kind == "made"]
    assert made == [
        {
            "turns": {pad: turn for pad, turn in planned["turns"].items() if turn},
            "links": {"front link": link},
            "assumed": True,
        }
    ]


def test_a_link_that_was_turned_is_not_taken_for_turns_that_did_too_much(sit: Sit) -> None:
    said = "made left front link: 3 turns shorter, LR 1/2 up"
    reading = shown({"LR": 0.5}, -3)
    _, made, weighed = sit.json(FIRST, said, reading)
    assert made["made"] == {
        "LF": 0, "RF": 0, "LR": 0.5, "RR": 0, "front link": -3, "rear link": 0,
    }  # fmt: skip
    assert "LR +½, front link 3 turns shorter" in " ".join(made["text"].split())
    assert weighed["belief"]["answer"] == pytest.approx(1, abs=0.02)
    Path(LOG).unlink()
    assert "question" in sit.json(FIRST, "made LR 1/2 up", reading)[-2]


def test_links_can_be_said_at_the_prompt_and_taken_back(sit: Sit, run: Run) -> None:
    options = f"{KEEP} --keep LR --keep RR"
    first, linked, off = sit.json(FIRST, "links", "links off", options=options)
    assert first["status"] == "closest"
    alone = run(f"perches hatch.toml {FIRST} --links {options} --json").json
    assert linked["links"] is True
    assert (linked["turns"], linked["link_turns"]) == (alone["turns"], alone["link_turns"])
    assert linked["link_turns"]["front"] < 0
    assert (off["links"], off["turns"], off["link_turns"]["front"]) == (False, first["turns"], 0)
    told = [one.data.get("links") for one in read_log(LOG).entries if one.kind == "session"]
    assert told == [None, True, False, None]


def test_a_session_gone_on_with_without_links_says_so(sit: Sit) -> None:
    first = Process("--links", *KEEP.split())
    first.say(FIRST)
    first.kill()
    second = Process("--no-links")
    planned = second.say("plan")
    second.kill()
    assert second.opening["changed"] == ["drop links left alone instead of drop links turned too"]
    assert planned["link_turns"]["front"] == 0
    plans = [one.data for one in read_log(LOG).entries if one.kind == "plan"]
    assert ["links" in one for one in plans] == [True, False]


def test_the_sheet_shows_links_that_are_still_to_be_turned(sit: Sit, run: Run) -> None:
    first = Process("--links", *KEEP.split())
    link = first.say(FIRST)["link_turns"]["front"]
    first.kill()
    run("sheet hatch.toml --output sheet.html")
    page = " ".join(Path("sheet.html").read_text(encoding="utf-8").split())
    assert f"Also turn the left front link: {abs(link):g} turns shorter" in page


def test_what_links_can_not_do_is_said(sit: Sit, hatch: Path) -> None:
    hatch.write_text(BARRED.replace("link_twist = 0", "bar_connected = false"))
    answers = sit.json(FIRST, "links", "made front link=1", "links often")
    assert answers[1] == error(
        "links: change nothing: no bar is connected by a link that can be turned: give link_lead"
        " in the car file"
    )
    assert "made front link: holds no bar" in answers[2]["error"][0]
    assert answers[3] == error("links: “often” after it: say links, or links off")
    out = " ".join(sit.text(FIRST, options="--links").out.split())
    assert "No drop link can be turned: no bar is connected by one with link_lead." in out


def test_a_link_has_no_more_than_its_travel_and_the_log_knows_what_is_left(sit: Sit) -> None:
    sit.json(FIRST, "made front link=-4", "done")
    (_, answer) = sit.json(FIRST, "made front link=-3")
    assert answer == error(
        "made front link: −3 turns, only 2 are left shorter: check the number, or link_travel in"
        " the car file"
    )
    file = read_car("hatch.toml")
    car = with_turns_made(file, effective(read_log(LOG).entries))
    assert car.links[0].travel == (-2.0, 10.0)
    # Where the file says anew how the bar is twisted, it knows of those turns.
    Path("hatch.toml").write_text(BARRED.replace("link_twist = 0", "link_twist = 0.5"))
    file = read_car("hatch.toml")
    assert with_turns_made(file, effective(read_log(LOG).entries)).links[0].travel == (-6.0, 6.0)


def test_undo_takes_turns_of_links_back(sit: Sit) -> None:
    first, _, undone, again = sit.json(
        FIRST, "made front link=-1", "undo", "plan", options=f"--links {KEEP}"
    )
    assert again["link_turns"] == first["link_turns"]
    way = re.search(r"left front link: (.*?) \(", first["text"])
    assert way
    assert f"front link {way[1]}: made, unless you say otherwise" in " ".join(
        undone["text"].split()
    )


def test_log_back_and_sheet_know_of_links(sit: Sit, run: Run) -> None:
    sit.json(FIRST, "made LR=0.5 front link=-1.5", options="--links")
    log = run("log hatch.toml --kind all").out
    assert "LR +½, front link 1½ turns shorter" in log
    back = run("back hatch.toml --at 2").err
    assert "left front link: made shorter since then, turns: 1.5: turn it back as well" in (
        " ".join(back.split())
    )
    assert run("sheet hatch.toml --output sheet.html").status in (0, 1)
    page = " ".join(Path("sheet.html").read_text(encoding="utf-8").split())
    assert "Drop links were turned in it too: front link 1½ turns shorter." in page


def test_a_line_whose_links_are_none_is_damaged(sit: Sit) -> None:
    sit.json(FIRST, "made front link=-1")
    log = Path(LOG)
    log.write_text(log.read_text().replace('{"front link": -1.0}', '{"left link": -1.0}'))
    (damaged,) = read_log(LOG).damaged
    assert "links are not LINK: number" in damaged.text
