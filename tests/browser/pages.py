"""The sheets that the browser is shown: as shipped, after a session, and the worst there can be."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from balancer.car.statics import statics_of
from balancer.files.car_reader import read_car
from balancer.files.readings import read_readings
from balancer.files.states import race_state, state_of
from balancer.files.units import POUND
from balancer.log.entry import Entry, Kind
from balancer.log.last_session import last_session_in, with_session
from balancer.planning.ballast.goal import BallastGoal
from balancer.planning.ballast.outcome import BallastItem
from balancer.planning.perches.goal import PerchGoal
from balancer.planning.prep.preparation import prepare
from balancer.report.sheet.sheet import sheet_html
from balancer.weighing.weigh import weigh
from tests.conftest import ROOT

SCRIPT = "<script>alert(1)</script>"
MARKUP = f'{SCRIPT}<img src=x onerror="alert(2)"><b onclick=alert(3)>&amp;</b>{{{{7*7}}}}'
TURNS = (-40.75, 40.75, 199 + 23 / 24, -12 - 5 / 12)


def long_name(start: str, spaces: bool) -> str:
    """Make a name as long as a file may have."""
    filling = "wide body and tall wing " if spaces else "WMwm0123456789"
    return (start + filling * 20)[:199] + "Z"


WORST_CAR = f"""\
name = '{long_name(MARKUP, spaces=False)}'
units = "us"
wheelbase = 92.5

[front]
track = 56
spring_rate = 450
motion_ratio = 0.71
unsprung_mass = 58
perch_lead = 0.0625
perch_travel = [-200, 200]

[rear]
track = 56.5
spring_rate = 350
motion_ratio = 0.78
perch_lead = 0.0625

[class]
minimum = 8250
maximum = 8256
margin = 5
front_pct = [20.25, 30.75]
axle_minimum = [4321, 3210]
wheel_minimum = 2022
weighed_with = ["fuel=24.5"]
"""
WORST_READINGS = f"""\
date = '{long_name("2026-05-09, ", spaces=True)}'
note = '{long_name(SCRIPT, spaces=True)}'
ride_heights = [4.75, 14.81, 5.1, 5.12]
readings = [[2000, 1900, 2000, 1888.5], [2000, 1900, 2000, 1888.5], [2020, 1900, 2000, 1888.5]]
"""


def worst(folder: Path, places: int = 30, items: int = 6) -> str:
    """Write the sheet of a car with the longest names and numbers that its file allows."""
    text = WORST_CAR
    names = [long_name(f"{MARKUP}{number}", number % 2 == 1) for number in range(places)]
    for number, name in enumerate(names):
        aft, left = 4 * number % 100, 25 - 7 * number % 51
        text += f"[[place]]\nname = '{name}'\naft = [{aft}, {aft + 9}]\nleft = {left}\nmost = 99\n"
    boarded = [long_name(f"rider {number}", number % 2 == 1) for number in range(items - 1)]
    for name in boarded:
        text += f"[[on_board]]\nname = '{name}'\nmass = {900 / items:.1f}\naft = 58\nleft = 13\n"
    text += '[[on_board]]\nname = "fuel"\nvolume = 24.5\naft = 80\nleft = -12\n'
    (folder / "worst.toml").write_text(text, encoding="utf-8")
    (folder / "readings.toml").write_text(WORST_READINGS, encoding="utf-8")
    file = read_car(folder / "worst.toml")
    weighed = weigh(file.car, read_readings(folder / "readings.toml", file))
    ready = prepare(
        replace(file.car, places=()),
        weighed.loads,
        state_of(file, boarded, "").items,
        race_state(file).items,
        state_of(file, [*boarded[:1], "fuel=12.3"], "").items,
        BallastGoal.of(file.car, weighed.uncertainties.total),
        PerchGoal.level(0.6251),
    )
    put = tuple(
        BallastItem(place.name, 98.4 * POUND, sum(place.aft) / 2, place.left[0], 0.1,
            ((22.05 * POUND, 4), (2.5 * POUND, 3)))
        for place in file.car.places
    )  # fmt: skip
    ballast = replace(ready.ballast, items=put, added=sum(item.mass for item in put))
    best = ready.perches.best
    moved = np.array(TURNS)
    best = best._replace(turns=moved, perch=moved * 0.0625 * 0.0254)
    ready = replace(ready, ballast=ballast, perches=replace(ready.perches, best=best))
    return sheet_html(file, weighed, ready, None, OPENING)


OPENING = (
    "On the pads with driver, passenger, 11.9 gal of fuel, spare wheel and tools (from the readings"
    " file).",
    "Aims for 62.5 % cross weight ± 0.2 in race trim (driver, 1.1 gal of fuel, spare wheel and"
    " tools); target from the car file.",
)
"""What every sheet begins with, at some length."""


def example(folder: Path) -> str:
    """Give the sheet as it is shipped."""
    return (ROOT / "examples" / "coupe_sheet.html").read_text(encoding="utf-8")


def overfull(folder: Path) -> str:
    """Write a sheet that no single page can hold: every place and item that a file allows."""
    return worst(folder, places=200, items=100)


def session(folder: Path) -> str:
    """Write the sheet of a session that still has turns to make."""
    shutil.copy(ROOT / "examples" / "coupe.toml", folder / "coupe.toml")
    file = read_car(folder / "coupe.toml")
    at = "2026-06-13T14:30:00+02:00"
    told: list[tuple[Kind, dict[str, Any]]] = [
        ("session", {"event": "begin", "target_cross_pct": 50.0}),
        ("weigh_in", {"readings": [[302, 298.5, 251, 264]], "on_board": ["driver", "fuel=4"],
                      "ride_heights": [121, 122, 131, 130]}),
        ("made", {"turns": {"LF": -0.75, "RF": 0.75, "LR": 0.25}}),
        ("weigh_in", {"readings": [[299, 301.5, 254, 261]], "on_board": ["driver", "fuel=4"],
                      "ride_heights": [120.5, 122.5, 131.5, 130]}),
        ("plan", {"turns": {"LF": -0.5, "RR": -0.25}, "stop": ""}),
    ]  # fmt: skip
    entries = [Entry(number, at, *one) for number, one in enumerate(told, 1)]
    found = last_session_in(entries, file)
    assert found
    weighed = found.weigh_ins[-1]
    was = state_of(file, weighed.readings.on_board or (), "").items
    goals = BallastGoal.of(file.car, weighed.uncertainties.total), PerchGoal.level(0.5)
    ready = prepare(file.car, weighed.loads, was, race_state(file).items, was, *goals)
    ready = with_session(ready, file.car, found, 0.002, weighed.repeatable.cross)
    return sheet_html(file, weighed, ready, found, OPENING)


def corners(folder: Path) -> str:
    """Write the sheet of a car whose corners are not linear, with bars, from uneven pads."""
    shutil.copy(ROOT / "tests" / "cli" / "garage" / "real.toml", folder / "real.toml")
    read = "pad_heights = [3, 0, 1.5, 0]\nreadings = [[303, 297.5, 236, 229]]\n"
    (folder / "uneven.toml").write_text(read, encoding="utf-8")
    file = read_car(folder / "real.toml")
    weighed = weigh(file.car, read_readings(folder / "uneven.toml", file))
    file = file._replace(car=statics_of(file.car, weighed.loads + weighed.pad_effect).anchored())
    was = race_state(file).items
    goals = BallastGoal.of(file.car, weighed.uncertainties.total), PerchGoal.level(0.52)
    ready = prepare(file.car, weighed.loads, was, was, was[:1], *goals)
    page = sheet_html(file, weighed, ready, None, OPENING)
    assert "bars carry nothing" in page
    assert 'id="stands"' in page
    return page


SHEETS = {
    "corners": corners,
    "session": session,
    "example": example,
    "worst": worst,
    "overfull": overfull,
}
