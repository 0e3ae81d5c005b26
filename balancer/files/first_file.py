"""The short car file: what a plan of turns needs and no more, filled in as somebody says it."""

import json
import re
from collections.abc import Mapping
from typing import NamedTuple

from balancer.car.errors import Fault, spelled
from balancer.files.format.keys import CAR_SCHEMA, UNSAID
from balancer.files.format.quoted import in_numbers
from balancer.files.format.toml_text import TomlFile
from balancer.files.format.validation import validate
from balancer.files.units import METRIC, Dimension, Units


class Asked(NamedTuple):
    """A number that a plan needs.

    Attributes:
        key: Its key, behind that of its axle.
        label: What it is.
        where: Where a person finds it.
        usual: Of a small track car, in metric and in US units.
    """

    key: str
    label: str
    where: str
    dimension: Dimension
    usual: tuple[float, float]


ASKED = (
    Asked("wheelbase", "wheelbase", "axle to axle, along the floor", "length", (2400, 94.5)),
    Asked("front.track", "track, front", "middle to middle of the tires", "length", (1450, 57)),
    Asked("rear.track", "track, rear", "middle to middle of the tires", "length", (1450, 57)),
    Asked(
        "front.spring_rate", "spring rate, front",
        "printed on the spring or in its maker's list; else press it on a scale", "rate", (70, 400),
    ),
    Asked("rear.spring_rate", "spring rate, rear", "as for the front", "rate", (70, 400)),
    Asked(
        "front.motion_ratio", "motion ratio, front",
        "spring travel / wheel travel: on stands, raise the hub 50 mm, see what the spring gives",
        "number", (0.7, 0.7),
    ),
    Asked("rear.motion_ratio", "motion ratio, rear", "as for the front", "number", (0.7, 0.7)),
    Asked(
        "front.perch_lead", "perch travel in one turn, front",
        "pitch of the thread: measure ten threads, divide by ten", "length", (1.5, 0.06),
    ),
    Asked(
        "rear.perch_lead", "perch travel in one turn, rear", "as for the front",
        "length", (1.5, 0.06),
    ),
)  # fmt: skip
"""With the name, the keys of a plan."""

_WAITS = """\
# What may wait, and what it brings; `balancer init --all` writes all of it, commented:
#   perch_travel   turns left down and up, so that no plan asks for more
#   perch_count    "6 flats", "8 clicks" or "mm", for who counts those and not turns
#   tire_rate      turns that are right by some more percent
#   [target]       with a line cross_pct = 51: where it is to be another than 50 %
#   [[on_board]]   driver, fuel, spares: plans for race trim, whoever sits in the car
#   [class]        minimum weight and bands: ballast, and the check before an event
#   [scales]       what the pads are good for: how sure each number is
#   [body]         cg_up, so that a car that leans is reckoned leaning
"""


def usual(asked: Asked, units: Units) -> float:
    """Give the number of a small track car, in the units of the file."""
    return asked.usual[0 if units is METRIC else 1]


def out_of_reason(asked: Asked, text: str, units: Units) -> Fault | None:
    """Give what is wrong with a number by the range that the file holds it to.

    Examples:
        >>> print(out_of_reason(ASKED[5], "1.47", METRIC))
        front.motion_ratio: 1.47 looks like wheel travel / spring travel: here it is spring travel \
/ wheel travel, write 0.68
    """
    table, _, key = asked.key.rpartition(".")
    file = TomlFile("", {table: {key: text}} if table else {key: text}, "")
    faults = validate(in_numbers(file, units), CAR_SCHEMA, units)[1]
    found = [fault for fault in faults if fault.where.endswith(asked.key)]
    return found[0]._replace(where=asked.key) if found else None


def first_file(units: Units, said: Mapping[str, str], file: str = "car.toml") -> str:
    """Give the text of a short car file.

    Args:
        said: By key, `name` among them, numbers as somebody said them; what is left out is that
            of a small track car and marked as such.
        file: What it will be called.

    Examples:
        >>> text = first_file(METRIC, {"name": "blue one", "wheelbase": "2405"})
        >>> [line for line in text.splitlines() if line.startswith(("name", "wheelbase"))]
        ['name = "blue one"', 'wheelbase = 2405  # axle to axle, along the floor']
    """
    head = f"# A car: all that a plan of turns needs. Then: balancer check {spelled(file)}"
    name = json.dumps(said.get("name", "my car"), ensure_ascii=False)
    lines = [head, "", f"name = {name}", f'units = "{units.name}"']
    for table in ("", "front", "rear"):
        lines += ["", f"[{table}]"] if table else []
        own = [asked for asked in ASKED if asked.key.rpartition(".")[0] == table]
        lines += [f"{each.key.rpartition('.')[2]} = {_value(each, said, units)}" for each in own]
    return "\n".join([*lines, "", _WAITS])


def left_alone(text: str, units: Units) -> list[str]:
    """Name the keys of a car file whose number is still the marked one.

    Examples:
        >>> left_alone(first_file(METRIC, {"wheelbase": "2405"}), METRIC)
        ['track', 'spring_rate', 'motion_ratio', 'perch_lead']
    """
    found = {
        key: re.search(rf"(?m)^{key} = {re.escape(f'{usual(asked, units):g}')}  {UNSAID}", text)
        for asked in ASKED
        if (key := asked.key.rpartition(".")[2])
    }
    return [key for key, there in found.items() if there]


def _value(asked: Asked, said: Mapping[str, str], units: Units) -> str:
    if asked.key in said:
        return f"{_number(said[asked.key])}  # {asked.where}"
    return f"{usual(asked, units):g}  {UNSAID}: {asked.where}"


def _number(text: str) -> str:
    """Write a number as it was said: in quotes where it has a fraction or a unit."""
    try:
        float(text)
    except ValueError:
        return json.dumps(text, ensure_ascii=False)
    return text
