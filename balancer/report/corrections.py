"""What corrections of the log have put right, in words."""

from collections.abc import Iterator, Mapping
from typing import Any

_CORRECTED = {"at": "when", "on_board": "on board", "readings": "readings"}
"""What of a correction a person is told, and as what."""


def corrected_values(data: Mapping[str, Any]) -> Iterator[str]:
    """Tell old and new of each value that a correction puts right.

    Examples:
        >>> list(corrected_values({"to": {"on_board": ["driver"]}, "was": {"on_board": []}}))
        ['on board driver instead of nothing']
    """
    was = data.get("was")
    old = was if isinstance(was, dict) else {}
    for key, name in _CORRECTED.items():
        if key in data["to"]:
            new = _value(data["to"][key])
            yield f"{name} {new} instead of {_value(old.get(key))}"


def _value(value: object) -> str:
    """Write names, a time or rows of readings.

    >>> _value([[302, 288.5]]), _value(["driver", "fuel=6"]), _value("2026-06-13T14:30:00+02:00")
    ('302 288.5', 'driver, fuel=6', '2026-06-13 14:30')
    """
    if isinstance(value, str):
        return value[:16].replace("T", " ")
    if not isinstance(value, list) or not value:
        return "not said" if value is None else "nothing"
    if all(map(_numbers, value)):
        return " / ".join(" ".join(f"{one:g}" for one in row) for row in value)
    return ", ".join(map(str, value))


def _numbers(row: object) -> bool:
    return isinstance(row, list) and all(isinstance(one, int | float) for one in row)
