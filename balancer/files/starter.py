"""The commented car file that a person starts from."""

from collections.abc import Callable
from functools import partial
from pathlib import Path

from balancer.car.errors import InputError, spelled
from balancer.files.units import METRIC, Units
from balancer.files.writing import create_file

_TEMPLATE = """\
# A car for balancer. Change every number to your car's; what you don't know of the optional
# parts, leave out. Then: balancer check {file}

name = "my car"
units = "{units}"            # {legend}
wheelbase = {wheelbase}

# Both corners of an axle. [LF] [RF] [LR] [RR] tables override any of it for one corner.
[front]
track = {track}                # contact patch to contact patch
spring_rate = {spring}
motion_ratio = 0.70         # spring travel / wheel travel: at most 1 on nearly every car
tire_rate = {tire}             # leave out for a rigid tire
unsprung_mass = {unsprung}          # wheel, tire, hub and half of the links, each corner
anti_roll_bar = 0           # at the wheel, one wheel against the other; 0: disconnected
perch_lead = {lead}           # perch travel in one turn: the pitch of the thread
perch_step = 0.25           # smallest turn you make; "1/6" works too
perch_travel = [-6, 8]      # turns left, down and up, from where the perch stands now
# perch_count = "6 flats"   # what you count instead of turns, here too; or "8 clicks", "mm"

[rear]
track = {track}
spring_rate = {spring}
motion_ratio = 0.70
tire_rate = {tire}
unsprung_mass = {unsprung}
anti_roll_bar = 0
perch_lead = {lead}
perch_step = 0.25
perch_travel = [-6, 8]

[body]                      # optional
cg_up = {cg_up}                 # height of the center of gravity
# torsional_stiffness = {torsion}  # of the chassis; left out: rigid

[scales]                    # optional: what you know of the pads
accuracy_pct = 0.1          # of reading, standard uncertainty
resolution = {resolution}            # smallest step of the display
repeatability = {resolution}         # scatter when the car is rolled off and on again
# level = {level}                 # how level each pad stands to the others; left out: {level}

[[on_board]]                # what comes and goes: driver, fuel, spares
name = "driver"
mass = {driver}
aft = {seat_aft}                  # behind the front axle
left = {seat_left}                  # left of the centerline; minus: right
up = {seat_up}

[target]                    # optional: what the perches are to reach, in race trim
cross_pct = 50              # (RF + LR) / total; or instead: equal = "front"
tolerance = 0.2             # points of it
height_tolerance = {give}      # of the ride heights

[class]                     # optional: the rules, in race trim
minimum = {minimum}
weighed_with = ["driver"]
margin = {margin}
front_pct = [48, 52]        # a band, or one number; left_pct and cross_pct too

[[place]]                   # where ballast may go: a point, or ranges
name = "passenger floor"
aft = {floor_aft}
left = {floor_left}
up = {floor_up}
most = {most}

# [[piece]]                 # what ballast there is; none: any mass
# mass = {piece}
# stock = 4
"""

_METRIC = {
    "legend": 'kg, mm, N/mm, N·m/deg; or "us": lb, in, lb/in, lb·ft/deg',
    "wheelbase": 2400, "track": 1450, "spring": 70, "tire": 210, "unsprung": 30, "lead": 1.5,
    "cg_up": 470, "torsion": 4500, "level": 1, "resolution": 0.5, "driver": 80, "give": 1.5,
    "seat_aft": 1400, "seat_left": 340, "seat_up": 400, "minimum": 1000, "margin": 3,
    "floor_aft": [1100, 1500], "floor_left": [-500, -200], "floor_up": 150, "most": 40, "piece": 10,
}  # fmt: skip
_US = {
    "legend": 'lb, in, lb/in, lb·ft/deg; or "metric": kg, mm, N/mm, N·m/deg',
    "wheelbase": 94.5, "track": 57, "spring": 400, "tire": 1200, "unsprung": 66, "lead": 0.06,
    "cg_up": 18.5, "torsion": 3300, "level": 0.04, "resolution": 1, "driver": 176, "give": 0.06,
    "seat_aft": 55, "seat_left": 13.5, "seat_up": 16, "minimum": 2200, "margin": 7,
    "floor_aft": [43, 59], "floor_left": [-20, -8], "floor_up": 6, "most": 90, "piece": 20,
}  # fmt: skip


def starter(units: Units, file: str = "car.toml") -> str:
    """Give the text of a commented car file.

    Args:
        file: What it will be called.

    Returns:
        TOML that `read_car` takes as it stands.

    References:
        The values are invented, of the size common in small track cars.

    Examples:
        >>> from balancer.files.units import US
        >>> [line for line in starter(US).splitlines() if line.startswith("wheelbase")]
        ['wheelbase = 94.5']
    """
    values = _METRIC if units is METRIC else _US
    return _TEMPLATE.format(file=spelled(file), units=units.name, **values)


def write_starter(path: str | Path, units: Units) -> Path:
    """Write a commented car file, never over one that is there.

    Raises:
        InputError: When something of that name exists, or it can't be written.
    """
    return new_car_file(path, partial(starter, units))


def new_car_file(path: str | Path, text_for: Callable[[str], str]) -> Path:
    """Write a car file, never over one that is there.

    Args:
        text_for: Gives its text by the name that it will have.

    Raises:
        InputError: When something of that name exists, or it can't be written.
    """
    if not str(path):
        raise InputError.one("FILE", "is empty", "give a name, such as car.toml")
    path = Path(path)
    text = text_for(path.name)
    create_file(str(path), lambda file: file.write(text))
    return path
