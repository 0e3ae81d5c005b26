"""Every key of the files beside a car file, as `keys` has those of the car file."""

from math import inf

from balancer.car.conventions import GRAVITY
from balancer.files.format.keys import AFT, LEFT, LIMIT, MASS, NAMES, UP, length, load, mass, number
from balancer.files.format.value_types import (
    AXLE,
    DATE,
    FLAG,
    FOUR_LOADS,
    NAME,
    REPEATS,
    SHARE,
    TEXT,
    UNITS,
    Field,
    several,
    table,
)

_PAD_HEIGHTS = several(length(-0.1, 0.1), 4)
_UNITS = {"units": Field(UNITS, "left out: those of the car file")}
_ABOARD = Field(NAMES, "names of what was on board")

READINGS_FIELDS = {
    "readings": Field(REPEATS, "one list [LF, RF, LR, RR] each time the pads were read"),
    "total": Field(
        load(0.01 * GRAVITY, 3000 * GRAVITY), "instead of readings: the total that a display showed"
    ),
    "front_pct": Field(SHARE, "with total: the front share that a display showed"),
    "rear_pct": Field(SHARE, "with total: the rear share, if it showed that too"),
    "left_pct": Field(SHARE, "with total: the left share; left out: even, and not known"),
    "cross_pct": Field(SHARE, "with total: the cross weight; left out: even, and not known"),
    "digit": Field(number(0.001, 5), "last digit of the shares, cut off or rounded; left out: 0.1"),
    **_UNITS,
    "tare": Field(FOUR_LOADS, "what each pad shows with the car off; taken off each reading"),
    "pad_heights": Field(_PAD_HEIGHTS, "height of each pad above the lowest"),
    "ride_heights": Field(
        several(length(0.01, 1.5), 4), "body above the pad at each wheel station"
    ),
    "order_checked": Field(FLAG, "true: left and right are as they should be, though it looks odd"),
    "on_board": _ABOARD,
    "date": Field(DATE, "when"),
    "note": Field(TEXT, "anything to remember"),
}
READINGS_SCHEMA = table(READINGS_FIELDS)

PART_FIELDS = {
    "name": Field(NAME, "what the part is called", True),
    "mass": Field(MASS, "mass; or give pads, or of"),
    "of": Field(
        several(NAME, 1, 50),
        'instead: the sum of parts above it, "engine", "half of seat", "0.25 harness", "-starter"',
    ),
    "pads": Field(several(mass(0, inf), 1, 4), "what each pad showed with the part on them"),
    "tare": Field(several(mass(-inf, inf), 1, 4), "what each shows without the part"),
    "less": Field(LIMIT, "stood on the pads with it, does not go into the car"),
    "plus": Field(LIMIT, "did not stand on the pads, goes into the car with it"),
    "uncertainty": Field(mass(0, 100), "of its mass, standard uncertainty"),
    "aft": Field(length(-10, 20), "behind the front axle; of a sum left out: its center"),
    "left": Field(length(-10, 10), "left of the centerline; of a sum left out: its center"),
    "up": Field(UP, "above the ground"),
    "date": Field(DATE, "when it was weighed"),
    "note": Field(TEXT, "anything to remember"),
}
MOVE_FIELDS = {
    "part": Field(NAME, "which part", True),
    "aft": Field(AFT, "to where, behind the front axle"),
    "left": Field(LEFT, "to where, left of the centerline"),
    "up": Field(UP, "to where, above the ground"),
}
VARIANT_FIELDS = {
    "name": Field(NAME, "what the variant is called", True),
    "off": Field(NAMES, "parts taken off"),
    "on": Field(NAMES, "parts put on"),
    "move": Field(several(table(MOVE_FIELDS), 0, 100), "parts moved"),
}
PARTS_FIELDS = {
    **_UNITS,
    "part": Field(several(table(PART_FIELDS), 0, 500), "the parts"),
    "variant": Field(several(table(VARIANT_FIELDS), 0, 100), "sets of changes to the car"),
}
PARTS_SCHEMA = table(PARTS_FIELDS)

LIFT_FIELDS = {
    "axle": Field(AXLE, "which axle was lifted", True),
    "height": Field(length(0.01, 3), "how far its wheel centers went up", True),
    "stays": Field(several(load(0, inf), 2), "left and right pad of the axle that stayed", True),
}
LIFTS_FIELDS = {
    **_UNITS,
    "on_board": _ABOARD,
    "level": Field(FOUR_LOADS, "LF RF LR RR with the car level", True),
    "tire_radius": Field(
        several(length(0.1, 0.6), 2), "loaded radius of front and rear tires", True
    ),
    "blocked": Field(FLAG, "true: the suspension was blocked while the axle was up", True),
    "lift": Field(several(table(LIFT_FIELDS), 1, 100), "each lift, up and on the way down", True),
}
LIFTS_SCHEMA = table(LIFTS_FIELDS)

PAD_FIELDS = {
    "name": Field(NAME, "what the pad is called", True),
    "thickness": Field(length(0.001, 0.5), "of the pad under the wheel", True),
}
WEIGHING_FIELDS = {
    "pads": Field(several(NAME, 4), "which pad was under LF RF LR RR", True),
    "readings": Field(REPEATS, "one list [LF, RF, LR, RR] each time the pads were read", True),
    "turned": Field(FLAG, "true: the car stood turned round, LF where RR stood"),
    "pad_heights": Field(
        _PAD_HEIGHTS, "height of what was under LF RF LR RR above the lowest; left out: not known"
    ),
}
PADS_FIELDS = {
    **_UNITS,
    "on_board": _ABOARD,
    "pad": Field(several(table(PAD_FIELDS), 4), "each pad measured; left out: not known"),
    "weighing": Field(
        several(table(WEIGHING_FIELDS), 1, 100), "each weighing, the pads moved between", True
    ),
}
PADS_SCHEMA = table(PADS_FIELDS)
