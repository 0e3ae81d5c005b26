"""What a car file leaves out that some commands can do without: springs, and perches to turn."""

from collections.abc import Iterator
from typing import Any

from balancer.car.conventions import CORNERS
from balancer.errors import Fault
from balancer.files.car_file import Missing
from balancer.files.checks.sound import AXLES, corner_value, is_unsprung
from balancer.files.format.toml_text import TomlFile

_RATES = {
    "spring_rate": "the rate of both springs; of a kart, which has none, tire_rate instead",
    "motion_ratio": "spring travel / wheel travel",
}
_LEAD = "the perch travel in one turn"
_LEADS = ("perch_lead", "mount_lead", "link_lead")


def missing_in(file: TomlFile) -> Missing:
    """Find what a sound car file leaves out of springs and perches.

    Examples:
        >>> data = {"front": {"track": 1450}, "rear": {"track": 1440}}
        >>> print(missing_in(TomlFile("a.toml", data, "")).perches[1])
        a.toml: rear.perch_lead: is missing: add the perch travel in one turn
    """
    springs = tuple(_keys(file, _RATES)) if has_no_springs(file.data) else ()
    turned = any(corner_value(file.data, corner, key)[0] for corner in CORNERS for key in _LEADS)
    return Missing(springs, () if turned else tuple(_keys(file, {"perch_lead": _LEAD})))


def _keys(file: TomlFile, meanings: dict[str, str]) -> Iterator[Fault]:
    for axle in AXLES:
        for key, meaning in meanings.items():
            yield Fault(file.place((axle, key)), "is missing", f"add {meaning}")


def has_no_springs(data: dict[str, Any]) -> bool:
    """Say whether a car file says nothing of what gives way: no spring, no tire, no chassis.

    Examples:
        >>> has_no_springs({"front": {"track": 1.4}, "rear": {"track": 1.4, "tire_rate": 90}})
        False
    """
    given = [corner_value(data, corner, "tire_rate")[0] for corner in CORNERS]
    body = data.get("body")
    stiff = isinstance(body, dict) and "torsional_stiffness" in body
    return not stiff and given == [None] * 4 and all(is_unsprung(data, axle) for axle in AXLES)
