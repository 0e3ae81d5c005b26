"""What scripts rely on of race trim, parts, comparison, axle lift and the check before an event.

As in test_contract.py: values are held against what they mean, worked out here once more by hand.
"""

from __future__ import annotations

import json
import math
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import GARAGE, Run, write_upright
from tests.cli.test_contract import LOADS, POUND, SHARES, TOTAL, four, shares_in, shares_of
from tests.sources import common_practice

pytestmark = pytest.mark.usefixtures("garage")

TYPED = "fueled.toml 302 288.5 231 244"
US_TYPED = "us.toml 520 498 455 462"
WHEELBASE, DENSITY = 2405.0, 0.7475
DRIVER, SPARE = 78.0, 14.0
TANK, RESERVE = 42 * DENSITY, 4 * DENSITY
STATE = {"total", "loads", *SHARES}
TRIM = {"on_board", "state", *STATE, "cg"}
LB_PER_GALLON = 6.0
US_TANK = f"""
[[on_board]]
name = "fuel"
volume = 5
density = {LB_PER_GALLON}
tank = 11
reserve = 1
aft = 85
left = -5
up = 12
"""
LONG = ("the very long name of a thing that somebody typed on a Sunday", "x" * 60, "ж" * 100)


@pytest.fixture(autouse=True)
def us_car(garage: Path) -> None:
    """Put a tank in the roadster: six pounds a gallon, as pilots reckon."""
    text = (garage / "roadster.toml").read_text(encoding="utf-8")
    (garage / "us.toml").write_text(text + US_TANK, encoding="utf-8")


def edit(garage: Path, base: str, name: str, *edits: tuple[str, str]) -> None:
    """Write a file of the garage with some of its text replaced."""
    text = (garage / base).read_text(encoding="utf-8")
    for old, new in edits:
        assert old in text
        text = text.replace(old, new)
    (garage / name).write_text(text, encoding="utf-8")


def check_state(found: dict[str, Any], total: float) -> None:
    """Hold total and shares against the loads, as each state has them."""
    loads = four(found["loads"])
    # JSON has twelve digits: each of four loads of hundreds may be half of the last one off, and
    # a total of thousands, and what is added to make it.
    assert found["total"] == pytest.approx(total, rel=1e-12, abs=1e-8 if total > 1000 else 0)
    assert sum(loads) == pytest.approx(total, abs=4 * 0.5e-9)
    assert shares_in(found) == pytest.approx(shares_of(loads))


def check_trim(found: dict[str, Any], on_board: list[str], total: float) -> None:
    assert set(found) >= TRIM
    assert found["on_board"] == on_board
    assert set(found["cg"]) == {"aft", "left"}
    check_state(found, total)


def rear(found: dict[str, Any]) -> float:
    return float(found["loads"]["LR"] + found["loads"]["RR"])


# trim


def test_trim(run: Run) -> None:
    status, _, err = ran = run(f"trim {TYPED} --weighed-with none --to driver --json")
    assert (status, err) == (0, "")
    found = ran.json
    assert (found["car"], found["units"]) == ("Heron Lane coupe", "metric")
    check_trim(found, ["driver"], TOTAL + DRIVER)
    check_trim(found["was"], [], TOTAL)
    assert four(found["was"]["loads"]) == pytest.approx(LOADS)
    # Moments about the front axle, in kg·mm; a driver behind the middle makes it squat, too.
    moment = WHEELBASE * (231 + 244) + DRIVER * 1420
    assert moment < WHEELBASE * rear(found) < 1.001 * moment
    typed = TYPED.replace("fueled.toml", write_upright("fueled.toml"))
    upright = run(f"trim {typed} --weighed-with none --to driver --json").json
    assert WHEELBASE * rear(upright) == pytest.approx(moment)
    assert upright["cg"]["aft"] == pytest.approx(moment / (TOTAL + DRIVER))


def test_trim_there_and_back(run: Run) -> None:
    there = run(f"trim {TYPED} --weighed-with driver --to fuel=20 --json").json
    loads = [repr(load) for load in four(there["loads"])]
    back = run("trim", "fueled.toml", *loads, "--weighed-with=fuel=20", "--to=driver", "--json")
    assert four(back.json["loads"]) == pytest.approx(LOADS, rel=1e-12)


def test_trim_in_us_units(run: Run) -> None:
    car = write_upright("us.toml")
    typed = US_TYPED.replace("us.toml", car)
    found = run(f"trim {typed} --weighed-with driver --to driver=180,fuel=3 --json").json
    assert found["units"] == "us"
    check_trim(found, ["driver", "fuel"], 1935 + 10 + 3 * LB_PER_GALLON)
    moment = 92.5 * (455 + 462) + 10 * 58 + 3 * LB_PER_GALLON * 85
    assert found["cg"]["aft"] == pytest.approx(moment / found["total"])
    liters = f"{3 * 3.785411784}L"
    again = run(
        f"trim {typed} --weighed-with driver --to driver={180 * POUND}kg,fuel={liters} --json"
    ).json
    assert four(again["loads"]) == pytest.approx(four(found["loads"]))


@pytest.mark.parametrize(
    ("options", "was", "total"),
    [
        # The option, else the readings file, else [class]: after the race, so at reserve.
        ("--readings may.toml --weighed-with 'spare wheel'", ["spare wheel"], SPARE),
        ("--readings may.toml", ["driver", "fuel"], DRIVER + 6 * DENSITY),
        ("302 288.5 231 244", ["driver", "fuel"], DRIVER + RESERVE),
        ("302 288.5 231 244 --weighed-with none", [], 0.0),
        ("302 288.5 231 244 --weighed-with fuel", ["fuel"], 8 * DENSITY),
    ],
)
def test_what_was_on_board(options: str, was: list[str], total: float, run: Run) -> None:
    found = run(f"trim fueled.toml {options} --to none --json").json
    assert found["was"]["on_board"] == was
    assert found["on_board"] == []
    assert found["was"]["total"] - found["total"] == pytest.approx(total)


def test_trim_goes_to_race_trim_by_default(run: Run) -> None:
    found = run(f"trim {TYPED} --weighed-with none --json").json
    check_trim(found, ["driver", "fuel"], TOTAL + DRIVER + RESERVE)


# stint


def test_stint(run: Run) -> None:
    status, _, err = ran = run(f"stint {TYPED} --weighed-with driver --json")
    assert (status, err) == (0, "")
    found = ran.json
    assert set(found) >= {"car", "units", "fluid", "stint", "worst"}
    assert (found["fluid"], found["units"]) == ("fuel", "metric")
    volumes = [row["volume"] for row in found["stint"]]
    assert volumes == pytest.approx([42 - 38 * step / 5 for step in range(6)])
    for row in found["stint"]:
        check_trim(row, ["driver", "fuel"], TOTAL + row["volume"] * DENSITY)
    off = [abs(row["cross_pct"] - 50) for row in found["stint"]]
    assert off[found["worst"]] == max(off)


def test_stint_from_and_to_another_cross_weight(run: Run) -> None:
    ran = run(f"stint {TYPED} --weighed-with driver --from fuel=20 --cross 49% --json")
    rows = ran.json["stint"]
    assert [rows[0]["volume"], rows[-1]["volume"]] == pytest.approx([20, 4])
    check_trim(rows[0], ["fuel"], TOTAL - DRIVER + 20 * DENSITY)
    off = [abs(row["cross_pct"] - 49) for row in rows]
    assert off[ran.json["worst"]] == max(off)


def test_stint_in_us_units(run: Run) -> None:
    rows = run(f"stint {US_TYPED} --weighed-with driver --json").json["stint"]
    assert [rows[0]["volume"], rows[-1]["volume"]] == pytest.approx([11, 1])
    check_trim(rows[0], ["driver", "fuel"], 1935 + 11 * LB_PER_GALLON)


# parts


def test_parts(run: Run) -> None:
    status, _, err = ran = run(f"parts {TYPED} --book parts.toml --variant aft --json")
    assert (status, err) == (0, "")
    found = ran.json
    assert set(found) >= {"car", "units", "before", "variants", "parts"}
    assert set(found["before"]) >= STATE
    check_state(found["before"], TOTAL)
    (aft,) = found["variants"]
    assert set(aft) >= {"name", *STATE, "load_change", "changes"}
    assert aft["name"] == "aft"
    # Pads, less plywood, less the lifting plate; pads, less plywood, and the alternator.
    iron, alloy = 88.5 + 79 - 3 - 6, 60 + 54.5 - 3 + 7.5
    check_state(aft, TOTAL - iron + alloy)
    names = [one["change"] for one in aft["changes"]]
    assert names == ["iron engine off", "alloy engine on", "battery moved"]
    each = [four(one["load_change"]) for one in aft["changes"]]
    assert [sum(one) for one in each] == pytest.approx([-iron, alloy, 0], abs=1e-9)
    change = [sum(column) for column in zip(*each, strict=True)]
    assert four(aft["load_change"]) == pytest.approx(change)
    assert four(aft["loads"]) == pytest.approx(
        [load + more for load, more in zip(LOADS, change, strict=True)]
    )
    moved, moment = each[2][2] + each[2][3], 15.5 * (2480 + 250)
    assert moment < moved * WHEELBASE < 1.04 * moment, "moved to the rear, where it makes it squat"
    typed = TYPED.replace("fueled.toml", write_upright("fueled.toml"))
    (upright,) = run(f"parts {typed} --book parts.toml --variant aft --json").json["variants"]
    moved = sum(four(upright["changes"][2]["load_change"])[2:])
    assert moved * WHEELBASE == pytest.approx(moment), "moved to the rear"


def test_parts_as_asked_and_beside_each_other(run: Run) -> None:
    found = run(
        f"parts {TYPED} --book parts.toml --exchange 'iron engine=alloy engine' --off battery"
        " --variant alloy --json"
    ).json
    alloy, asked = found["variants"]
    assert (alloy["name"], asked["name"]) == ("alloy", "as asked")
    labels = [one["change"] for one in asked["changes"]]
    assert labels == ["battery off", "iron engine → alloy engine"]
    assert asked["total"] == pytest.approx(alloy["total"] - 15.5)
    again = run(f"parts {TYPED} --book parts.toml --off 'iron engine' --on 'alloy engine' --json")
    assert four(again.json["variants"][0]["loads"]) == pytest.approx(four(alloy["loads"]))


def test_parts_listed_beside_one(run: Run) -> None:
    found = run(f"parts {TYPED} --book parts.toml --against battery --json").json
    assert found["variants"] == []
    masses = {part["name"]: (part["mass"], part["heavier_by"]) for part in found["parts"]}
    assert masses == {
        "iron engine": pytest.approx((158.5, 143)),
        "alloy engine": pytest.approx((119, 103.5)),
        "battery": pytest.approx((15.5, 0)),
    }
    alone = run(f"parts {TYPED} --book parts.toml --json").json
    assert {part["heavier_by"] for part in alone["parts"]} == {None}


def test_a_metric_book_for_a_us_car(run: Run, garage: Path) -> None:
    edit(
        garage,
        "parts.toml",
        "book.toml",
        ('[[part]]\nname = "iron', 'units = "metric"\n\n[[part]]\nname = "iron'),
    )
    found = run(f"parts {US_TYPED} --book book.toml --off battery --json").json
    assert found["units"] == "us"
    assert 1935 - found["variants"][0]["total"] == pytest.approx(15.5 / POUND)


ENGINES = """
[[part]]
name = "iron V8"
pads = [{iron}]
less = 100
aft = 2
left = 0
up = 18

[[part]]
name = "four"
mass = {four}
aft = 0
left = 1
up = 16
"""


@pytest.mark.parametrize(
    ("iron", "four", "heavier"), [(406, 221, "85.0"), (414, 236, "78.0")], ids=["bare", "intakes"]
)
@common_practice
def test_engines_beside_each_other(
    iron: float, four: float, heavier: str, run: Run, garage: Path
) -> None:
    """An engine weighed on its stand of 100 lb, beside one weighed bare."""
    (garage / "engines.toml").write_text(ENGINES.format(iron=iron, four=four))
    shown = run(f"parts {US_TYPED} --book engines.toml --against four")
    (line,) = [line for line in shown.out.split("\n") if line.startswith("iron V8")]
    assert line.endswith(f"  {heavier} heavier")
    found = run(f"parts {US_TYPED} --book engines.toml --exchange 'iron V8=four' --json").json
    assert found["variants"][0]["total"] == pytest.approx(1935 - float(heavier))


# compare


def test_compare(run: Run) -> None:
    status, out, err = run("compare fueled.toml may.toml june.toml may.toml --json")
    assert (status, err) == (0, "")
    found, same = map(json.loads, out.splitlines())
    keys = {"car", "units", *STATE, "cg", "uncertainty", "real", "added", "unexplained"}
    assert set(found) >= keys
    first, second = (
        run(f"weigh fueled.toml --readings {name} --json").json
        for name in ("may.toml", "june.toml")
    )
    for key in ("total", *SHARES):
        assert found[key] == pytest.approx(second[key] - first[key], abs=1e-9)
        # What the pads get wrong each time alike drops out; scatter counts twice.
        either = [
            math.hypot(first[of][key], second[of][key]) for of in ("uncertainty", "repeatable")
        ]
        assert 0.6 * min(either) < found["uncertainty"][key] < max(either)
        beyond = found["limit"] * found["uncertainty"][key]
        assert found["real"][key] == (abs(found[key]) > beyond)
        assert same[key] == pytest.approx(0, abs=1e-9)
    assert sum(four(found["loads"])) == pytest.approx(found["total"])
    added = found["added"]
    assert set(added) == {"mass", "aft", "left", "uncertainty"}
    assert added["mass"] == pytest.approx(found["total"])
    moment = second["total"] * second["cg"]["aft"] - first["total"] * first["cg"]["aft"]
    assert moment / found["total"] < added["aft"] < 0.9 * moment / found["total"], "it leans"
    car = write_upright("fueled.toml")
    upright = run(f"compare {car} may.toml june.toml --json").json["added"]
    first, second = (
        run(f"weigh {car} --readings {name} --json").json for name in ("may.toml", "june.toml")
    )
    moment = second["total"] * second["cg"]["aft"] - first["total"] * first["cg"]["aft"]
    assert upright["aft"] == pytest.approx(moment / found["total"])
    assert all(value > 0 for value in added["uncertainty"].values())
    assert found["unexplained"] is None
    assert not any(same["real"].values())
    assert (same["added"]["aft"], same["added"]["uncertainty"]["left"]) == (None, None)


def test_compare_with_what_the_parts_say(run: Run) -> None:
    line = "compare fueled.toml may.toml june.toml --json"
    found = run(f"{line} --book parts.toml --variant aft").json
    parts = run("parts fueled.toml --readings may.toml --book parts.toml --variant aft --json")
    change = four(parts.json["variants"][0]["load_change"])
    rest = [a - b for a, b in zip(four(found["loads"]), change, strict=True)]
    assert four(found["unexplained"]) == pytest.approx(rest)


def test_compare_cars_in_the_units_of_the_first(run: Run, garage: Path) -> None:
    (garage / "us_weigh_in.toml").write_text("readings = [[520, 498, 455, 462]]\n")
    line = "compare fueled.toml may.toml us_weigh_in.toml --other-car us.toml --as-weighed --json"
    found, first = run(line).json, run("weigh fueled.toml --readings may.toml --json").json
    assert found["units"] == "metric"
    assert found["total"] == pytest.approx(1935 * POUND - first["total"])


# lift


def test_lift(run: Run) -> None:
    status, _, err = ran = run("lift fueled.toml lifts.toml --json")
    assert (status, err) == (0, "")
    found = ran.json
    assert set(found) >= {"car", "units", "status", "cg_up", "uncertainty", "residuals"}
    assert found["status"] == "met"
    assert set(found["uncertainty"]) == {"cg_up"}
    # By hand from the level and the highest lift alone; the fit has three more readings.
    stays, level, total = 308.5 + 294, 300 + 286.5, 1059.0
    tangent = math.tan(math.asin(550 / WHEELBASE))
    by_hand = 292 + WHEELBASE * (stays - level) / (total * tangent)
    assert abs(found["cg_up"] - by_hand) < 2 * found["uncertainty"]["cg_up"]
    assert len(found["residuals"]) == 5, "level, and four lifts"
    assert max(map(abs, found["residuals"])) < 2, "readings made up to lie near a line"


def test_lift_in_us_units(run: Run, garage: Path) -> None:
    metric = run("lift fueled.toml lifts.toml --json").json
    edit(garage, "lifts.toml", "m.toml", ("level =", 'units = "metric"\nlevel ='))
    edit(
        garage,
        "us.toml",
        "same.toml",
        ("wheelbase = 92.5", f"wheelbase = {WHEELBASE / 25.4}"),
        ("track = 56\n", f"track = {1450 / 25.4}\n"),
        ("track = 56.5", f"track = {1430 / 25.4}"),
        ("minimum = 1980", "minimum = 2300"),
    )
    found = run("lift same.toml m.toml --json").json
    assert found["units"] == "us"
    assert found["cg_up"] == pytest.approx(metric["cg_up"] / 25.4, rel=2e-3), "other scales"


def test_lifts_too_small_to_mean_anything(run: Run, garage: Path) -> None:
    text = (garage / "lifts.toml").read_text(encoding="utf-8")
    head = text.partition("[[lift]]")[0]
    low = '[[lift]]\naxle = "rear"\nheight = 20\nstays = [300.5, 286.5]\n'
    (garage / "low.toml").write_text(head + low)
    ran = run("lift fueled.toml low.toml --json")
    assert ran[::2] == (1, "")
    assert ran.json["status"] == "too_unsure"
    assert ran.json["uncertainty"]["cg_up"] > 100
    status, out, _ = run("lift fueled.toml low.toml")
    assert status == 1
    assert "cg_up" not in out
    assert "These lifts say nothing" in out


# prep

EMPTY = "fueled.toml 284 258.5 212.5 225 --weighed-with none"
PREP = {
    "car", "units", "status", "as_weighed", "ballast", "added", "turns", "height_change",
    "race_trim", "on_the_pads", "on_the_pads_as_read", "rules", "limits", "other_trims",
    "added_for_rules_alone", "uncertainty",
}  # fmt: skip


def test_prep(run: Run) -> None:
    status, _, err = ran = run(f"prep {EMPTY} --cross 50 --json")
    assert (status, err) == (0, "")
    found = ran.json
    assert set(found) >= PREP
    assert (found["status"], found["limits"]) == ("met", [])
    check_trim(found["as_weighed"], [], 980)
    check_trim(found["race_trim"], ["driver", "fuel"], 980 + DRIVER + RESERVE + found["added"])
    check_trim(found["on_the_pads"], [], 980 + found["added"])
    assert found["added"] == pytest.approx(sum(put["mass"] for put in found["ballast"]))
    for put in found["ballast"]:
        assert set(put) >= {"place", "mass", "aft", "left", "up", "pieces"}
        pieces = sum(piece["mass"] * piece["count"] for piece in put["pieces"])
        assert put["mass"] == pytest.approx(pieces)
    upright = run(
        f"prep {EMPTY.replace('fueled.toml', write_upright('fueled.toml'))} --cross 50 --json"
    ).json
    for ready, leans in ((found, 2e-3), (upright, 1e-6)):
        moment = WHEELBASE * 437.5 + DRIVER * 1420 + RESERVE * 2150
        moment += sum(put["mass"] * put["aft"] for put in ready["ballast"])
        assert WHEELBASE * rear(ready["race_trim"]) == pytest.approx(moment, rel=leans)
    assert abs(found["race_trim"]["cross_pct"] - 50) <= 0.2
    assert all((turns / 0.25).is_integer() for turns in four(found["turns"]))
    assert max(map(abs, four(found["height_change"]))) <= 1.5
    for rule in found["rules"]:
        assert set(rule) == {"rule", "limit", "value", "met", "chance_pct"}
        assert rule["met"]
    least = next(rule for rule in found["rules"] if rule["rule"].startswith("minimum weight"))
    assert least["value"] == pytest.approx(found["race_trim"]["total"])
    assert least["limit"] > 1090


def test_prep_margin_by_chance(run: Run) -> None:
    """One percent is 2.326 standard deviations (any table of the normal distribution)."""
    own = run(f"weigh {EMPTY} --json").json["uncertainty"]["total"]
    margin = 2.326348 * math.hypot(own, 1090 * 0.001)
    found = run(f"prep {EMPTY} --json").json
    assert found["rules"][0]["limit"] - 1090 == pytest.approx(margin, rel=1e-5)
    text = " ".join(run(f"prep {EMPTY}").out.split())
    assert (
        f"The margin of {margin:.1f} kg keeps the chance of reading light on another scale under"
        f" 1 %: these pads know the total ± {own:.1f} kg, that scale ± 1.1 kg."
    ) in text


def test_prep_margin_as_given(run: Run) -> None:
    text = run("prep coupe.toml 302 288.5 231 244").out
    assert "The margin of 3.0 kg is the one in the car file." in text


@pytest.mark.parametrize(
    ("was", "next_", "on_board"),
    [
        ("none", "", []),
        ("driver", "", ["driver"]),
        ("driver", "--next none", []),
        ("none", "--next driver,fuel=10", ["driver", "fuel"]),
    ],
)
def test_prep_on_the_pads(was: str, next_: str, on_board: list[str], run: Run) -> None:
    line = f"prep fueled.toml 284 258.5 212.5 225 --weighed-with {was} {next_}"
    found = run(f"{line} --json").json
    there = found["on_the_pads"]
    masses = {"driver": DRIVER, "fuel": 10 * DENSITY}
    known = found["race_trim"]["total"] - DRIVER - RESERVE
    check_trim(there, on_board, known + sum(masses[name] for name in on_board))


def test_prep_that_cannot_be_met(run: Run) -> None:
    ran = run(f"prep {EMPTY} --cross 58 --front 48 --json")
    assert ran[::2] == (1, "")
    found = ran.json
    assert found["status"] == "closest"
    assert any("front share" in text for text in found["limits"])
    assert any("turns are left down" in text for text in found["limits"])
    assert not all(rule["met"] for rule in found["rules"])
    assert run(f"prep {EMPTY} --cross 58 --front 48").status == 1


def test_prep_without_rules_or_places(run: Run, garage: Path) -> None:
    text = (garage / "fueled.toml").read_text(encoding="utf-8")
    bare = re.sub(r"(?m)^(minimum|shortfall|front_pct).*\n", "", text.partition("[[place]]")[0])
    (garage / "bare.toml").write_text(bare, encoding="utf-8")
    line = f"prep {EMPTY.replace('fueled', 'bare')} --cross 50"
    status, out, err = ran = run(f"{line} --json")
    assert (status, err) == (0, "")
    assert (ran.json["ballast"], ran.json["added"], ran.json["rules"]) == ([], 0, [])
    check_trim(ran.json["race_trim"], ["driver", "fuel"], 980 + DRIVER + RESERVE)
    assert abs(ran.json["race_trim"]["cross_pct"] - 50) <= 0.2
    out = run(line).out
    assert "\nNo ballast.\n" in out
    assert "with ballast" not in out
    assert "with the ballast" not in out
    assert "Rule" not in out
    assert "margin" not in out


def test_prep_with_a_rule_and_no_place_for_it(run: Run, garage: Path) -> None:
    text = (garage / "fueled.toml").read_text(encoding="utf-8")
    (garage / "bare.toml").write_text(text.partition("[[place]]")[0], encoding="utf-8")
    ran = run(f"prep {EMPTY.replace('fueled', 'bare')} --cross 50 --json")
    assert ran[::2] == (1, "")
    assert ran.json["status"] == "closest"
    assert ran.json["ballast"] == []
    assert ran.json["limits"][0].startswith("minimum weight, margin included: 1093.4 kg asked,")


def test_prep_in_us_units(run: Run) -> None:
    found = run("prep us.toml 520 468 435 462 --weighed-with none --json").json
    assert found["units"] == "us"
    check_trim(found["as_weighed"], [], 1885)
    check_trim(found["race_trim"], ["driver"], 1885 + 170 + found["added"])
    assert found["rules"][0]["limit"] == pytest.approx(1985), "minimum and margin"
    assert max(map(abs, four(found["height_change"]))) <= 1.5 / 25.4


# totals and shares


def test_shares_that_do_not_add_up_by_a_digit_are_in_uncertainty_by_it(
    run: Run, garage: Path
) -> None:
    """53.6 and 46.3 are 99.9: the front is between 53.6 and 53.7, a rectangle (JCGM 100, 4.3.7)."""
    (garage / "shown.toml").write_text("total = 1065.5\nfront_pct = 53.6\nrear_pct = 46.3\n")
    status, _, err = ran = run("weigh fueled.toml --readings shown.toml --json")
    assert (status, err) == (0, "")
    assert ran.json["front_pct"] == pytest.approx(53.65)
    assert ran.json["uncertainty"]["front_pct"] == pytest.approx(0.05 / math.sqrt(3))
    assert ran.json["uncertainty"]["cross_pct"] > 1, "not shown, so not known"


# in the terminal


def test_a_shim_in_the_units_of_the_car(run: Run) -> None:
    """A tenth of an inch in a US car, a millimeter in a metric one; --json is always per mm."""
    for car, title, lift in (("coupe", "One mm of height", 1), ("us", "0.1 in of height", 2.54)):
        per_mm = four(run(f"check {car}.toml --json").json["cross_pct_per_mm_of_pad"])
        lines = run(f"check {car}.toml").out.split("\n")
        (at,) = [n for n, line in enumerate(lines) if line.startswith(f"{title} under")]
        shown = [float(text.replace("−", "-")) for text in lines[at + 1].split()[-4:]]
        assert shown == pytest.approx([lift * one for one in per_mm], abs=0.005)


def test_nothing_is_minus_nothing(run: Run) -> None:
    out = run(f"weigh {TYPED} --json").out
    assert "-0.0" not in out
    assert list(json.loads(out)["pad_effect"].values()) == [0, 0, 0, 0]


def renamed(folder: Path, name: str) -> None:
    """Give the car and everything in its files names that begin like this."""
    paths = [folder / f"{file}.toml" for file in ("fueled", "parts", "may", "june")]
    texts = [path.read_text(encoding="utf-8") for path in paths]
    names = dict.fromkeys(re.findall(r'(?m)^name = "(.*)"', "\n".join(texts)))
    for path, text in zip(paths, texts, strict=True):
        for number, old in enumerate(names):
            text = re.sub(f'"{old}(["=])', f'"{name}{number}\\1', text)
        path.write_text(text, encoding="utf-8")


COMMANDS = [
    "check fueled.toml",
    f"weigh {TYPED}",
    "weigh fueled.toml --readings may.toml",
    f"perches {TYPED}",
    f"ballast {TYPED}",
    f"ballast {TYPED} --front 40",
    f"trim {TYPED} --weighed-with none",
    f"stint {TYPED} --fluid FUEL",
    f"parts {TYPED} --book parts.toml",
    f"parts {TYPED} --book parts.toml --against PART",
    f"parts {TYPED} --book parts.toml --variant VARIANT",
    f"parts {TYPED} --book parts.toml --exchange PART=OTHER",
    "compare fueled.toml may.toml LONGFILE --book parts.toml --variant VARIANT",
    "lift fueled.toml lifts.toml",
    f"prep {EMPTY}",
    f"prep {EMPTY} --cross 58 --front 48",
]


@pytest.mark.parametrize("name", LONG, ids=["words", "a word", "not ASCII"])
@pytest.mark.parametrize("line", COMMANDS)
def test_long_names_fit_the_terminal(line: str, name: str, run: Run, garage: Path) -> None:
    renamed(garage, name)
    book = tomllib.loads((garage / "parts.toml").read_text(encoding="utf-8"))
    car = tomllib.loads((garage / "fueled.toml").read_text(encoding="utf-8"))
    file = f"{'y' * 60}.toml"
    (garage / file).write_text((garage / "june.toml").read_text(encoding="utf-8"))
    words = {
        "FUEL": car["on_board"][1]["name"],
        "PART=OTHER": f"{book['part'][0]['name']}={book['part'][1]['name']}",
        "PART": book["part"][0]["name"],
        "VARIANT": book["variant"][1]["name"],
        "LONGFILE": file,
    }
    status, out, err = run(*(words.get(word, word) for word in line.split()))
    assert (status in (0, 1), err) == (True, "")
    assert max(map(len, out.split("\n"))) <= 80
    assert name[:3] in out


@pytest.mark.parametrize("line", [line for line in COMMANDS if line == line.lower()])
def test_the_garage_fits_the_terminal(line: str, run: Run) -> None:
    status, out, err = run(line.replace("FUEL", "fuel"))
    assert (status in (0, 1), err) == (True, "")
    assert max(map(len, out.split("\n"))) <= 80


def test_every_example_fits_the_terminal(run: Run) -> None:
    lines = re.findall(r"\$ balancer (.*)", (GARAGE.parents[2] / "examples/README.md").read_text())
    assert len(lines) >= 7
    for line in lines:
        status, out, _ = run(line.replace("examples/", f"{GARAGE.parents[2]}/examples/"))
        assert status in (0, 1)
        assert max(map(len, out.split("\n"))) <= 80


def test_a_state_that_was_told_can_be_said_again(run: Run) -> None:
    """Race trim after the race has the reserve in the tank, not what is usually there."""
    told = run("trim fueled.toml 302 288.5 231 244 --to none --json").json
    said = told["was"]["state"]
    again = run(f"trim fueled.toml 302 288.5 231 244 --weighed-with {said} --to none --json").json
    assert "=" in said
    assert again["loads"] == pytest.approx(told["loads"])
