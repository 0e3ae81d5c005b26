"""`balancer springs`: what it prints, held against hand calculation, and what it refuses."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from balancer.car.conventions import GRAVITY
from tests.cli.conftest import Run
from tests.cli.test_contract import LOADS, four
from tests.conftest import ROOT

pytestmark = pytest.mark.usefixtures("garage")

TYPED = "springs coupe.toml 302 288.5 231 244"
REAL = "springs hill.toml 268 251 236 249"


@pytest.fixture(autouse=True)
def hill(garage: Path) -> None:
    text = (ROOT / "examples/hillclimb.toml").read_text(encoding="utf-8")
    (garage / "hill.toml").write_text(text, encoding="utf-8")


def test_all_springs_longer_raise_the_car_by_that_over_the_ratio(run: Run) -> None:
    status, _, err = ran = run(f"{TYPED} --front-length 3.4 --rear-length 3.7 --json")
    assert (status, err) == (0, "")
    found = ran.json
    assert four(found["height_change"]) == pytest.approx([5.0] * 4)
    assert four(found["loads"]) == pytest.approx(LOADS)
    assert four(found["before"]["loads"]) == pytest.approx(LOADS)
    assert found["springs"]["LF"] == {"was": 70.0, "rate": 70.0, "longer": pytest.approx(3.4)}
    back = four(found["after_turns"]["height_change"])
    assert max(map(abs, back)) <= 1.5
    assert found["after_turns"]["cross_pct"] == pytest.approx(50.0, abs=0.2)


def test_a_stiffer_spring_is_shorter_pressed_by_what_it_yields_less(garage: Path, run: Run) -> None:
    """One axle, as long as before: it rises by F/k - F/k' over the ratio, on average of the two."""
    text = (garage / "coupe.toml").read_text(encoding="utf-8")
    assert "cg_up = 465" in text  # with its weight on the ground a car does not lean further
    (garage / "flat.toml").write_text(text.replace("cg_up = 465", ""), encoding="utf-8")
    found = run(f"{TYPED.replace('coupe', 'flat')} --front 80 --json").json
    carried = (302 + 288.5) / 2 - 31
    rise = carried * GRAVITY / 0.68**2 * (1 / 70 - 1 / 80)
    raised = four(found["height_change"])
    assert (raised[0] + raised[1]) / 2 == pytest.approx(rise, rel=1e-3)
    assert abs(raised[2] + raised[3]) < 0.4


def test_a_corner_wins_over_its_axle(run: Run) -> None:
    springs = run(f"{TYPED} --front 80 --LF 85 --LF-length -3 --json").json["springs"]
    assert [springs[corner]["rate"] for corner in ("LF", "RF", "LR")] == [85, 80, 62]
    assert springs["LF"]["longer"] == pytest.approx(-3)


def test_a_rate_in_other_units_is_worth_the_same(run: Run) -> None:
    there = run(f"{TYPED} --rear 400lb/in --json").json
    assert there["springs"]["RR"]["rate"] == pytest.approx(400 * 4.4482216152605 / 25.4)


def test_a_rate_that_is_near_in_other_units_is_remarked_on(run: Run) -> None:
    assert run(f"{TYPED} --front 450").err == (
        "note: --front: 450 N/mm is 6.4 times the old rate: if it is lb/in, write 450lb/in\n"
    )


def test_a_tender_stays(run: Run) -> None:
    """The same main spring in a corner with a tender is no change; a stiffer one lifts little."""
    same = run(f"{REAL} --front 60 --json").json
    assert four(same["height_change"]) == pytest.approx([0.0] * 4, abs=1e-6)
    assert four(same["loads"]) == pytest.approx([268, 251, 236, 249], abs=1e-6)
    stiffer = four(run(f"{REAL} --front 66 --json").json["height_change"])
    assert all(2 < raised < 6 for raised in stiffer[:2])


def test_what_nobody_said_is_said(run: Run) -> None:
    out = run(f"{TYPED} --front 75 --rear 66 --rear-length 2").out
    assert "Free length at LF, RF is taken to be that of the old springs." in out
    assert "a spring that flies off breaks bones" in out
    assert max(map(len, out.split("\n"))) <= 80


def test_out_of_reach_is_status_1(run: Run) -> None:
    status, out, _ = run(f"{TYPED} --front 120 --rear 110")
    assert status == 1
    assert "No allowed turns reach this (proved)" in out
    # The closest is what it would be if the heights gave: said once.
    assert re.search(r"have to give \S+ mm: with that \S+ % could be reached\n", out)


@pytest.mark.parametrize(
    ("words", "fault"),
    [
        (TYPED, "springs: none is exchanged: give the new rate: --front 80, --rear 70 or --LF 85"),
        (
            f"{TYPED} --front 5000",
            "--front: 5000 N/mm is out of reason: write 875.6 if it is lb/in",
        ),
        (f"{TYPED} --front 0", "--front: 0 N/mm is out of reason: expected 1 to 2000"),
        (f"{TYPED} --rear 7,5", "--rear: 7,5 has a decimal comma: write 7.5"),
        (f"{TYPED} --LF stiff", "--LF: “stiff” is not a number: write a rate like 70"),
        (f"{TYPED} --rear --json", "--rear: has no value after it: give the new rate"),
        (
            "springs kart.toml 20 20 30 30 --front 8",
            "--front: LF and RF have no springs: leave it out",
        ),
    ],
)
def test_slips(words: str, fault: str, garage: Path, run: Run) -> None:
    kart = (ROOT / "examples/kart.toml").read_text(encoding="utf-8")
    (garage / "kart.toml").write_text(kart, encoding="utf-8")
    status, out, err = run(words)
    assert (status, out) == (2, "")
    assert fault in err.splitlines()


def test_a_spring_so_short_that_it_is_loose_is_planned_all_the_same(run: Run) -> None:
    ran = run("springs formula.toml 251.5 242.3 298.2 303.3 --LR-length -11")
    assert ran.status in (0, 1)
    assert "LR: its spring is loose." in ran.out


def test_no_spring_is_longer_by_the_height_of_a_house(run: Run) -> None:
    words = "springs formula.toml 251.5 242.3 298.2 303.3 --front-length 300 --LR-length -12.1in"
    assert run(words) == (
        2,
        "",
        "--front-length: +300.00 in off the old spring: at most 11.81 in, check the units\n"
        "--LR-length: −12.10 in off the old spring: at most 11.81 in, check the units\n",
    )
