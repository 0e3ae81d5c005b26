"""Slips of the keyboard that keep a file from being TOML: named, mended, and read past.

tomllib stops at the first; somebody with dirty hands wants to hear of all of them at once, and in
other words than a parser's. A mended line is right only as far as it goes: the file is refused all
the same, but the rest of it can be checked as well.
"""

import re
import tomllib
from typing import Any, NamedTuple

from balancer.car.errors import Fault, InputError
from balancer.files.format.statements import ROW, is_list, is_open, is_toml, meant_by
from balancer.files.units import SYSTEMS, Units

_MOST = 50
_EFFORT = 1_000_000
"""Characters read over and over, once for each slip."""

_USUAL = "a line reads: key = value; text goes in quotes, a remark behind #"

_LEFT_OUT = "leave the line out"
_NO_VALUE = {
    "no value": f"write it, or {_LEFT_OUT}",
    "a unit after the number": "write the number alone, in the units of the file",
    "a fraction": "write it with decimals",
    "several numbers": "write one, without blanks in it",
    "commas between numbers or within them": "write decimals with a point, and a comma between two",
}


class _Slip(NamedTuple):
    """One line that was not TOML, and what to read in its place; None: no going on."""

    fault: Fault
    at: int
    instead: str | None


def mend(name: str, text: str) -> tuple[dict[str, Any], str, list[Fault]]:
    """Read a text that tomllib refuses, as far as it can be understood.

    Args:
        name: Of the file, for the faults.

    Returns:
        The data, the mended text with as many lines, and what was wrong.

    Raises:
        InputError: When there is no going on after one of the slips; with those before it.

    References:
        TOML v1.0.0.

    Examples:
        >>> data, _, faults = mend("a.toml", "mass = 78,5\\nup = .4 # m")
        >>> data
        {'mass': 78.5, 'up': 0.4}
        >>> print(*faults, sep="\\n")
        a.toml:1: a decimal comma in “mass = 78,5”: write mass = 78.5
        a.toml:2: a number that begins with its point in “up = .4”: write up = 0.4
    """
    lines = text.split("\n")
    faults: list[Fault] = []
    mended: set[int] = set()
    most = max(min(_MOST, _EFFORT // (len(text) + 1)), 5)
    while len(faults) < most:
        text = "\n".join(lines)
        try:
            return tomllib.loads(text), text, faults
        except RecursionError:
            faults.append(Fault(name, "is nested too deep", "a car file needs two levels"))
            break
        except ValueError as error:
            slip = _slip(name, lines, str(error))
        if slip.at in mended:
            slip = slip._replace(instead=_nothing(lines[slip.at]))
        else:
            faults.append(slip.fault)
            mended.add(slip.at)
        if slip.instead is None or slip.instead == lines[slip.at]:
            break
        lines[slip.at] = slip.instead
    if len(faults) == most:
        faults.append(Fault(name, "and perhaps more", "mend these first"))
    raise InputError(faults)


def _slip(name: str, lines: list[str], message: str) -> _Slip:
    """Find the line that tomllib stumbled over, and say what is wrong with it."""
    place = re.search(r" \(at (?:line (\d+), column \d+|end of document)\)$", message)
    if place:
        index = int(place[1] or len(lines)) - 1
    else:
        # A number so long that Python won't convert it is told without its place.
        index = next((n for n, line in enumerate(lines) if re.search(r"(?<!\d)\d{4000}", line)), 0)
    said = message[: place.start()] if place else "a number without end"
    if re.search("twice|overwrite|mutate", said):
        return _twice(name, lines, index)
    index = _culprit(lines, index)
    where, code = f"{name}:{index + 1}", _code(lines[index])
    shown = code if len(code) <= 60 else f"{code[:57]}…"
    what, meant = meant_by(code, _units_in(lines))
    if meant:
        return _Slip(Fault(where, f"{what} in “{shown}”", f"write {meant}"), index, meant)
    if what:
        way_out = "close it" if "close" in what else _NO_VALUE.get(what, _LEFT_OUT)
        instead = None if "close" in what else _nothing(lines[index])
        return _Slip(Fault(where, f"{what} in “{shown}”", way_out), index, instead)
    what = f"{said[0].lower()}{said[1:]}" + (f" in “{shown}”" if shown else "")
    return _Slip(Fault(where, what, _USUAL), index, _nothing(lines[index]))


def _code(line: str) -> str:
    """Take the remark off a line, and the blanks around what is left."""
    statement = re.match(r"""(?:"[^"]*"|'[^']*'|[^#"']++)*(?:["'][^#]*)?""", line)
    return (statement[0] if statement else line).strip()


def _culprit(lines: list[str], index: int) -> int:
    """Go back to the line that opens what is not closed, from one that is sound in itself."""
    row = re.match(ROW, _code(lines[index])) and not is_open(_code(lines[index]))
    if not row and not is_toml(lines[index]):
        return index
    for back in range(index, -1, -1):
        code = _code(lines[back])
        if row and code.endswith("["):
            return index
        if is_open(code) or code.count('"""') % 2 or code.count("'''") % 2:
            return back
    return index


def _units_in(lines: list[str]) -> Units | None:
    """Find the units that a file of such lines names, read past its slips."""
    named = (re.match(r"""\s*units\s*=\s*["']?(\w+)""", line) for line in lines)
    return next((SYSTEMS.get(line[1]) for line in named if line), None)


def _nothing(line: str) -> str | None:
    """Give a line that says nothing but keeps the key, so that it is not missed."""
    code = _code(line)
    if is_open(code) or '"""' in code or "'''" in code or code.startswith("["):
        return None
    key = code.partition("=")[0].strip()
    instead = f"{key} = 0"
    return instead if is_toml(instead) else ""


def _twice(name: str, lines: list[str], index: int) -> _Slip:
    """Explain a key or a heading that is there a second time."""
    code = _code(lines[index])
    heading = code.startswith("[")
    what = code if heading else code.partition("=")[0].strip()
    where = f"{name}:{index + 1}: {what}"
    back = _first_time(lines[:index], code)
    first = "" if back is None else f", first in line {back + 1}"
    if heading and back is not None and (earlier := _code(lines[back])) != code:
        kept = max(earlier, code, key=len)
        return _Slip(
            Fault(where, f"line {back + 1} has {earlier}", f"write {kept} each time"), index, None
        )
    several = heading and is_list(code.strip("[] "))
    way_out = f"write [{code}] each time" if several else "keep one"
    instead = None if heading or is_open(code) else ""
    return _Slip(Fault(where, f"is there twice{first}", way_out), index, instead)


def _first_time(lines: list[str], code: str) -> int | None:
    """Find the line that has the same heading, or the same key in the same table."""
    for back in range(len(lines) - 1, -1, -1):
        earlier = _code(lines[back])
        if code.startswith("["):
            if earlier.strip("[] ") == code.strip("[] "):
                return back
        elif earlier.startswith("["):
            return None
        elif earlier.partition("=")[0].strip() == code.partition("=")[0].strip():
            return back
    return None
