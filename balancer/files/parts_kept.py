"""Parts that were weighed on the pads, written into the parts book: whole or not at all."""

import json
import os
import re
from collections.abc import Sequence
from typing import Any, NamedTuple

from balancer.car.errors import Fault, InputError, refuse, spelled
from balancer.files.format.toml_text import read_toml
from balancer.files.parts_book import faults_in, faults_of
from balancer.files.units import SYSTEMS, Units
from balancer.files.writing import put

_HEAD = "# Parts: what was weighed on the pads, and what is only planned.\n\nunits = "


_TYPED = {
    "name": "NAME", "pads": "READING", "uncertainty": "READING", "aft": "--at", "left": "--at",
    "up": "--at",
}  # fmt: skip


class Kept(NamedTuple):
    """A book as it is before a part is put into it: its text, empty for none, and its units."""

    path: str
    text: str
    names: tuple[str, ...]
    units: Units | None


def open_book(path: str) -> Kept:
    """Read a parts book that a part shall go into, if it is there.

    Raises:
        InputError: With every fault of it.
    """
    if not os.path.lexists(path):
        return Kept(path, "", (), None)
    refuse(faults_in(path, None))
    toml = read_toml(path)
    names = tuple(entry["name"] for entry in toml.data.get("part", []))
    return Kept(path, toml.text, names, SYSTEMS.get(str(toml.data.get("units"))))


def keep_part(book: Kept, units: Units, entry: dict[str, Any]) -> None:
    """Write a part at the end of a book; all else in it stays as it is, and it can be read again.

    Args:
        units: Those of the entry, for a new book.
        entry: By key, in these units; a None is left out.

    Raises:
        InputError: When there is a part of that name, when no book may have such a part, or when
            the book can't be written.
    """
    name = str(entry["name"])
    if name in book.names:
        way_out = "give it another name, or take that out of the book"
        raise InputError.one(
            "NAME", f"“{name}” is in {spelled(os.path.basename(book.path))}", way_out
        )
    text = book.text or f'{_HEAD}"{units.name}"\n'
    lines = [f"{key} = {_toml(value)}" for key, value in entry.items() if value is not None]
    whole = "\n".join([text.rstrip("\n"), "", "[[part]]", *lines, ""])
    said = "" if book.units or not book.text else f'units = "{units.name}"\n'
    if faults := faults_of(book.path, said + whole):
        raise InputError(dict.fromkeys(map(_as_typed, faults)))
    try:
        put(os.path.realpath(book.path), whole)
    except (OSError, ValueError) as error:
        what = f"can't be written ({getattr(error, 'strerror', None) or error})"
        raise InputError.one(os.path.basename(book.path), what, "check the folder") from None


def _as_typed(fault: Fault) -> Fault:
    """Tell a fault of a part by the argument that it comes of."""
    key = re.search(r": part\[\d+\]\.(\w+)", fault.where)
    return fault._replace(where=_TYPED.get(key[1], f"--{key[1]}")) if key else fault


def _toml(value: str | float | Sequence[float]) -> str:
    """Write a value as TOML has it, numbers without digits that nobody weighed.

    >>> _toml([88.5, 79.0]), _toml("iron “one”")
    ('[88.5, 79]', '"iron “one”"')
    """
    if isinstance(value, str):
        # TOML has no such character as it stands.
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, int | float):
        return f"{round(value, 6):.10g}"
    return f"[{', '.join(map(_toml, value))}]"
