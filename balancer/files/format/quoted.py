"""Numbers in quotes, with a fraction or a unit: made numbers before anything else looks at them."""

from typing import Any

from balancer.files.format.toml_text import TomlFile
from balancer.files.units import Units


def in_numbers(file: TomlFile, units: Units | None) -> TomlFile:
    """Give a file with what it has in quotes as numbers, in its own units.

    Args:
        units: None where they are not known: nothing is changed.

    Returns:
        What is no number in quotes stays, to be refused with its place.

    Examples:
        >>> from balancer.files.units import METRIC
        >>> file = TomlFile("a.toml", {"wheelbase": "94 1/2 in", "name": "101"}, "")
        >>> in_numbers(file, METRIC).data
        {'wheelbase': 2400.3, 'name': '101'}
    """
    if units is None or not _has_text(file.data):
        return file
    return TomlFile(file.path, _taken(file.data, "", units), file.text, file.slips)


_TEXTS = frozenset({"name", "units", "note", "date"})
"""Keys of the most texts of any file, which are no numbers."""


def _has_text(value: Any, key: str = "") -> bool:
    if isinstance(value, dict):
        return any(_has_text(one, name) for name, one in value.items())
    if isinstance(value, list):
        return any(_has_text(one, key) for one in value)
    return isinstance(value, str) and key not in _TEXTS


def _taken(value: Any, key: str, units: Units) -> Any:
    if isinstance(value, dict):
        return {name: _taken(one, name, units) for name, one in value.items()}
    if isinstance(value, list):
        # In a row the first is measured in something else than the second.
        rows = key != "readings" and any(isinstance(one, list) for one in value)
        return [one if rows else _taken(one, key, units) for one in value]
    return _number(value, key, units) if isinstance(value, str) else value


def _number(text: str, key: str, units: Units) -> Any:
    # Only for numbers in quotes: fractions take longer to import than all the rest of this.
    if not any(map(str.isnumeric, text)):
        return text
    from balancer.files.format.advice import advised_value, dimension_of

    counts = key == "motion_ratio" or key.endswith("_pct") or dimension_of(key) is not None
    # A comma may be a decimal one or not; that is asked about.
    worth = advised_value(text, key, units) if counts and "," not in text else None
    return text if worth is None else float(worth)
