"""`balancer pads`: what scripts rely on, what a person reads, and what is said of wrong input."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from balancer.car.conventions import CORNERS, GRAVITY
from balancer.car.leaning import leaned_change
from balancer.car.model import Car
from balancer.files.car_reader import read_car
from balancer.files.units import INCH, POUND
from tests.cli.conftest import GARAGE, Run, write_upright
from tests.cli.test_bad_input import blocks, edited
from tests.conftest import ROOT

pytestmark = pytest.mark.usefixtures("garage")

PADS = "pads coupe.toml pads.toml"

FILE = r"""
## the same pad twice, and a fifth one
- pads = ["B", "A", "D", "C"]
+ pads = ["B", "A", "B", "E"]
pads.toml:9: weighing[2].pads: “B” is under LF and LR: name each of the four pads once
pads.toml:9: weighing[2].pads: “E” is none of A, B, C, D: move the same four pads around

## a name spelled another way
- pads = ["B", "A", "D", "C"]
+ pads = ["B", "a", "D", "C"]
pads.toml:9: weighing[2].pads: “a” is none of A, B, C, D: did you mean A?

## three pads and three readings
- pads = ["B", "A", "D", "C"]      # left and right exchanged
- readings = [[299.5, 289.0, 230.5, 246.0]]
+ pads = ["B", "A", "D"]
+ readings = [[299.5, 289.0, 230.5]]
pads.toml:9: weighing[2].pads: has 3 values: give 4: which pad was under LF RF LR RR
pads.toml:10: weighing[2].readings[1]: has 3 values: give 4: one list [LF, RF, LR, RR] each time the pads were read

## numbers for names
- pads = ["B", "A", "D", "C"]
+ pads = [2, "A", "D", "C"]
pads.toml:9: weighing[2].pads[1]: 2 is not text in quotes: write "2"

## turned, in words
- turned = true                    # LF where RR stood, each pad with its wheel
+ turned = "yes"
pads.toml:17: weighing[4].turned: “yes” is not true or false: write true or false

## one list, not a list of lists; and a key that is none
- readings = [[299.5, 289.0, 230.5, 246.0]]
+ readings = [299.5, 289.0, 230.5, 246.0]
+ trned = true
pads.toml:10: weighing[2].readings: is a list of numbers: write a list of lists, [[LF, RF, LR, RR]]
pads.toml:11: weighing[2].trned: unknown key: did you mean turned?

## a pad that pulls, one that is off, and one that is strange
- readings = [[299.5, 289.0, 230.5, 246.0]]
+ readings = [[299.5, -289.0, 0, 246.0]]
- pads = ["A", "B", "C", "D"]
- readings = [[305.0
+ pads = ["A", "B", "C", "X"]
+ readings = [[305.0
pads.toml:10: weighing[2].readings[1] RF: reads -289: a pad can't be pulled up: zero it and read again
pads.toml:10: weighing[2].readings[1] LR: reads 0: is the wheel on its pad, and the pad switched on?
pads.toml:18: weighing[4].pads: “X” is none of A, B, C, D: move the same four pads around

## another car, or a digit
- readings = [[299.5, 289.0, 230.5, 246.0]]
+ readings = [[399.5, 289.0, 230.5, 246.0]]
pads.toml:10: weighing[2].readings: 1165 kg in all, the middle of all is 1065.75: weigh the same car with the same on board, or is a digit wrong?

## pads that lift a wheel
- readings = [[299.5, 289.0, 230.5, 246.0]]
+ readings = [[299.5, 289.0, 230.5, 246.0]]
+ pad_heights = [-99, 99, 99, -99]
pads.toml:11: weighing[2].pad_heights: on level pads LR would carry nothing: check the heights, and the rates in the car file

## three thicknesses
- [[weighing]]
+ [[pad]]
+ name = "A"
+ thickness = 50
+
+ [[pad]]
+ name = "B"
+ thickness = 50.5
+
+ [[pad]]
+ name = "B"
+ thickness = 51
+
+ [[weighing]]
pads.toml:4: pad: has 3 values: give 4: each pad measured; left out: not known
pads.toml:13: pad[3].name: “B” is there twice: name each pad once

## a thickness of nothing
- [[weighing]]
+ pad = [{ name = "A", thickness = 0 }, { name = "A", thickness = 50 }, { name = "C", thickness = 50 }, { name = "D", thickness = 5000 }]
+
+ [[weighing]]
pads.toml:4: pad[1].thickness: is zero: give its true value
pads.toml:4: pad[4].thickness: 5000 mm is out of reason: expected 1 to 500 mm
pads.toml:4: pad[2].name: “A” is there twice: name each pad once

## thickness of other pads
- [[weighing]]
+ pad = [{ name = "1", thickness = 50 }, { name = "2", thickness = 50 }, { name = "3", thickness = 50 }, { name = "D", thickness = 50 }]
+
+ [[weighing]]
pads.toml:7: weighing[1].pads: “A” is none of 1, 2, 3, D: move the same four pads around
pads.toml:7: weighing[1].pads: “B” is none of 1, 2, 3, D: move the same four pads around
pads.toml:7: weighing[1].pads: “C” is none of 1, 2, 3, D: move the same four pads around
pads.toml:11: weighing[2].pads: “B” is none of 1, 2, 3, D: move the same four pads around
pads.toml:11: weighing[2].pads: “A” is none of 1, 2, 3, D: move the same four pads around
pads.toml:11: weighing[2].pads: “C” is none of 1, 2, 3, D: move the same four pads around
pads.toml:15: weighing[3].pads: “C” is none of 1, 2, 3, D: move the same four pads around
pads.toml:15: weighing[3].pads: “B” is none of 1, 2, 3, D: move the same four pads around
pads.toml:15: weighing[3].pads: “A” is none of 1, 2, 3, D: move the same four pads around
pads.toml:20: weighing[4].pads: “A” is none of 1, 2, 3, D: move the same four pads around
pads.toml:20: weighing[4].pads: “B” is none of 1, 2, 3, D: move the same four pads around
pads.toml:20: weighing[4].pads: “C” is none of 1, 2, 3, D: move the same four pads around

## other units
- [[weighing]]
+ units = "lb"
+ [[weighing]]
pads.toml:4: units: “lb” is not known: write "metric" or "us"
"""  # noqa: E501

ALIKE = ", ".join(f'{{ name = "{name}", thickness = 50 }}' for name in "ABCD")

LINES = [
    ("pads coupe.toml none.toml", "none.toml: no such file: check the name and the folder\n"),
    (
        "pads no.toml none.toml",
        "no.toml: no such file: check the name and the folder\n"
        "none.toml: no such file: check the name and the folder\n",
    ),
    (
        "pads coupe.toml weigh_in.toml",
        "weigh_in.toml: is a readings file: give a file of weighings here, and each file in its"
        " place\n",
    ),
    (
        "lift coupe.toml pads.toml",
        "pads.toml: is a file of weighings: give a file of lifts here, and each file in its"
        " place\n",
    ),
    ("pads coupe.toml", "WEIGHINGS: is missing: name the file, see balancer pads --help\n"),
    (
        "pads coupe.toml pads.toml --cross 50",
        "--cross: is no option of pads: it belongs to balancer perches, stint, prep, sheet,"
        " session\n",
    ),
]


@pytest.mark.parametrize(("title", "lines"), blocks(FILE, "##"))
def test_a_file_of_weighings(title: str, lines: list[str], run: Run, garage: Path) -> None:
    text, said = edited((GARAGE / "pads.toml").read_text(encoding="utf-8"), lines)
    (garage / "pads.toml").write_text(text, encoding="utf-8")
    assert run(PADS) == (2, "", said)
    assert run(f"{PADS} --json") == (2, "", said)


@pytest.mark.parametrize(("line", "said"), LINES)
def test_a_command_line(line: str, said: str, run: Run) -> None:
    status, out, err = run(line)
    if "--cross" in line:
        # Which other commands have it is for them to say.
        assert err.startswith("--cross: is no option of pads: it belongs to balancer ")
        assert (status, out) == (2, "")
    else:
        assert (status, out, err) == (2, "", said)


def test_no_empty_file(run: Run, garage: Path) -> None:
    (garage / "pads.toml").write_text("")
    said = "pads.toml: weighing: is missing: add it: each weighing, the pads moved between\n"
    assert run(PADS) == (2, "", said)


def test_what_scripts_rely_on(run: Run) -> None:
    ran = run(f"{PADS} --json")
    assert ran[::2] == (0, "")
    found = ran.json
    assert (found["car"], found["units"], found["status"]) == ("Heron Lane coupe", "metric", "all")
    assert list(found["loads"]) == list(CORNERS)
    assert sum(found["loads"].values()) == pytest.approx(found["total"])
    assert list(found["pads"]) == ["A", "B", "C", "D"]
    high = [name for name, pad in found["pads"].items() if pad["beyond_chance"]]
    assert high == ["A", "B"]
    assert found["pads"]["A"]["gain_pct"] > 0 > found["pads"]["B"]["gain_pct"]
    assert sum(pad["gain_pct"] for pad in found["pads"].values()) == pytest.approx(0, abs=0.01)
    assert len(found["pairs"]) == 6
    for pair in found["pairs"]:
        one, other = (found["pads"][name]["gain_pct"] for name in pair["pads"])
        assert pair["reads_more_pct"] == pytest.approx(one - other)
    assert found["as_read"]["cross_pct"] == pytest.approx(100 * (287 + 230.5) / 1065)
    assert (found["next"], found["floor"], found["level"]) == (None, None, False)
    assert set(found["lean"]) == {"aft", "left"}
    assert found["degrees"] == len(found["residuals"]) * 4 - 4 - 3 - 2 - 2
    assert found["settled"] is True
    assert 0 < found["chance_pct"] < 100


def test_it_ends_the_same_in_text(run: Run) -> None:
    status, out, err = run(PADS)
    assert (status, err) == (0, "")
    assert max(map(len, out.split("\n"))) <= 80
    found = run(f"{PADS} --json").json
    for name, pad in found["pads"].items():
        (line,) = [line for line in out.split("\n") if line.startswith(f"{name}   ")]
        assert f"{pad['gain_pct']:+.2f}".replace("-", "−") in line
        assert ("high" in line or "low" in line) == pad["beyond_chance"]
    assert f"{found['cross_pct']:.2f} %" in out


def weighings(garage: Path, *which: int) -> None:
    """Leave only these weighings, by number, in the file."""
    text = (GARAGE / "pads.toml").read_text(encoding="utf-8")
    head, *parts = text.split("[[weighing]]")
    kept = [f"[[weighing]]{parts[number - 1]}" for number in which]
    (garage / "pads.toml").write_text(head + "".join(kept), encoding="utf-8")


@pytest.mark.parametrize("which", [(1,), (1, 1, 1)])
def test_one_arrangement_tells_nothing(which: tuple[int, ...], run: Run, garage: Path) -> None:
    weighings(garage, *which)
    status, out, err = run(PADS)
    assert (status, err) == (1, "")
    assert "don't tell which pad reads high" in out
    assert "Next put" in out
    assert out.count("not told") >= 4
    ran = run(f"{PADS} --json")
    assert (ran.status, ran.json["status"]) == (1, "nothing")
    assert ran.json["pairs"] == []
    assert not any(pad["told"] for pad in ran.json["pads"].values())


def test_left_and_right_exchanged(run: Run, garage: Path) -> None:
    """The cross weight is told; of the pads only when they are known to be equally thick."""
    weighings(garage, 1, 2)
    found = run(f"{PADS} --json").json
    assert found["status"] == "some"
    assert found["uncertainty"]["cross_pct"] < 0.1 < found["uncertainty"]["front_pct"]
    assert found["next"] == {
        "pads": {"LF": "C", "RF": "D", "LR": "B", "RR": "A"},
        "told": 4,
        "turned": False,
    }
    out = run(PADS).out
    assert "Next put C under LF, D under RF, B under LR, A under RR and weigh again" in out
    assert "Pads measured with a caliper" in out
    path = garage / "pads.toml"
    path.write_text(f"pad = [{ALIKE}]\n{path.read_text(encoding='utf-8')}", encoding="utf-8")
    ran = run(f"{PADS} --json")
    assert ran.status == 0
    assert [pair["pads"] for pair in ran.json["pairs"]] == [["A", "B"], ["C", "D"]]
    assert [pad["thickness"] for pad in ran.json["pads"].values()] == [None] * 4
    assert "A reads" in run(PADS).out
    assert "more than B" in run(PADS).out.replace("\n", " ")
    assert "caliper" not in run(PADS).out


def same(one: Any, other: Any, load: float, length: float) -> None:
    """Compare what is told in metric units with what is told in US units."""
    assert one["cross_pct"] == pytest.approx(other["cross_pct"], rel=1e-6)
    assert one["total"] == pytest.approx(load * other["total"], rel=1e-6)
    for name, pad in one["pads"].items():
        assert pad["gain_pct"] == pytest.approx(other["pads"][name]["gain_pct"], rel=1e-4)
        thick, other_thick = pad["thickness"], other["pads"][name]["thickness"]
        assert thick["value"] == pytest.approx(length * other_thick["value"], rel=1e-3)
    lean, other_lean = one["lean"]["aft"], other["lean"]["aft"]
    assert lean["value"] == pytest.approx(length * other_lean["value"], rel=1e-4)
    assert one["chi_square"] == pytest.approx(other["chi_square"], rel=1e-4)


def test_readings_in_pounds(run: Run, garage: Path) -> None:
    """The same weighings typed from pads that show lb, for the same car."""
    metric = run(f"{PADS} --json").json
    data = tomllib.loads((garage / "pads.toml").read_text(encoding="utf-8"))
    lines = ['units = "us"']
    for one in data["weighing"]:
        rows = [[load / 0.45359237 for load in row] for row in one["readings"]]
        lines += ["[[weighing]]", f"pads = {one['pads']}", f"readings = {rows}"]
        lines += ["turned = true"] if one.get("turned") else []
    (garage / "pads.toml").write_text("\n".join(lines), encoding="utf-8")
    same(metric, run(f"{PADS} --json").json, 1, 1)


def test_heights_measured_for_all(run: Run, garage: Path) -> None:
    """Then neither floor nor thickness is asked of the readings."""
    path = garage / "pads.toml"
    text = path.read_text(encoding="utf-8")
    text = text.replace("readings =", "pad_heights = [0, 1, 1, 0]\nreadings =")
    path.write_text(text, encoding="utf-8")
    assert run(f"{PADS} --json").json["lean"] is None, "heights say that where cg_up is known"
    upright = write_upright("coupe.toml")
    pads = PADS.replace("coupe.toml", upright)
    found = run(f"{pads} --json").json
    plain = run(f"check {upright} 302.5 287 230.5 245 --json").json["cross_pct_per_mm_of_pad"]
    assert found["level"] is True
    assert found["floor"] is None
    assert [pad["thickness"] for pad in found["pads"].values()] == [None] * 4
    # Taken off: two pads up by a millimeter, worth what `check` says of each.
    text = f"pad = [{ALIKE}]\n" + (GARAGE / "pads.toml").read_text(encoding="utf-8")
    path.write_text(text, encoding="utf-8")
    before = run(f"{pads} --json").json["cross_pct"]
    assert before - found["cross_pct"] == pytest.approx(-plain["LF"] - plain["RR"], abs=1e-3)


TRUE = np.array([520.0, 498.0, 455.0, 462.0])
READS = np.array([1.012, 0.992, 1.001, 0.995])
THICK = np.array([0.06, -0.03, 0.0, -0.03])
FLOOR = np.array([0.08, 0.0, -0.04, 0.0])


def rolled_on(car: Car, pads: str, turned: bool = False, measured: bool = False) -> str:
    """Weigh a roadster of which all is known: a table of the file, in lb and in."""
    which = ["ABCD".index(pad) for pad in pads]
    # A slope of one in a hundred, down to the rear of the car that is not turned.
    floor = FLOOR - 0.01 * car.aft / INCH
    under = THICK[which] + (floor[::-1] if turned else floor)
    pound = GRAVITY * POUND
    loads = TRUE + leaned_change(car, under * INCH, TRUE * pound) / pound
    lines = [
        f"[[weighing]]\npads = {list(pads)}",
        f"readings = {[(READS[which] * loads).tolist()]}",
    ]
    lines += ["turned = true"] if turned else []
    lines += [f"pad_heights = {under.tolist()}"] if measured else []
    return "\n".join(lines)


def test_all_of_it_at_once(run: Run, garage: Path) -> None:
    """Gains, thickness, a floor that leans and is warped; lb and in."""
    text = (garage / "roadster.toml").read_text(encoding="utf-8")
    text += "\n[scales]\nresolution = 0.1\nrepeatability = 0.1\n"
    (garage / "fine.toml").write_text(text, encoding="utf-8")
    car = read_car("fine.toml").car
    orders = [rolled_on(car, pads) for pads in ("ABCD", "BADC", "CBAD")]
    orders += [rolled_on(car, pads, turned=True) for pads in ("ABDC", "DABC")]
    orders += [rolled_on(car, "CDBA", measured=True)]
    (garage / "pads.toml").write_text("\n".join(orders), encoding="utf-8")
    found = run("pads fine.toml pads.toml --json").json
    assert list(found["loads"].values()) == pytest.approx(TRUE.tolist(), rel=1e-4)
    gains = [1 + pad["gain_pct"] / 100 for pad in found["pads"].values()]
    assert gains == pytest.approx((READS / np.prod(READS) ** 0.25).tolist(), abs=1e-5)
    thick = [pad["thickness"]["value"] for pad in found["pads"].values()]
    assert thick == pytest.approx(THICK.tolist(), abs=1e-3)
    # As far as the center of gravity is high, and then some as the car gives way under it.
    for way, slope in (("aft", 0.01 + 0.06 / 92.5), ("left", -0.02 / 56)):
        assert 17.5 * slope == pytest.approx(found["lean"][way]["value"] / 1.05, rel=0.1)
    per_mm = run("check fine.toml 520 498 455 462 --json").json["cross_pct_per_mm_of_pad"]
    warped = 25.4 * sum(a * b for a, b in zip(per_mm.values(), FLOOR, strict=True))
    assert found["floor"]["cross_pct"] == pytest.approx(warped, abs=2e-3)
    out = " ".join(run("pads fine.toml pads.toml").out.split())
    assert "thicker, in" in out
    assert "slopes of 1.1 % and 0.0 %" in out
    assert f"Its warp adds {found['floor']['cross_pct']:.2f}".replace("-", "−") in out


def test_a_wheel_that_was_not_settled(run: Run, garage: Path) -> None:
    path = garage / "pads.toml"
    text = path.read_text(encoding="utf-8").replace("229.5, 248.0", "229.5, 252.0")
    path.write_text(text, encoding="utf-8")
    status, out, _ = run(PADS)
    assert status == 0
    assert "More than scatter" in out
    assert "did the car settle" in " ".join(out.split())
    found = run(f"{PADS} --json").json
    assert found["settled"] is False
    assert found["chance_pct"] < 1


def test_pads_that_all_read_alike(run: Run, garage: Path) -> None:
    path = garage / "pads.toml"
    rows = re.sub(r"readings = .*", "readings = [[302, 288, 231, 244]]", path.read_text("utf-8"))
    path.write_text(rows, encoding="utf-8")
    out = run(PADS).out
    assert "No pad is off the mean of the four by more than chance." in out
    assert "The floor leans by no more than chance" in out


def test_long_names_fit_the_terminal(run: Run, garage: Path) -> None:
    path = garage / "pads.toml"
    text = path.read_text(encoding="utf-8")
    for name in "ABCD":
        text = text.replace(f'"{name}"', f'"{name} {"pad " * 20}"')
    for count in (1, 2, 4):
        path.write_text("[[weighing]]".join(text.split("[[weighing]]")[: count + 1]))
        status, out, err = run(PADS)
        assert (status in (0, 1), err) == (True, "")
        assert max(map(len, out.split("\n"))) <= 80


def test_the_example_is_that_of_the_garage() -> None:
    assert (ROOT / "examples" / "pads.toml").read_bytes() == (GARAGE / "pads.toml").read_bytes()
