"""Every command on cars whose corners are more than a rate and a ratio.

The saloon (real.toml) has progressive front springs, a tender at the rear, stands on a bump stop at
RF and hangs in its droop stop at RR; the formula car (formula.toml) is in US units, on full-length
adjustable coilovers, its front bar connected.
"""

from __future__ import annotations

import io
import json
import math
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.cli.conftest import Run

pytestmark = pytest.mark.usefixtures("garage")

SALOON = "real.toml 303 297.5 236 229"
FORMULA = "formula.toml 254.5 246 305 297.5"
CORNERS = ("LF", "RF", "LR", "RR")


def feed(lines: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO(lines))


def change(name: str, old: str, new: str, garage: Path) -> None:
    text = (garage / name).read_text(encoding="utf-8")
    assert old in text
    (garage / name).write_text(text.replace(old, new, 1), encoding="utf-8")


def numbers(value: Any) -> Iterator[float]:
    """All numbers in what was printed as JSON."""
    if isinstance(value, dict | list):
        for one in value.values() if isinstance(value, dict) else value:
            yield from numbers(one)
    elif isinstance(value, int | float):
        yield value


# --- what is said of the corners ---


def test_check_says_what_each_corner_stands_on(run: Run) -> None:
    status, out, err = run(f"check {SALOON}")
    assert (status, err) == (0, "")
    lines = out.splitlines()
    rows = [line.split() for line in lines]
    assert ["droop", "left,", "mm", "62.0", "73.0", "59.5", "0.0"] in rows
    assert ["bump", "left,", "mm", "8.0", "0.0", "–", "–"] in rows
    assert "RF stands on its bump stop." in lines
    assert "LR: its tender is solid, the main spring works alone." in lines
    topped = "RR is topped out: a turn at its spring perch changes preload, not height."
    assert topped in lines
    assert next(line for line in lines if line.startswith("wheel rate")).endswith(" on stop")
    assert "Odd" not in out
    assert max(map(len, lines)) <= 80


def test_check_without_readings_says_that_the_corners_need_them(run: Run) -> None:
    status, out, err = run("check real.toml")
    assert (status, err) == (0, "")
    assert "Stops, tenders and tables are left out here: they need readings, LF RF LR RR." in out


def test_check_finds_nothing_odd_in_a_light_corner_on_its_droop_stop(
    run: Run, garage: Path
) -> None:
    change("formula.toml", "shock_travel = 1.1", "shock_travel = 0\npreload = 1.6", garage)
    status, out, err = run(f"check {FORMULA}")
    assert (status, err) == (0, "")
    assert "LF is topped out" in out
    assert "Odd" not in out


def test_where_corners_stand_is_told_to_programs_too(run: Run) -> None:
    found = run(f"check {SALOON} --json").json
    assert found["stands_on"] == {
        "LF": [],
        "RF": ["bumped"],
        "LR": ["solid"],
        "RR": ["topped_out", "solid"],
    }
    travel = found["shock_travel"]
    assert (travel["LF"], travel["RF"]) == (pytest.approx(62), pytest.approx(73))
    # By hand: 18 N/mm for 35 mm, then 55 N/mm, less 25 mm of preload.
    force = (236 - 36) * 9.80665 / 0.72
    assert travel["LR"] == pytest.approx((force - 18 * 35) / 55 + 18 * 35 / 55 + 35 - 25, abs=1e-6)
    assert travel["RR"] == pytest.approx(0, abs=0.2)


def test_a_plan_names_mounts_and_bars_and_what_a_linear_one_would_miss(run: Run) -> None:
    status, out, err = run(f"perches {SALOON} --cross 55")
    assert (status, err) == (0, "")
    turned = [line for line in out.splitlines() if "lower mount, " in line]
    assert [line[:4] for line in turned] == ["  LF", "  RF"]
    assert next(line for line in out.splitlines() if line.startswith("  LR: ")).count("perch")
    assert "RF stands on its bump stop." in out
    assert "RR would come off its droop stop after" in out
    assert "A plan that takes the corners for linear would end at" in out
    assert "In race trim, these turns made, the bars carry nothing when:" in out
    for name in ("front", "rear"):
        assert f"- left {name} link " in out
    assert max(map(len, out.splitlines())) <= 80


def test_what_turns_take_a_corner_onto_and_off(run: Run, garage: Path) -> None:
    off = run(f"perches {SALOON} --cross 51.5 --keep LF --keep RF").out
    assert "RR is topped out now; with these turns it comes off its droop stop." in off
    for line in ("mount_lead = 2\n", "mount_step = 0.5\n", "mount_travel = [-8, 8]\n"):
        change("real.toml", line, "", garage)
    change("real.toml", "shock_travel = 62", "shock_travel = 66", garage)
    # With the perches now, which close the shock: 4 mm to go at LF, 3 mm too far at RF.
    tolerance = "--cross 50.3 --height-tolerance 3"
    lower = run(f"perches {SALOON} --raise front=-8 {tolerance}").out
    assert "LF comes onto its bump stop with these turns." in lower
    higher = run(f"perches {SALOON} --raise front=6 {tolerance}").out
    assert "RF stands on its bump stop now; with these turns it comes off." in higher


def test_nothing_to_turn_says_so_of_the_bars_too(run: Run) -> None:
    status, out, err = run(f"perches {FORMULA} --cross 50")
    assert (status, err) == (0, "")
    assert "Nothing to turn: it is there already." in out
    assert "In race trim the bars carry nothing when:" in out
    assert "- left front link as long as now; each 0.1 in longer than that does " in out


# --- the tables ---


def test_a_bump_stop_by_points_is_the_same_stop(run: Run, garage: Path) -> None:
    """Rates of 30, 60 and 200 N/mm from 0, 10 and 20 mm on, as forces at 0, 10, 20 and 25 mm."""
    rates = run(f"perches {SALOON} --cross 50.3 --json").json
    points = "bump_stop_force = [[0, 0], [10, 300], [20, 900], [25, 1900]]"
    change("real.toml", "bump_stop_rate = [[0, 30], [10, 60], [20, 200]]", points, garage)
    assert run(f"perches {SALOON} --cross 50.3 --json").json == rates


def test_rates_may_be_ramps(run: Run, garage: Path) -> None:
    """By hand: 38 N/mm at 0 and 52 at 45 mm, so 44.2 at 20 mm and 822 N of force."""
    rows = "[[-60, 0.91], [0, 0.94], [60, 0.95]]"
    change("real.toml", f"motion_ratio = {rows}", "motion_ratio = 0.94", garage)
    stepped = run(f"check {SALOON} --json").json
    change("real.toml", "shock_travel = 62\n", "shock_travel = 62\nspring_ramp = true\n", garage)
    ramp = run(f"check {SALOON}").out
    assert "Spring rates go straight from row to row at LF, RF." in ramp
    found = run(f"check {SALOON} --json").json
    pressed = np.linspace(0, 80, 80001)
    first, then = np.minimum(pressed, 45), np.maximum(pressed - 45, 0)
    force = 38 * first + 14 / 45 * first**2 / 2 + 52 * then + 23 / 35 * then**2 / 2
    assert force[20000] == pytest.approx(822.2, abs=0.1)
    # At the wheel, less what it weighs itself and what the bar takes of it.
    axial = ((303 - 34) * 9.80665 - 16 * 1.5 / 0.7) / 0.94
    at = float(np.interp(axial, force, pressed))
    rate = np.interp(at, [0, 45, 80], [38, 52, 75]) * 0.94**2
    assert found["wheel_rate"]["LF"] == pytest.approx(rate, rel=1e-4)
    assert stepped["wheel_rate"]["LF"] != pytest.approx(rate, rel=2e-2)


# --- the links ---


def test_how_links_point_and_bars_are_twisted_is_said(run: Run, garage: Path) -> None:
    change("real.toml", "link_twist = 1.5", "link_misfit = 3\nlink_hangs = true", garage)
    out = " ".join(run(f"check {SALOON}").out.split())
    found = run(f"check {SALOON} --json").json["drop_links"]
    assert found["front"]["hang"]
    assert found["front"]["connected"]
    assert -3 < found["front"]["bar_twist"] < -0.5
    assert found["rear"] == {"hang": False, "connected": False, "bar_twist": None}
    by = f"{-found['front']['bar_twist']:.1f}"
    assert (
        "Front drop links hang, the bar at their lower ends: a longer left one lowers LF. Its right"
        f" end is {by} mm too high. Rear drop links stand, the bar at their upper ends: a longer"
        " left one raises LR. The bar is off on the pads." in out
    )


def test_a_link_that_hangs_is_turned_the_other_way(run: Run, garage: Path) -> None:
    """The same twist of the same bar: what a standing link is too long by, a hanging one lacks."""
    stands = run(f"perches {SALOON} --cross 50.3 --json").json["bars"]["front"]
    change("real.toml", "link_twist = 1.5", "link_twist = 1.5\nlink_hangs = true", garage)
    hangs = run(f"perches {SALOON} --cross 50.3 --json").json["bars"]["front"]
    assert hangs["cross_pct"] == stands["cross_pct"]
    for key in ("left_link_longer", "left_link_turns", "cross_pct_per_mm"):
        assert hangs[key] == pytest.approx(-stands[key], rel=1e-4)
        assert stands[key] != 0


def test_links_are_used_where_they_may_be(run: Run) -> None:
    alone = run(f"perches {FORMULA} --cross 51 --keep LR --keep RR --json").json
    linked = run(f"perches {FORMULA} --cross 51 --keep LR --keep RR --links --json").json
    assert alone["link_turns"] == {"front": 0, "rear": 0}
    used = [one["link_turns"]["front"] for one in (linked, *linked["alternatives"])]
    assert any(used)
    # The rear bar is off: its links change nothing on the pads.
    assert {one["link_turns"]["rear"] for one in (linked, *linked["alternatives"])} == {0}
    out = run(f"perches {FORMULA} --cross 51 --keep LF --keep RF --keep LR --keep RR --links").out
    assert "Turn front link, " in out
    assert "  left front link: " in out


def test_a_bar_costs_what_a_twist_of_it_does(run: Run, garage: Path) -> None:
    """One turn of the formula car's link, on the pads, against what the plan says of each mm."""
    # What is said of each mm is for race trim with all bars on: let there be but the one.
    change(
        "formula.toml",
        "anti_roll_bar = 120\nbar_connected = false\nlink_ratio = 0.6\nlink_lead = 0.042\n",
        "",
        garage,
    )
    keep = " ".join(f"--keep {corner}" for corner in CORNERS)
    for target in ("50.3", "50.6"):
        found = run(f"perches {FORMULA} --cross {target} {keep} --links --json").json
        turns = found["link_turns"]["front"]
        longer = turns * 0.042 * INCH
        moved = found["cross_pct"] - found["now"]["cross_pct"]
        assert turns < 0
        # A longer left link pushes the left front down, and takes cross weight off.
        assert moved / longer == pytest.approx(found["bars"]["front"]["cross_pct_per_mm"], rel=0.03)
        assert found["bars"]["front"]["left_link_turns"] == pytest.approx(
            found["bars"]["front"]["left_link_longer"] / 0.042
        )


# --- numbers for programs ---

COMMANDS = [
    "check",
    "weigh",
    "perches --cross 51",
    "perches --cross 51 --links",
    "perches --cross 55 --keep LF --keep RF",
    "prep --cross 50.5",
    "prep --cross 50.5 --next none",
    "trim --to none",
    "trim --to driver,fuel=2",
    "stint",
    "ballast --front 54",
    "parts --book parts.toml --variant alloy",
]


@pytest.mark.parametrize("line", COMMANDS)
@pytest.mark.parametrize("car", [SALOON, FORMULA], ids=["saloon", "formula"])
def test_every_command(line: str, car: str, run: Run, garage: Path) -> None:
    (garage / "parts.toml").write_text(
        '[[part]]\nname = "iron"\nmass = 30\naft = 20\nleft = 2\nup = 12\n'
        '[[variant]]\nname = "alloy"\noff = ["iron"]\n',
        encoding="utf-8",
    )
    command, *options = line.split()
    status, out, err = run(command, *car.split(), *options)
    assert status in (0, 1)
    assert out
    assert err == ""
    assert max(map(len, out.splitlines())) <= 80
    ran = run(command, *car.split(), *options, "--json")
    assert (ran.status, ran.err) == (status, "")
    assert "NaN" not in ran.out
    assert "Infinity" not in ran.out
    assert all(map(math.isfinite, numbers(ran.json)))
    before = sum(map(float, car.split()[1:]))
    for loads in found_loads(ran.json):
        assert 0.6 * before < sum(loads.values()) < 1.2 * before
        assert min(loads.values()) > 0


def found_loads(value: Any) -> Iterator[dict[str, float]]:
    """All sets of four loads of a whole car."""
    if isinstance(value, dict):
        for key, one in value.items():
            if key == "loads" and isinstance(one, dict) and "per_turn" not in value:
                if sum(one.values()) > 500:
                    yield one
            elif key != "per_turn":
                yield from found_loads(one)
    elif isinstance(value, list):
        for one in value:
            yield from found_loads(one)


def test_what_a_plan_tells_programs(run: Run) -> None:
    found = run(f"perches {SALOON} --cross 55 --json").json
    assert found["at"] == {"LF": "mount", "RF": "mount", "LR": "perch", "RR": "perch"}
    assert found["link_turns"] == {"front": 0, "rear": 0}
    assert found["stands_on_now"]["RR"] == ["topped_out", "solid"]
    assert set(found["stands_on"]) == set(CORNERS)
    linear = found["if_taken_for_linear"]
    assert set(linear) == {"turns", "cross_pct", "height_change"}
    assert set(found["bars"]) == {"front", "rear"}
    for one in found["alternatives"]:
        assert {"at", "link_turns", "stands_on"} <= set(one)


def test_a_linear_car_has_none_of_that(run: Run) -> None:
    found = run("perches coupe.toml 302 288.5 231 244 --json").json
    assert not {"at", "bars", "stands_on_now", "if_taken_for_linear", "link_turns"} & set(found)


# --- units ---

POUND, INCH = 0.45359237, 25.4
RATE = 9.80665 * POUND / INCH
"""One lb/in in N/mm."""
GALLON = 3.785411784

PER = {
    "length": INCH,
    "rate": RATE,
    "mass": POUND,
    "volume": GALLON,
}
"""US units in metric ones, by the definitions and not by the package."""

KINDS = {
    **dict.fromkeys(["wheelbase", "track", "cg_up", "aft", "left", "up"], "length"),
    **dict.fromkeys(["tender_travel", "preload", "shock_travel", "bump_stop"], "length"),
    **dict.fromkeys(
        ["mount_lead", "perch_lead", "link_lead", "link_misfit", "link_twist"], "length"
    ),
    **dict.fromkeys(["tire_rate", "anti_roll_bar", "tender_rate", "droop_stop_rate"], "rate"),
    **dict.fromkeys(
        ["unsprung_mass", "mass", "minimum", "margin", "most", "resolution", "repeatability"],
        "mass",
    ),
    **dict.fromkeys(["volume", "tank", "reserve"], "volume"),
}
ROWS = {
    "spring_rate": "rate",
    "bump_stop_rate": "rate",
    "bump_stop_force": "force",
    "motion_ratio": None,
}


def in_us(value: Any, key: str = "") -> Any:
    """Write a metric car file in US units."""
    if isinstance(value, dict):
        return {name: in_us(one, name) for name, one in value.items()}
    if key in ROWS:
        per = PER.get(str(ROWS[key]), 1.0)
        if isinstance(value, list):
            return [[at / INCH, one / per] for at, one in value]
        return value / per
    if key == "weighed_with":
        return ["driver", f"fuel={20 / GALLON!r}"] if value == ["driver", "fuel=20"] else value
    if isinstance(value, list) and key not in (
        "perch_travel",
        "link_travel",
        "mount_travel",
        "front_pct",
    ):
        return [in_us(one, key) for one in value]
    if key in KINDS and isinstance(value, int | float):
        return value / PER[KINDS[key]]
    return "us" if value == "metric" else value


def written(data: dict[str, Any]) -> str:
    """Write TOML: simple values first, then tables, then lists of tables."""
    lines, tables = [], []
    for key, value in data.items():
        if isinstance(value, dict):
            tables += [f"[{key}]", *(f"{name} = {json.dumps(one)}" for name, one in value.items())]
        elif isinstance(value, list) and value and isinstance(value[0], dict):
            for entry in value:
                tables += [f"[[{key}]]", *(f"{n} = {json.dumps(one)}" for n, one in entry.items())]
        else:
            lines.append(f"{key} = {json.dumps(value)}")
    return "\n".join([*lines, *tables])


@pytest.fixture
def twin(garage: Path) -> str:
    """The saloon in US units, and its readings in lb."""
    data = tomllib.loads((garage / "real.toml").read_text(encoding="utf-8"))
    (garage / "twin.toml").write_text(written(in_us(data)), encoding="utf-8")
    loads = " ".join(f"{load / POUND!r}" for load in (303, 297.5, 236, 229))
    return f"twin.toml {loads}"


LENGTHS = {
    "height_tolerance",
    "height_change",
    "height_changes",
    "shock_travel",
    "left_link_longer",
    "bar_twist",
    "level",
    "cg",
}
MASSES = {"loads", "load", "total"}
NEITHER = {"wheel_rate", "ride_rate", "units", "state", "notes", "limits", "uncertainty"}


def same(us: Any, metric: Any, per: float = 1.0) -> None:
    """Hold numbers in US units against metric ones, key by key."""
    if isinstance(metric, dict):
        assert set(us) == set(metric)
        for key, one in metric.items():
            if key not in NEITHER:
                here = INCH if key in LENGTHS else POUND if key in MASSES else per
                same(us[key], one, here)
    elif isinstance(metric, list):
        assert len(us) == len(metric)
        for left, right in zip(us, metric, strict=True):
            same(left, right, per)
    elif isinstance(metric, bool | str) or metric is None:
        assert us == metric
    else:
        assert us * per == pytest.approx(metric, rel=1e-6, abs=1e-5)


@pytest.mark.parametrize(
    "line", ["check", "perches --cross 55", "perches --cross 51 --links", "trim --to driver"]
)
def test_a_car_in_us_units_is_the_same_car(line: str, twin: str, run: Run) -> None:
    command, *options = line.split()
    metric = run(command, *SALOON.split(), *options, "--json")
    us = run(command, *twin.split(), *options, "--json")
    assert us.status == metric.status
    assert us.err == metric.err == ""
    same(us.json, metric.json)


# --- what can't be had ---


def test_a_target_out_of_reach_names_what_binds(run: Run) -> None:
    ran = run(f"perches {FORMULA} --cross 70 --keep LF --keep LR --keep RR --json")
    assert ran.status == 1
    assert ran.json["status"] == "closest"
    assert ran.json["limits"]
    assert ran.json["turns"]["LF"] == ran.json["turns"]["LR"] == ran.json["turns"]["RR"] == 0
    status, out, err = run(f"perches {SALOON} --cross 53 --keep LF --keep RF")
    assert (status, err) == (1, "")
    assert "No allowed turns reach this (proved)." in out
    assert "LF, RF may not be touched" in out
    assert "the heights would have to give" in out


def test_corners_that_are_kept_are_kept(run: Run) -> None:
    found = run(f"perches {SALOON} --cross 50.8 --keep LF --keep RR --json").json
    for one in (found, *found["alternatives"]):
        assert one["turns"]["LF"] == one["turns"]["RR"] == 0


# --- pads that are not level ---


def test_pad_heights_are_taken_off(run: Run, garage: Path) -> None:
    (garage / "shimmed.toml").write_text(
        "readings = [[303, 297.5, 236, 229]]\npad_heights = [0, 0, 0, 2]\n", encoding="utf-8"
    )
    found = run("weigh real.toml --readings shimmed.toml --json").json
    assert found["total"] == pytest.approx(1065.5)
    # 2 mm under RR loads LF and RR; taken off, the cross weight is higher than the pads say.
    per_mm = run(f"check {SALOON} --json").json["cross_pct_per_mm_of_pad"]["RR"]
    assert found["cross_pct"] - 50.0704 == pytest.approx(-2 * per_mm, abs=0.02)
    assert run("perches real.toml --readings shimmed.toml --cross 52 --json").status == 0


# --- a session, its log, and what reads it ---


def kinds(garage: Path) -> list[str]:
    log = (garage / "real.log.jsonl").read_text(encoding="utf-8")
    return [json.loads(line)["kind"] for line in log.splitlines()]


def test_a_session_weighs_turns_takes_back_and_goes_on(
    run: Run, garage: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    feed("303 297.5 236 229\nmade LF=-1 LR=0.5\n300 300.5 238.5 226.5\nundo\n", monkeypatch)
    ran = run("session real.toml --cross 51 --json")
    assert (ran.status, ran.err) == (0, "")
    _, first, made, second, undone = (json.loads(line) for line in ran.out.splitlines())
    assert first["status"] == "reached"
    assert made["made"] == {"LF": -1, "RF": 0, "LR": 0.5, "RR": 0}
    assert second["reading"] == 2
    assert undone["undone"] == "weigh_in"
    assert all(map(math.isfinite, numbers([first, second])))


def test_a_session_broken_off_is_taken_up(
    run: Run, garage: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    feed("303 297.5 236 229\nmade LF=-1 LR=0.5\n", monkeypatch)
    assert run("session real.toml --cross 51")[::2] == (0, "")
    log = garage / "real.log.jsonl"
    lines = log.read_text(encoding="utf-8").splitlines(keepends=True)
    # As if it had been killed: without its end.
    assert json.loads(lines[-1])["data"] == {"event": "end"}
    log.write_text("".join(lines[:-1]), encoding="utf-8")
    feed("300 300.5 238.5 226.5\n", monkeypatch)
    status, out, err = run("session real.toml --cross 51")
    assert status == 0
    assert err.startswith("note: going on with the session that was broken off, one weigh-in so")
    assert "\nWeigh-in 2:" in out
    assert kinds(garage).count("weigh_in") == 2


def test_the_log_of_such_a_car_serves_the_other_commands(
    run: Run, garage: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    feed("303 297.5 236 229\nmade LF=-1 LR=0.5\n300 300.5 238.5 226.5\n", monkeypatch)
    assert run("session real.toml --cross 51")[0] == 0
    assert run("log real.toml")[::2] == (0, "")
    assert run("learned real.toml")[::2] == (0, "")
    status, out, _ = run("perches real.toml --readings log --cross 51")
    assert status in (0, 1)
    assert "300.0" in out
    first, second = (n for n, kind in enumerate(kinds(garage), 1) if kind == "weigh_in")
    status, out, err = run("compare", "real.toml", f"log:{first}", f"log:{second}")
    assert (status, err) == (0, "")
    assert "−3.0" in out


def test_a_sheet_of_it(run: Run, garage: Path) -> None:
    status, _, err = run(f"sheet {SALOON} --cross 52 --output page.html")
    assert (status, err) == (0, "")
    page = (garage / "page.html").read_text(encoding="utf-8")
    assert "lower mount" in page
    assert "nan" not in page.lower().replace("finance", "")


def test_prep_says_what_the_pads_are_to_show_without_the_driver(run: Run) -> None:
    found = run(f"prep {SALOON} --cross 51 --next none --json").json
    assert {"at", "stands_on_now", "stands_on", "bars", "if_taken_for_linear"} <= set(found)
    race, pads = found["race_trim"]["total"], found["on_the_pads"]["total"]
    assert race == pytest.approx(1065.5 + found["added"])
    # Without the driver and 20 L of gasoline.
    assert pads == pytest.approx(race - 76 - 20 * 0.7475)
    assert sum(found["on_the_pads"]["loads"].values()) == pytest.approx(pads)


def test_turns_in_the_log_are_in_the_preload(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """What was turned down since the file was written is nearer to coming off the stop."""
    loads = SALOON.split(maxsplit=1)[1]
    cross = 100 * (297.5 + 236) / (303 + 297.5 + 236 + 229)
    feed(f"{loads}\nmade RR=-4\n{loads}\ndone\n", monkeypatch)
    assert run(f"session real.toml --cross {cross:.1f}").status == 0
    said = r"RR would come off its droop stop\s+after\s+([\d.]+)\s+turns"
    typed, logged = (
        re.search(said, run(f"perches real.toml {read} --cross 51").out)
        for read in (loads, "--readings log")
    )
    assert typed
    assert logged
    assert float(typed[1]) - float(logged[1]) == pytest.approx(4.0, abs=0.11)


def test_what_can_do_nothing_is_said(run: Run, garage: Path) -> None:
    change("real.toml", "link_twist = 1.5", "link_misfit = 1.5\nbar_connected = false", garage)
    assert "note: --links changes nothing" in run(f"perches {SALOON} --cross 51 --links").err
    assert "note: --links" not in run(f"perches {FORMULA} --cross 51 --links").err
    heavy = run(f"perches {SALOON} --loads 303 297.5 236 329").err
    assert "note: --loads add up to 100.0 kg more than the car" in heavy
    assert " left, and the car has " in heavy
    assert heavy.count("only mass moves that") == 2


def test_weighing_needs_no_shock(run: Run) -> None:
    """Loads that no corner could stand under are still loads."""
    light = "real.toml 30 297.5 236 229"
    status, out, err = run(f"weigh {light}")
    assert status == 0
    assert "792.5 kg" in out
    assert "note: real.toml: LF: its load is less than its wheel and bar bring" in err
    assert run(f"perches {light}").status == 2


@pytest.mark.parametrize("command", ["perches --cross 55", "prep"])
def test_what_corners_stand_on_is_said_above_the_turns_and_once(command: str, run: Run) -> None:
    name, *options = command.split()
    told = run(name, *SALOON.split(), *options).out
    cares = [line for line in told.splitlines() if line.startswith("Care: RR")]
    assert len(cares) == 1
    assert told.index(cares[0]) < told.index(" in all:")
    assert told.count(cares[0].removeprefix("Care: ")) == 1
