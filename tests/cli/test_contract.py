"""What scripts rely on: the keys of --json, their values and units, and the exit status.

Values are held against what they mean (sums, shares, statics, the numbers in the files),
worked out here once more by hand, not against digits that the program printed.
"""

from __future__ import annotations

import json
import math
import re
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from balancer.car.errors import InputError
from balancer.cli.terminal.show import show_json
from balancer.files.format.beside_keys import PADS_FIELDS, READINGS_FIELDS
from balancer.files.format.keys import CAR_FIELDS
from tests.cli.conftest import GARAGE, Run, write_upright

pytestmark = pytest.mark.usefixtures("garage")

COUPE, WEIGH_IN = GARAGE / "coupe.toml", GARAGE / "weigh_in.toml"
CORNERS = ("LF", "RF", "LR", "RR")
LOADS = (302.0, 288.5, 231.0, 244.0)
TOTAL = 1065.5
TYPED = "coupe.toml 302 288.5 231 244"
CAR = tomllib.loads(COUPE.read_text(encoding="utf-8"))
WHEELBASE, FRONT_TRACK, REAR_TRACK, CG_UP = 2405.0, 1450.0, 1430.0, 465.0
TRAVEL = {"LF": (-8, 10), "RF": (-8, 10), "LR": (-6, 9), "RR": (-3, 9)}
SHARES = ("front_pct", "left_pct", "cross_pct")
POUND = 0.45359237

MOVES = {"turns", "loads", "cross_pct", "height_change"}


def edited(tmp_path: Path, *edits: tuple[str, str]) -> Path:
    """Write the coupe's file with some of its text replaced, everywhere it occurs."""
    text = COUPE.read_text(encoding="utf-8")
    for old, new in edits:
        assert old in text
        text = text.replace(old, new)
    path = tmp_path / "car.toml"
    path.write_text(text, encoding="utf-8")
    return path


def four(values: dict[str, float]) -> list[float]:
    """Take a value for each corner out of a JSON object that has just these."""
    assert tuple(values) == CORNERS
    assert all(isinstance(value, float) for value in values.values())
    return list(values.values())


def shares_of(loads: Sequence[float]) -> tuple[float, float, float]:
    """Front, left and cross weight in percent."""
    lf, rf, lr, _ = (100 * load / sum(loads) for load in loads)
    return lf + rf, lf + lr, rf + lr


def shares_in(found: dict[str, Any]) -> tuple[float, ...]:
    return tuple(found[name] for name in SHARES)


# weigh


def test_weigh(run: Run) -> None:
    status, _, err = ran = run(f"weigh {TYPED} --json")
    assert (status, err) == (0, "")
    found = ran.json
    assert set(found) >= {"total", "loads", *SHARES, "cg", "uncertainty", "car", "units"}
    assert (found["car"], found["units"]) == ("Heron Lane coupe", "metric")
    assert four(found["loads"]) == pytest.approx(LOADS)
    assert found["total"] == pytest.approx(TOTAL)
    assert shares_in(found) == pytest.approx(shares_of(LOADS))
    assert found["cg"]["aft"] == pytest.approx(WHEELBASE * (231 + 244) / TOTAL)
    moment = FRONT_TRACK / 2 * (302 - 288.5) + REAR_TRACK / 2 * (231 - 244)
    assert found["cg"]["left"] == pytest.approx(moment / TOTAL)
    assert (found["readings"], found["strays"]) == (1, [])
    assert (found["date"], found["note"]) == ("", "")
    assert [abs(value) for value in four(found["pad_effect"])] == [0, 0, 0, 0]


def pads_level(level: float) -> list[list[float]]:
    """Give what each pad, that much too high [mm], does to the loads of the coupe [kg], by hand."""
    pattern = [1 / FRONT_TRACK, -1 / FRONT_TRACK, -1 / REAR_TRACK, 1 / REAR_TRACK]
    axles = [CAR["front"]] * 2 + [CAR["rear"]] * 2
    gives = sum(
        n**2 * (1 / (axle["spring_rate"] * axle["motion_ratio"] ** 2) + 1 / axle["tire_rate"])
        for n, axle in zip(pattern, axles, strict=True)
    )
    # N·m/deg, as N·mm/rad.
    twist = 1 / (CAR["body"]["torsional_stiffness"] * 180 / math.pi * 1e3)
    return [[level * n * m / (gives + twist) / 9.80665 for m in pattern] for n in pattern]


@pytest.mark.parametrize(
    ("key", "accuracy", "level"), [("uncertainty", 0.001, 1.0), ("repeatable", 0.0, 0.0)]
)
def test_weigh_is_as_sure_as_the_scales(key: str, accuracy: float, level: float, run: Run) -> None:
    """JCGM 100: each pad's variance, carried to the results by numerical derivatives.

    True pads on level ground differ by accuracy and level, which is 1 mm where the file says
    nothing; weighing again on the same pads shows neither.
    """
    found = run(f"weigh {TYPED} --json").json[key]
    variances = [(accuracy * load) ** 2 + 0.5**2 / 12 + 0.4**2 for load in LOADS]
    assert found["total"] == pytest.approx(math.sqrt(sum(variances)))
    for which, name in enumerate(SHARES):
        slopes = []
        for pad in range(4):
            more, less = list(LOADS), list(LOADS)
            more[pad] += 1e-3
            less[pad] -= 1e-3
            slopes.append((shares_of(more)[which] - shares_of(less)[which]) / 2e-3)
        square = sum(slope**2 * u2 for slope, u2 in zip(slopes, variances, strict=True))
        for moved in pads_level(level):
            square += sum(s * kg for s, kg in zip(slopes, moved, strict=True)) ** 2
        assert found[name] == pytest.approx(math.sqrt(square), rel=1e-6)


def test_weigh_with_a_readings_file(run: Run) -> None:
    ran = run("weigh coupe.toml --readings weigh_in.toml --json")
    assert ran[::2] == (0, "")
    found, file = ran.json, tomllib.loads(WEIGH_IN.read_text(encoding="utf-8"))
    mean = [sum(pad) / 3 for pad in zip(*file["readings"], strict=True)]
    bare = [load - tare for load, tare in zip(mean, file["tare"], strict=True)]
    effect = four(found["pad_effect"])
    assert sum(effect) == pytest.approx(0, abs=1e-9)
    assert effect[1] > 0, "a pad that stands high carries more"
    level = [load - off for load, off in zip(bare, effect, strict=True)]
    assert four(found["loads"]) == pytest.approx(level)
    assert found["total"] == pytest.approx(sum(bare))
    assert found["readings"] == 3
    assert found["date"] == "2026-05-09"
    assert found["note"] == file["note"]


def test_a_stray_reading_is_named(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "readings.toml"
    rows = [[302, 288.5, 231, 244]] * 4 + [[302, 288.5, 251, 244]]
    path.write_text(f"readings = {rows}")
    found = run("weigh", "coupe.toml", "--readings", str(path), "--json").json
    assert found["strays"] == [{"reading": 5, "pad": "LR"}]


def test_units_typed_behind_a_number_are_converted(run: Run) -> None:
    plain = run(f"weigh {TYPED} --json").json
    spelled = zip(LOADS, ("lb", "LB", "lbs", " lb"), strict=True)
    pounds = [f"{load / POUND!r}{unit}" for load, unit in spelled]
    mixed = ["302", "288.5kg", *pounds[2:]]
    for words in (pounds, mixed):
        found = run("weigh", "coupe.toml", *words, "--json").json
        assert four(found["loads"]) == pytest.approx(four(plain["loads"]))
        assert found["units"] == "metric"


def test_a_us_file_answers_in_pounds_and_inches(run: Run) -> None:
    typed = (520.0, 500.0, 470.0, 480.0)
    words = [f"{load:g}" for load in typed]
    ran = run("weigh", "roadster.toml", *words, "--json")
    assert ran[::2] == (0, "")
    found = ran.json
    assert found["units"] == "us"
    assert found["total"] == pytest.approx(sum(typed))
    assert four(found["loads"]) == pytest.approx(typed)
    assert found["cg"]["aft"] == pytest.approx(92.5 * 950 / 1970)
    kilograms = [f"{load * POUND!r}kg" for load in typed]
    again = run("weigh", "roadster.toml", *kilograms, "--json").json
    assert again["total"] == pytest.approx(sum(typed))
    # Nothing is said of the scales: 0.1 %, and a pound of steps and of scatter.
    variances = [(0.001 * load) ** 2 + 1 / 12 + 1 for load in typed]
    assert found["uncertainty"]["total"] == pytest.approx(math.sqrt(sum(variances)))


# perches


def check_moves(moves: dict[str, Any], rise: Sequence[float] = (0, 0, 0, 0)) -> None:
    """Hold one way to turn the perches against the car file and against itself."""
    assert set(moves) >= MOVES
    loads, heights = four(moves["loads"]), four(moves["height_change"])
    for corner, turned in zip(CORNERS, four(moves["turns"]), strict=True):
        assert (turned / 0.25).is_integer()
        assert TRAVEL[corner][0] <= turned <= TRAVEL[corner][1]
    assert sum(map(bool, moves["turns"].values())) == moves["corners"]
    # What no perch can change: the total, and the front share, but for the car's pitching.
    assert sum(loads) == pytest.approx(TOTAL)
    pitch = (heights[2] + heights[3] - heights[0] - heights[1]) / 2 / WHEELBASE
    assert loads[0] + loads[1] == pytest.approx(590.5 + TOTAL * CG_UP * pitch / WHEELBASE)
    assert shares_in(moves) == pytest.approx(shares_of(loads))
    worst = max(abs(one - wish) for one, wish in zip(heights, rise, strict=True))
    assert moves["heights_met"] == (worst <= 1.5)


def test_perches(run: Run) -> None:
    status, _, err = ran = run(f"perches {TYPED} --cross 50 --json")
    assert (status, err) == (0, "")
    found = ran.json
    assert set(found) >= {"status", *MOVES, "limits", "alternatives", "per_turn"}
    assert found["status"] == "reached"
    assert found["limits"] == []
    assert found["target_cross_pct"] == 50
    assert four(found["now"]["loads"]) == pytest.approx(LOADS)
    assert found["now"]["cross_pct"] == pytest.approx(shares_of(LOADS)[2])
    check_moves(found)
    assert found["cross_met"]
    assert found["heights_met"]
    assert abs(found["cross_pct"] - 50) <= 0.2
    assert found["alternatives"]
    for other in found["alternatives"]:
        check_moves(other)
        assert other["cross_met"] == (abs(other["cross_pct"] - 50) <= 0.2)
        better = other["cross_met"] and other["heights_met"]
        assert not (better and other["corners"] < found["corners"])


FEWEST = re.compile(r"^Fewest turns: (\S+) instead of (\S+), lands at (\S+) %\.$", re.MULTILINE)


def test_the_fewest_turns_are_told_with_what_they_cost(run: Run) -> None:
    """Beside the plan that lands at 50, in text and JSON; `prep` tells its own."""
    words = "coupe.toml 301.5 289.0 231.0 243.5 --cross 50"
    found = run(f"perches {words} --json").json
    (fewest,) = [one for one in found["alternatives"] if one["why"] == "fewest turns"]
    saved, turned, lands = FEWEST.findall(run(f"perches {words}").out)[0]
    assert (saved, turned) == ("3½", "4¼")
    assert sum(map(abs, four(fewest["turns"]))) == 3.5
    assert sum(map(abs, four(found["turns"]))) == 4.25
    assert float(lands) == pytest.approx(fewest["cross_pct"], abs=0.005)
    assert abs(found["cross_pct"] - 50) <= 0.05 < abs(fewest["cross_pct"] - 50) <= 0.2
    prep = run("prep coupe.toml 290 263 215 217 --weighed-with none --cross 50").out
    # There is no table of other ways there: it says which they are.
    assert re.search(r"Fewest turns: \S+ instead of \S+ \(LF .*\), lands", " ".join(prep.split()))


def test_one_turn_adds_up_to_the_plan(run: Run) -> None:
    found = run(f"perches {TYPED} --cross 50 --json").json
    assert set(found["per_turn"]) == set(CORNERS)
    change = 0.0
    heights = dict.fromkeys(CORNERS, 0.0)
    for corner, turned in found["turns"].items():
        one = found["per_turn"][corner]
        assert set(one) >= {"cross_pct", "load", "height_change"}
        assert one["load"] == one["loads"][corner] > 0
        assert one["height_change"] == one["height_changes"][corner] > 0
        assert (one["cross_pct"] > 0) == (corner in ("RF", "LR"))
        change += turned * one["cross_pct"]
        for where in CORNERS:
            heights[where] += turned * one["height_changes"][where]
    assert found["cross_pct"] - found["now"]["cross_pct"] == pytest.approx(change)
    assert four(found["height_change"]) == pytest.approx(list(heights.values()))


def test_a_corner_without_a_thread_has_no_turn(run: Run, tmp_path: Path) -> None:
    axle = "perch_lead = 1.5\nperch_step = 0.25\nperch_travel = [-8, 10]\n"
    path = edited(tmp_path, (axle, ""))
    found = run("perches", str(path), *map(str, LOADS), "--json").json
    assert set(found["per_turn"]) == {"LR", "RR"}
    assert found["turns"]["LF"] == found["turns"]["RF"] == 0
    assert set(run("check", str(path), "--json").json["per_turn"]) == {"LR", "RR"}


def test_a_car_without_threads_is_asked_for_them(run: Run, tmp_path: Path) -> None:
    lines = [line for line in COUPE.read_text().split("\n") if line.startswith("perch_")]
    path = edited(tmp_path, *((f"{line}\n", "") for line in dict.fromkeys(lines)))
    ran = run("perches", str(path), *map(str, LOADS), "--json")
    assert ran[:2] == (2, "")
    for line, axle in zip(ran.err.splitlines(), ("front", "rear"), strict=True):
        assert line.endswith(f" {axle}.perch_lead: is missing: add the perch travel in one turn")
    assert run("check", str(path), "--json").json["per_turn"] == {}
    ready = run("prep", str(path), *map(str, LOADS), "--json")
    assert set(four(ready.json["turns"])) == {0}


def test_nothing_to_turn(run: Run) -> None:
    found = run(f"perches {TYPED} --cross {shares_of(LOADS)[2]!r} --json")
    assert found.status == 0
    assert found.json["status"] == "reached"
    assert set(four(found.json["turns"])) == {0}
    assert four(found.json["loads"]) == pytest.approx(LOADS)


def test_cross_weight_of_fifty_is_the_default(run: Run) -> None:
    usual = run(f"perches {TYPED} --json").json
    said = run(f"perches {TYPED} --cross 50% --json").json
    assert (usual["target"].pop("from"), said["target"].pop("from")) == ("usual", "said")
    assert usual == said


TRAVEL_TEXT = re.compile(
    r"at (LF|RF|LR|RR) only (\S+) turns? (?:is|are) left (up|down) and (\S+) would do it"
)


def test_closest_names_the_travel_that_binds(run: Run, tmp_path: Path) -> None:
    path = edited(
        tmp_path,
        ("perch_travel = [-8, 10]", "perch_travel = [-2, 2]"),
        ("perch_travel = [-6, 9]", "perch_travel = [-9, 9]"),
        ("perch_travel = [-3, 9]", "perch_travel = [-9, 9]"),
    )
    ran = run(
        "perches", str(path), *map(str, LOADS), "--cross=53", "--height-tolerance=2", "--json"
    )
    assert ran[::2] == (1, "")
    found = ran.json
    assert found["status"] == "closest"
    assert not (found["cross_met"] and found["heights_met"])
    (text,) = [one for one in found["limits"] if "would do it" in one]
    named = TRAVEL_TEXT.findall(text)
    assert ("RF", "2", "up") in [one[:3] for one in named]
    assert {one[1] for one in named} == {"2"}, "each end of the front travel is two turns away"
    assert {one[0] for one in named} <= {"LF", "RF"}
    then, closest = re.findall(r"(\d+\.\d) %", text)
    assert abs(float(then) - 53) <= 0.2 + 0.05
    assert float(closest) == pytest.approx(found["cross_pct"], abs=0.05)


def test_closest_names_the_corners_kept(run: Run) -> None:
    keep = " ".join(f"--keep {corner}" for corner in CORNERS)
    ran = run(f"perches {TYPED} --cross 50 {keep.lower()} --json")
    assert ran[::2] == (1, "")
    assert ran.json["status"] == "closest"
    assert set(four(ran.json["turns"])) == {0}
    (text,) = ran.json["limits"]
    kept = text.partition(" may not be touched")[0].split(", ")
    assert set(kept) <= set(CORNERS)
    assert re.search(r"touched: if (they|it) could, 4\d\.\d % could be reached; ", text)
    assert text.endswith("the closest is 48.8 %")
    # Of no way at all nothing is proved.
    assert "Proved" not in run(f"perches {TYPED} --cross 50 {keep}").out


def test_closest_names_the_heights(run: Run) -> None:
    ran = run(f"perches {TYPED} --cross 50 --height-tolerance 0.05 --json")
    assert ran[::2] == (1, "")
    assert any("the heights would have to give" in text for text in ran.json["limits"])
    least = [re.findall(r"have to give (\S+) mm", text) for text in ran.json["limits"]]
    tiny = run(f"perches {TYPED} --cross 50 --height-tolerance 0.001 --json").json["limits"]
    assert [re.findall(r"have to give (\S+) mm", text) for text in tiny if "heights" in text] == [
        one for one in least if one
    ]


def test_keep(run: Run) -> None:
    ran = run(f"perches {TYPED} --cross 49.5 --keep rr --json")
    assert ran.status == 0
    assert ran.json["turns"]["RR"] == 0
    assert all(other["turns"]["RR"] == 0 for other in ran.json["alternatives"])


def test_tolerance(run: Run) -> None:
    for tolerance in (0.02, 0.5, 2):
        ran = run(f"perches {TYPED} --cross 50 --tolerance {tolerance} --json")
        if ran.json["cross_met"]:
            assert abs(ran.json["cross_pct"] - 50) <= tolerance
        assert (ran.status == 0) == (ran.json["status"] == "reached")
    assert set(four(ran.json["turns"])) == {0}, "within two points it already is"


@pytest.mark.parametrize(
    ("options", "rise"),
    [
        ("--raise front=3", (3, 3, 0, 0)),
        ("--raise LF=3mm --raise RF=3", (3, 3, 0, 0)),
        ("--raise all=-0.2in", (-5.08, -5.08, -5.08, -5.08)),
        ("--raise rear=2 --raise LR=1", (0, 0, 3, 2)),
    ],
)
def test_raise(options: str, rise: tuple[float, ...], run: Run) -> None:
    ran = run(f"perches {TYPED} --cross 50 {options} --json")
    assert ran.status == 0
    check_moves(ran.json, rise)
    assert ran.json["heights_met"]


def test_heights_are_counted_from_the_readings_file(run: Run) -> None:
    ran = run(
        "perches coupe.toml --readings weigh_in.toml --heights 124 125 131 130 --cross 50 --json"
    )
    assert ran.status == 0
    for now, wanted, change in zip(
        (121, 122, 131, 130), (124, 125, 131, 130), four(ran.json["height_change"]), strict=True
    ):
        assert abs(now + change - wanted) <= 1.5


def test_heights_need_heights_in_the_readings_file(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "readings.toml"
    path.write_text("readings = [[302, 288.5, 231, 244]]")
    assert run("perches", "coupe.toml", "--readings", str(path), "--heights", *"9999") == (
        2,
        "",
        "--heights: the heights now are not known: put ride_heights in a readings file\n",
    )


@pytest.mark.parametrize(("axle", "left", "right"), [("front", 0, 1), ("rear", 2, 3)])
def test_equal_pairs(axle: str, left: int, right: int, run: Run) -> None:
    """At the target the pair carries the same: the free pattern alone can be added to the loads.

    But for what the car leans by the turns, a tenth of a kilogram.
    """
    found = run(f"perches {TYPED} --equal-{axle}s --json").json
    pattern = (1 / FRONT_TRACK, -1 / FRONT_TRACK, -1 / REAR_TRACK, 1 / REAR_TRACK)
    missing = (found["target_cross_pct"] - found["cross_pct"]) / 100 * TOTAL
    along = missing / (pattern[1] + pattern[2])
    loads = [load + along * one for load, one in zip(four(found["loads"]), pattern, strict=True)]
    assert loads[left] == pytest.approx(loads[right], abs=0.15)


def test_loads_are_come_as_close_to_as_can_be(run: Run) -> None:
    """The least squares along the free pattern: what is left over is at right angles to it."""
    wanted = (296.0, 295.0, 240.0, 236.0)
    typed = " ".join(f"{load:g}" for load in wanted)
    found = run(f"perches {TYPED} --loads {typed} --json").json
    pattern = (1 / FRONT_TRACK, -1 / FRONT_TRACK, -1 / REAR_TRACK, 1 / REAR_TRACK)
    missing = (found["target_cross_pct"] - found["now"]["cross_pct"]) / 100 * TOTAL
    along = missing / (pattern[1] + pattern[2])
    rest = [
        load + along * one - wish for load, one, wish in zip(LOADS, pattern, wanted, strict=True)
    ]
    assert sum(a * b for a, b in zip(rest, pattern, strict=True)) == pytest.approx(0, abs=1e-9)


def test_perches_in_us_units(run: Run) -> None:
    ran = run("perches roadster.toml 530 490 460 500 --json")
    found = ran.json
    assert ran.status == (0 if found["status"] == "reached" else 1)
    assert sum(four(found["loads"])) == pytest.approx(1980)
    # One turn of a sixteenth of an inch moves the wheel by no more than that through 0.71.
    assert 0 < found["per_turn"]["LF"]["height_change"] < 0.0625 / 0.71
    small = run("perches roadster.toml 530 490 460 500 --height-tolerance 0.06 --json")
    same = run("perches roadster.toml 530 490 460 500 --height-tolerance 1.524mm --json")
    assert small == same


def test_what_only_mass_moves_is_refused(run: Run) -> None:
    for share in ("front", "left"):
        ran = run(f"perches {TYPED} --{share} 52 --json")
        assert ran == (
            2,
            "",
            f"--{share}: perches can't move the {share} share: only mass does:"
            " see balancer ballast\n",
        )


# ballast


def check_ballast(found: dict[str, Any]) -> None:
    """Hold ballast against the places and pieces of the coupe, and the loads against statics."""
    keys = {"status", "ballast", "added", "total", "loads", *SHARES, "limits"}
    assert set(found) >= keys
    places = {place["name"]: place for place in CAR["place"]}
    stock = {piece["mass"]: piece["stock"] for piece in CAR["piece"]}
    front = LOADS[0] + LOADS[1]
    for put in found["ballast"]:
        assert set(put) >= {"place", "mass", "aft", "left", "pieces"}
        place = places.pop(put["place"])
        assert put["mass"] <= place["most"] + 1e-6
        for key in ("aft", "left"):
            ends = place[key] if isinstance(place[key], list) else [place[key]] * 2
            assert ends[0] - 1e-6 <= put[key] <= ends[1] + 1e-6
        assert put["mass"] == pytest.approx(
            sum(one["mass"] * one["count"] for one in put["pieces"])
        )
        assert sum(one["count"] for one in put["pieces"]) <= place.get("most_pieces", 1000)
        for one in put["pieces"]:
            stock[one["mass"]] -= one["count"]
        front += put["mass"] * (1 - put["aft"] / WHEELBASE)
    assert min(stock.values()) >= 0
    loads = four(found["loads"])
    assert found["added"] == pytest.approx(sum(put["mass"] for put in found["ballast"]))
    assert found["total"] == pytest.approx(TOTAL + found["added"])
    assert sum(loads) == pytest.approx(found["total"])
    assert loads[0] + loads[1] == pytest.approx(front)
    assert shares_in(found) == pytest.approx(shares_of(loads))
    assert (found["status"] == "met") == (found["limits"] == [])


def upright() -> str:
    """Type the coupe as one that is not known to lean, so that paper can follow."""
    return TYPED.replace("coupe.toml", write_upright("coupe.toml"))


def test_ballast(run: Run) -> None:
    ran = run(f"ballast {upright()} --json")
    assert ran[::2] == (0, "")
    found = ran.json
    assert found["status"] == "met"
    check_ballast(found)
    # 1090 and 3 of margin, and 27.5 in pieces of 2.5 is the least that makes it.
    assert found["total"] == pytest.approx(1093)
    assert 52 - 1e-5 <= found["front_pct"] <= 54.5 + 1e-5


def test_ballast_for_a_front_share(run: Run) -> None:
    for option in ("--front 54", "--front 53.8:54.2", "--front 54 --tolerance 0.2"):
        ran = run(f"ballast {upright()} {option} --json")
        check_ballast(ran.json)
        assert ran.status == 0
        assert abs(ran.json["front_pct"] - 54) <= 0.2 + 1e-5


def test_ballast_for_a_minimum(run: Run) -> None:
    ran = run(f"ballast {upright()} --minimum 2420lb --json")
    assert ran.status == 0
    check_ballast(ran.json)
    least = 2420 * POUND
    assert least <= ran.json["total"] < least + 2.5


@pytest.mark.parametrize("option", ["--front 60", "--minimum 1200", "--most 10", "--front 51"])
def test_ballast_that_cannot_be(option: str, run: Run) -> None:
    ran = run(f"ballast {upright()} {option} --json")
    assert ran[::2] == (1, "")
    found = ran.json
    check_ballast(found)
    assert found["status"] == "closest"
    assert found["limits"]
    assert any(not rule["met"] for rule in found["rules"])
    if option == "--most 10":
        assert found["added"] <= 10
        assert any("27.5 kg" in text and "10.0 kg" in text for text in found["limits"])


def test_closest_gives_up_no_rule_that_can_be_met(run: Run) -> None:
    """20 kg can't make 1150, but all of it on the battery shelf makes a front share of 54.34."""
    found = run(f"ballast {upright()} --minimum 1150 --most 20 --json").json
    check_ballast(found)
    assert found["added"] == pytest.approx(20)
    possible = 100 * (590.5 + 20 * (1 - 2480 / WHEELBASE)) / (TOTAL + 20)
    assert 52 <= possible <= 54.5
    assert 52 - 1e-5 <= found["front_pct"] <= 54.5 + 1e-5


def test_ballast_leans_the_car(run: Run) -> None:
    """In the same places as on paper, and a little more on the axle that goes down."""
    paper, found = (run(f"ballast {typed} --json").json for typed in (upright(), TYPED))
    front = 590.5 + sum(put["mass"] * (1 - put["aft"] / WHEELBASE) for put in found["ballast"])
    shift = found["loads"]["LF"] + found["loads"]["RF"] - front
    assert -0.6 < shift < -0.1, "it sits behind the middle"
    assert found["added"] == pytest.approx(paper["added"])


def test_any_mass_where_there_are_no_pieces(run: Run) -> None:
    ran = run(f"ballast {write_upright('roadster.toml')} 520 500 460 480 --json")
    assert ran[::2] == (0, "")
    found = ran.json
    assert found["units"] == "us"
    assert all(put["pieces"] == [] for put in found["ballast"])
    # Front 1020 of 1960; at the rear end of the boot floor, at 104 of 92.5, least mass makes half.
    least = (2 * 1020 - 1960) / (1 - 2 * (1 - 104 / 92.5))
    assert found["added"] == pytest.approx(least)
    assert found["front_pct"] == pytest.approx(50)


def test_no_place_for_ballast(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "car.toml"
    path.write_text(COUPE.read_text(encoding="utf-8").partition("[[place]]")[0], encoding="utf-8")
    said = "car.toml: has no [[place]]: say where ballast may go: name, aft, left, up\n"
    assert run("ballast", str(path), *map(str, LOADS)) == (2, "", said)


# check, schema


def test_check(run: Run) -> None:
    ran = run(f"check {TYPED} --json")
    assert ran[::2] == (0, "")
    found = ran.json
    assert found["loads_assumed"] is False
    assert four(found["loads"]) == pytest.approx(LOADS)
    for which, corner in enumerate(CORNERS):
        axle = CAR["front" if which < 2 else "rear"]
        wheel = axle["spring_rate"] * axle["motion_ratio"] ** 2
        ride = 1 / (1 / wheel + 1 / axle["tire_rate"])
        assert found["wheel_rate"][corner] == pytest.approx(wheel)
        assert found["ride_rate"][corner] == pytest.approx(ride)
        sprung = LOADS[which] - axle["unsprung_mass"]
        assert found["frequency_hz"][corner] == pytest.approx(
            math.sqrt(1000 * ride / sprung) / (2 * math.pi)
        )
    assert found["per_turn"] == run(f"perches {TYPED} --json").json["per_turn"]
    pads = four(found["cross_pct_per_mm_of_pad"])
    assert [value > 0 for value in pads] == [False, True, True, False]
    assert found["notes"] == []


def test_check_without_readings_takes_the_class(run: Run) -> None:
    found = run("check coupe.toml --json").json
    assert found["loads_assumed"] is True
    assert sum(four(found["loads"])) == pytest.approx(1090)
    assert shares_of(four(found["loads"])) == pytest.approx((53.25, 50, 50))


def test_check_tells_what_is_odd(run: Run, tmp_path: Path) -> None:
    path = edited(tmp_path, ("spring_rate = 70", "spring_rate = 5"))
    ran = run("check", str(path), "--json")
    assert ran.status == 0
    assert [note.split()[0] for note in ran.json["notes"]] == ["LF", "RF"]


@pytest.mark.parametrize(
    ("which", "fields"),
    [("car", CAR_FIELDS), ("readings", READINGS_FIELDS), ("pads", PADS_FIELDS)],
)
def test_schema(which: str, fields: dict[str, Any], run: Run) -> None:
    status, out, err = run("schema", which)
    assert (status, err) == (0, "")
    found = json.loads(out)
    assert list(found["properties"]) == list(fields)
    required = {name for name, field in fields.items() if field.required}
    assert set(found.get("required", [])) == required


def test_text_and_json_end_alike(run: Run) -> None:
    for line in (
        f"weigh {TYPED}",
        f"check {TYPED}",
        f"perches {TYPED} --cross 50",
        f"perches {TYPED} --cross 75",
        f"ballast {TYPED}",
        f"ballast {TYPED} --front 60",
    ):
        text, data = run(line), run(f"{line} --json")
        assert text.status == data.status
        assert text.err == data.err == ""
        assert max(map(len, text.out.split("\n"))) <= 80, line


EIGHT = """readings = [
  [301.5, 289.3, 231.0, 243.5], [301.0, 289.3, 231.5, 243.0],
  [302.0, 289.3, 231.0, 243.5], [301.5, 289.3, 230.5, 244.0],
  [301.0, 289.3, 231.0, 243.5], [301.5, 289.3, 231.5, 243.0],
  [302.5, 289.3, 230.5, 244.0], [301.5, 289.3, 231.0, 243.5],
]
"""


def test_eight_readings_with_one_steady_pad(run: Run, garage: Path) -> None:
    """All that follows from them is a number, and the least weight still counts."""
    Path("eight.toml").write_text(EIGHT, encoding="utf-8")
    text = Path("coupe.toml").read_text(encoding="utf-8")
    chance = re.sub(r"(?m)^margin = .*$", "shortfall_chance_pct = 1", text)
    Path("coupe.toml").write_text(chance, encoding="utf-8")
    weighed = run("weigh", "coupe.toml", "--readings", "eight.toml", "--json")
    assert weighed.status == 0
    assert 0 < weighed.json["uncertainty"]["total"] < 2
    found = run("ballast", "coupe.toml", "--readings", "eight.toml", "--json").json
    assert "minimum weight, margin included" in {rule["rule"] for rule in found["rules"]}
    assert "nan" not in run("weigh", "coupe.toml", "--readings", "eight.toml").out


def test_json_in_twelve_digits_and_no_minus_zero(capsys: pytest.CaptureFixture[str]) -> None:
    list_ = [10 / 3, -1e-17, 1102.9 - 1103.0, 3]
    show_json({"turns": {"LF": 7 * 0.1, "RF": -0.0}, "list": list_, "none": None})
    assert capsys.readouterr().out == (
        '{"turns": {"LF": 0.7, "RF": 0.0}, "list": [3.33333333333, 0.0, -0.1, 3], "none": null}\n'
    )


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_json_has_no_word_for_what_is_not_finite(value: float) -> None:
    with pytest.raises(InputError, match=r"uncertainty\.total: can't be worked out"):
        show_json({"uncertainty": {"total": value}})


def test_a_wheel_off_the_ground_is_said_first(run: Run, garage: Path) -> None:
    """No state is told as if a pad could pull: the other three carry the car."""
    words = f"{write_upright('coupe.toml')} 320 320 22 320 --weighed-with driver --to none"
    told, found = run(f"trim {words}"), run(f"trim {words} --json").json
    loads = np.array(four(found["loads"]))
    assert loads[2] == 0
    # What three legs carry follows from total and moments alone.
    left = np.array([FRONT_TRACK, -FRONT_TRACK, REAR_TRACK, -REAR_TRACK]) / 2
    arms = np.array([np.ones(4), [0, 0, WHEELBASE, WHEELBASE], left])
    driver = 78 * np.array([1, 1420, 340])
    assert arms @ loads == pytest.approx(arms @ [320, 320, 22, 320] - driver)
    assert shares_in(found) == pytest.approx(shares_of(loads.tolist()))
    assert found["warnings"] == ["LR is off the ground there, the other three carry the car"]
    assert "off the ground" in " ".join(told.out.split())
    assert told.out.index("Care: now: ") < told.out.index("cross")


@pytest.mark.parametrize(
    ("command", "more"),
    [
        ("perches", "--weighed-with driver --to none --cross 50"),
        ("ballast", "--weighed-with driver --to none"),
        ("prep", "--weighed-with driver --to none --cross 50"),
        ("stint", "--weighed-with driver,fuel=42 --from fuel=42"),
        ("parts", "--exchange 'iron engine=alloy engine' --book light.toml"),
        ("springs", "--RR-length 40"),
    ],
)
def test_who_shows_loads_says_which_wheel_is_up(
    command: str, more: str, run: Run, garage: Path
) -> None:
    book = (garage / "parts.toml").read_text(encoding="utf-8")
    assert 'name = "alloy engine"' in book
    heavy = "[[part]]\nname = 'left bags'\nmass = 70\naft = 2300\nleft = 700\n"
    (garage / "light.toml").write_text(heavy, encoding="utf-8")
    more = more.replace("--exchange 'iron engine=alloy engine'", "--off 'left bags'")
    out = run(f"{command} fueled.toml 320 320 22 320 {more}").out
    assert "is off the ground there, the other three carry the car" in " ".join(out.split())
    found = run(f"{command} fueled.toml 320 320 22 320 {more} --json").json
    told = found.get("variants") or found.get("stint") or [found.get("race_trim", found)]
    assert min(min(four(one["loads"])) for one in told) >= 0


def test_a_car_that_tips_over_is_refused(run: Run, garage: Path) -> None:
    words = "coupe.toml 320 120 320 120 --weighed-with none"
    status, out, err = run(f"trim {words} --part bags=700@1200,1400,400 --to none")
    assert (status, out) == (2, "")
    assert err.startswith("coupe.toml: would tip over, a wheel is off the ground")
