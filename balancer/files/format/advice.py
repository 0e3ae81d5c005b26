"""What a text that is no number of a file says all the same: for advice that keeps its value.

Advice is obeyed by people in a hurry: a number in it is worth what was written, in the units of the
file, or there is none.
"""

from fractions import Fraction
from functools import cache

from balancer.files.format.measured import measured
from balancer.files.format.schema_paths import named, nested
from balancer.files.format.value_types import Schema
from balancer.files.format.written import Said, digits, read_number
from balancer.files.units import Dimension, Units


def advised(text: str, key: str, units: Units | None) -> str | None:
    """Give the number to write for a key in the place of a text, worth the same.

    Args:
        key: The last part of its name, which says what it is measured in.
        units: Of the file; None where they are not known.

    Returns:
        As many digits as it takes, or six; None where its value is not certain.

    Examples:
        >>> from balancer.files.units import METRIC, US
        >>> advised("101 1/4", "wheelbase", US), advised("2mm", "wheelbase", US)
        ('101.25', '0.0787402')
        >>> advised("8kg/mm", "spring_rate", METRIC), advised("8 stone", "mass", METRIC)
        ('78.4532', '50.80234544')
    """
    value = advised_value(text, key, units)
    return None if value is None else digits(value)


def advised_value(text: str, key: str, units: Units | None) -> Fraction | None:
    """Give the same exactly; see `advised`."""
    said = read_number(text)
    if said is None:
        return None
    return _in_units(said, text, key, units) if said.unit else said.value


def _in_units(said: Said, text: str, key: str, units: Units | None) -> Fraction | None:
    unit, dimension = said.unit.lower().rstrip("."), dimension_of(key)
    if unit in ("%", "percent") and key.endswith("_pct"):
        return said.value
    if units is None or dimension is None:
        return None
    return measured(text, dimension, units)


@cache
def dimension_of(key: str) -> Dimension | None:
    """Say what a key of any of the files is measured in.

    Args:
        key: The last part of its name.

    Returns:
        None where it is not known, or not the same everywhere.

    Examples:
        >>> dimension_of("wheelbase"), dimension_of("tare"), dimension_of("name")
        ('length', 'load', None)
    """
    parts = [part for schema in _named(key) for part in nested(schema)]
    dimensions = {part.get("metadata", {}).get("dimension") for part in parts} - {None}
    return dimensions.pop() if len(dimensions) == 1 else None


@cache
def takes_list(key: str) -> bool:
    """Say whether a key of that name, in any of the files, may hold a list; so may one unknown.

    Args:
        key: The last part of its name.

    Examples:
        >>> takes_list("perch_travel"), takes_list("wheelbase")
        (True, False)
    """
    schemas = _named(key)
    return not schemas or any(
        part["type"] == "list" for schema in schemas for part in nested(schema)
    )


def _named(key: str) -> list[Schema]:
    from balancer.files.format.beside_keys import READINGS_SCHEMA
    from balancer.files.format.keys import CAR_SCHEMA

    return [*named(CAR_SCHEMA, key), *named(READINGS_SCHEMA, key)]
