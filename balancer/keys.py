"""Every key of the car file and of the readings file: kind, range, meaning.

The tables below are the one description of the files. From them come the validation (by pydantic's
own validator, built directly so that `balancer weigh` need not wait for the rest of pydantic), the
JSON Schema, and the words of every fault. Ranges are in SI and as wide as anything on four wheels
that goes on scales; what lies outside is a slip of the keyboard or of the units.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from math import inf
from typing import Any, NamedTuple

from pydantic_core import PydanticCustomError

from balancer.units import Dimension, Units, other

Schema = dict[str, Any]


class Field(NamedTuple):
    """One key: its validation schema, what it means, and whether it must be there."""

    schema: Schema
    meaning: str
    required: bool = False


def _fault(found: str, way_out: str) -> PydanticCustomError:
    return PydanticCustomError("fault", "{found}", {"found": found, "way_out": way_out})


def _after(check: Callable[[Any, Any], Any], schema: Schema) -> Schema:
    return {
        "type": "function-after",
        "function": {"type": "with-info", "function": check},
        "schema": schema,
    }


_NUMBER: Schema = {"type": "float", "strict": True, "allow_inf_nan": False}


def quantity(dimension: Dimension, low: float, high: float) -> Schema:
    """Describe a number of a dimension between two SI values.

    The range is checked in the units of the file (`info.context`); a value that would fit in the
    other system of units is said to look like that.

    >>> quantity("length", 0, 1)["schema"]["type"]
    'float'
    """

    def check(value: float, info: Any) -> float:
        units: Units | None = info.context
        if units is None or low <= units.to_si(value, dimension) <= high:
            return value
        label = units.labels[dimension]
        foreign = other(units)
        bounds = [units.from_si(bound, dimension) for bound in (low, high)]
        if value < 0 <= low:
            raise _fault(f"{value:g} is negative", "leave out the minus sign")
        if value == 0 < low:
            raise _fault("is zero", "give its true value, or leave the key out if it may be")
        if dimension != "number" and low <= foreign.to_si(value, dimension) <= high:
            fits = f"{value:g} {foreign.labels[dimension]}"
            raise _fault(
                f"{value:g} {label} is out of reason but {fits} is not",
                f'the file says units = "{units.name}": convert the value or change the units',
            )
        raise _fault(
            f"{value:g}{label and ' '}{label} is out of reason",
            f"expected {_round(bounds[0])} to {_round(bounds[1])}{label and ' '}{label}",
        )

    return _after(check, _NUMBER)


def _round(value: float) -> str:
    return f"{value:.3g}" if abs(value) < 1000 else f"{value:,.0f}"


def _motion_ratio(value: float, info: Any) -> float:
    if value > 1.3:
        raise _fault(
            f"{value:g} looks like wheel travel / spring travel",
            f"here it is spring travel / wheel travel: write {1 / value:.3g}",
        )
    if not value >= 0.1:
        raise _fault(f"{value:g} is out of reason", "spring travel / wheel travel, 0.1 to 1.3")
    return value


def _travel(value: list[float], info: Any) -> list[float]:
    down, up = value
    if down > up:
        raise _fault(f"{down:g} is above {up:g}", "give turns left down (≤ 0), then up (≥ 0)")
    if not down <= 0 <= up:
        raise _fault(
            f"[{down:g}, {up:g}] leaves out where the perch stands now",
            "count from there: turns left down (≤ 0), then up (≥ 0)",
        )
    return value


def _step(value: float | str, info: Any) -> float:
    if isinstance(value, str):
        top, slash, bottom = value.partition("/")
        if not (slash and top.strip().isdigit() and bottom.strip().isdigit() and int(bottom)):
            raise _fault(f"“{value}” is not a fraction of a turn", 'write 0.25 or "1/6"')
        value = int(top) / int(bottom)
    if not 0.01 <= value <= 4:
        raise _fault(f"{value:g} turns is out of reason", "expected 0.01 to 4 turns")
    return value


def _ordered(value: list[float], info: Any) -> list[float]:
    if value[0] > value[1]:
        raise _fault(f"{value[0]:g} is above {value[1]:g}", "give the lowest first")
    return value


def _list(item: Schema, least: int, most: int | None = None) -> Schema:
    return {"type": "list", "items_schema": item, "min_length": least, "max_length": most or least}


def _either(single: Schema, several: Schema) -> Schema:
    """Take a number or a list, so that a fault speaks of the one that was meant."""
    return {
        "type": "tagged-union",
        "discriminator": lambda value: "several" if isinstance(value, list) else "single",
        "choices": {"single": single, "several": several},
    }


def _plain(schema: Schema) -> Schema:
    return {**schema, "strict": True}


def table(fields: Mapping[str, Field]) -> Schema:
    """Describe a table whose keys are these and no others.

    >>> table({"up": Field(quantity("length", 0, 1), "height")})["extra_behavior"]
    'forbid'
    """
    return {
        "type": "typed-dict",
        "extra_behavior": "forbid",
        "fields": {
            name: {
                "type": "typed-dict-field",
                "schema": field.schema,
                "required": field.required,
                "metadata": {"pydantic_js_updates": {"description": field.meaning}},
            }
            for name, field in fields.items()
        },
    }


_TEXT = _plain({"type": "str", "max_length": 200})
_NAME = _plain({"type": "str", "min_length": 1, "max_length": 200})
_COUNT = _plain({"type": "int", "ge": 0, "le": 1000})
_SHARE = quantity("number", 1, 99)
_AFT = quantity("length", -3, 8)
_LEFT = quantity("length", -2, 2)
_UP = quantity("length", 0, 2.5)
_MASS = quantity("mass", 0.01, 3000)
_LIMIT = quantity("mass", 0, 5000)

CORNER_FIELDS = {
    "spring_rate": Field(quantity("rate", 1e3, 2e6), "spring rate"),
    "motion_ratio": Field(_after(_motion_ratio, _NUMBER), "spring travel / wheel travel"),
    "tire_rate": Field(quantity("rate", 3e4, 5e6), "vertical tire rate; left out: rigid"),
    "unsprung_mass": Field(quantity("mass", 0, 250), "of this corner"),
    "perch_lead": Field(
        quantity("length", 1e-4, 8e-3), "perch travel in one turn; left out: no threaded perch"
    ),
    "perch_step": Field(
        _after(_step, {"type": "union", "mode": "left_to_right", "choices": [_NUMBER, _TEXT]}),
        'smallest move in turns, 0.25 or "1/6"; left out: 0.25',
    ),
    "perch_travel": Field(
        _after(_travel, _list(quantity("number", -200, 200), 2)),
        "turns left, down (≤ 0) and up (≥ 0), from where it stands now",
    ),
}
AXLE_FIELDS = {
    "track": Field(quantity("length", 0.5, 2.6), "contact patch to contact patch", True),
    **CORNER_FIELDS,
    "anti_roll_bar": Field(
        quantity("rate", 0, 1e6), "at the wheel, one wheel against the other; 0: disconnected"
    ),
}
BODY_FIELDS = {
    "cg_up": Field(quantity("length", 0.1, 1.5), "height of the center of gravity"),
    "torsional_stiffness": Field(
        quantity("torsion", 500, 1e8), "of the chassis between the axles; left out: rigid"
    ),
}
SCALES_FIELDS = {
    "accuracy_pct": Field(
        quantity("number", 0, 10), "of reading, standard uncertainty, each pad on its own"
    ),
    "common_accuracy_pct": Field(
        quantity("number", 0, 10), "of reading, standard uncertainty, the part all pads share"
    ),
    "resolution": Field(quantity("mass", 0, 50), "smallest step of the display"),
    "repeatability": Field(quantity("mass", 0, 100), "scatter of one reading, standard deviation"),
}
ITEM_FIELDS = {
    "name": Field(_NAME, "what it is", True),
    "mass": Field(_MASS, "mass", True),
    "aft": Field(_AFT, "behind the front axle", True),
    "left": Field(_LEFT, "left of the centerline", True),
    "up": Field(_UP, "above the ground"),
}
CLASS_FIELDS = {
    "minimum": Field(_LIMIT, "least mass in race trim"),
    "margin": Field(_LIMIT, "how far above the minimum to be"),
    "weighed_with": Field(_list(_NAME, 0, 100), "names of what is on board in race trim"),
    "front_pct": Field(
        _either(_SHARE, _after(_ordered, _list(_SHARE, 2))), "front share, one number or a band"
    ),
    "axle_minimum": Field(_list(_LIMIT, 2), "least on the front and on the rear axle"),
    "wheel_minimum": Field(_LIMIT, "least on any wheel"),
    "most_ballast": Field(_LIMIT, "most ballast in all"),
}
PLACE_FIELDS = {
    "name": Field(_NAME, "what the place is called", True),
    "aft": Field(
        _either(_AFT, _after(_ordered, _list(_AFT, 2))),
        "behind the front axle: point or range",
        True,
    ),
    "left": Field(
        _either(_LEFT, _after(_ordered, _list(_LEFT, 2))),
        "left of the centerline: point or range",
        True,
    ),
    "up": Field(_UP, "height of the ballast"),
    "most": Field(_LIMIT, "most mass here"),
    "most_pieces": Field(_COUNT, "most pieces here"),
}
PIECE_FIELDS = {
    "mass": Field(_MASS, "of one piece, with its plate or box", True),
    "stock": Field(_COUNT, "how many there are; left out: plenty"),
}
CAR_FIELDS = {
    "name": Field(_NAME, "what the car is called", True),
    "units": Field(
        {"type": "literal", "expected": ["metric", "us"]},
        "metric: kg, mm, N/mm, N·m/deg; us: lb, in, lb/in, lb·ft/deg",
        True,
    ),
    "wheelbase": Field(quantity("length", 1.0, 5.0), "front axle to rear axle", True),
    "front": Field(table(AXLE_FIELDS), "the front axle, both corners", True),
    "rear": Field(table(AXLE_FIELDS), "the rear axle, both corners", True),
    "LF": Field(table(CORNER_FIELDS), "what differs at the left front"),
    "RF": Field(table(CORNER_FIELDS), "what differs at the right front"),
    "LR": Field(table(CORNER_FIELDS), "what differs at the left rear"),
    "RR": Field(table(CORNER_FIELDS), "what differs at the right rear"),
    "body": Field(table(BODY_FIELDS), "the body"),
    "scales": Field(table(SCALES_FIELDS), "what is known of the pads"),
    "on_board": Field(_list(table(ITEM_FIELDS), 0, 200), "what comes and goes"),
    "class": Field(table(CLASS_FIELDS), "the rules the car must meet, in race trim"),
    "place": Field(_list(table(PLACE_FIELDS), 0, 200), "where ballast may go"),
    "piece": Field(_list(table(PIECE_FIELDS), 0, 50), "what ballast there is; none: any mass"),
}
CAR_SCHEMA = table(CAR_FIELDS)

_FOUR_LOADS = _list(quantity("load", -inf, inf), 4)
_FOUR_LENGTHS = _list(quantity("length", -0.5, 2), 4)

READINGS_FIELDS = {
    "readings": Field(
        _list(_FOUR_LOADS, 1, 100), "one list [LF, RF, LR, RR] each time the pads were read", True
    ),
    "units": Field(
        {"type": "literal", "expected": ["metric", "us"]}, "left out: those of the car file"
    ),
    "tare": Field(_FOUR_LOADS, "what each pad shows with the car off; taken off each reading"),
    "pad_heights": Field(_FOUR_LENGTHS, "height of each pad above the lowest"),
    "ride_heights": Field(_FOUR_LENGTHS, "body above the pad at each wheel station"),
    "order_checked": Field(
        _plain({"type": "bool"}), "true: left and right are as they should be, though it looks odd"
    ),
    "on_board": Field(_list(_NAME, 0, 100), "names of what was on board"),
    "date": Field({"type": "any"}, "when"),
    "note": Field(_TEXT, "anything to remember"),
}
READINGS_SCHEMA = table(READINGS_FIELDS)
