"""Slips of the keyboard that keep a file from being TOML: named, mended, and read past.

tomllib stops at the first; somebody with dirty hands wants to hear of all of them at once, and in
other words than a parser's. A mended line is right only as far as it goes: the file is refused all
the same, but the rest of it can be checked as well.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from typing import Any, NamedTuple

from balancer.errors import Fault, InputError
from balancer.files.format.advice import advised, read_number, takes_list
from balancer.files.format.keys import CAR_FIELDS
from balancer.units import SYSTEMS, Units

_MOST = 50
_EFFORT = 1_000_000
"""Characters read over and over, once for each slip."""

_LONG = 500
"""Of a line whose slip is guessed at."""

_USUAL = "a line reads: key = value; text goes in quotes, a remark behind #"

_TYPESET = str.maketrans(
    {
        "“": '"', "”": '"', "„": '"', "«": '"', "»": '"', "‘": "'", "’": "'", "−": "-", "–": "-",
        "—": "-", "\u00a0": " ", "\u202f": " ", "\u2009": " ", "\u200b": "", "\ufeff": "",
        "，": ",", "＝": "=", **{chr(0xFF10 + digit): str(digit) for digit in range(10)},
    }
)  # fmt: skip

_LIST = "a list not as TOML has it"
_ROW = r"\[\s*[+\-.\d]"
_NUMBER = r"[+-]?\d+(?:\.\d+)?"


def _with_commas(found: re.Match[str]) -> str:
    return f"[{', '.join(re.findall(_NUMBER, found[0]))}]"


def _small(found: re.Match[str]) -> str:
    return found[0].lower()


_VALUES: tuple[tuple[str, str, str | Callable[[re.Match[str]], str]], ...] = (
    (r"([+-]?[1-9]\d?\d?),(\d{3})", r"a comma (decimals take a point: \1.\2)", r"\1\2"),
    (r"([+-]?\d+),(\d+)", "a decimal comma", r"\1.\2"),
    (r"([+-]?)(\.\d+)", "a number that begins with its point", r"\g<1>0\2"),
    (r"([+-]?\d+\.)", "a number that ends in its point", r"\g<1>0"),
    (r"([+-]?)0+(\d+(?:\.\d+)?)", "a zero in front", r"\1\2"),
    (r"(\d+/\d+)", "no quotes around a fraction", r'"\1"'),
    (r"(?i:true|false)", "capital letters", _small),
    (r"(?i:|-+|none|null|nil|n/?a|\?+)", "no value", ""),
    (rf"\(?\{{?{_NUMBER}(?:[\s,;:]+{_NUMBER})+[)}}\]]?", "no brackets around a list", _with_commas),
    (rf"\[\s*{_NUMBER}(?:[\s,;:]+{_NUMBER})+\s*\]?", _LIST, _with_commas),
    (r"(\[[^\[\]]+)", "a list that is not closed", r"\1]"),
    (r'"([^"\\]*)', "a quote that is not closed", r'"\1"'),
    (r"'([^'\\]*)", "a quote that is not closed", r"'\1'"),
    (r"'([^\"\\]*)'", "a quote inside quotes", r'"\1"'),
    (r"\"([^'\"]*)\"", "a backslash in double quotes", r"'\1'"),
    (r"([^\W_][\w .,:/+&'-]*)", "text without quotes", r'"\1"'),
)
"""What a whole value looks like, what is wrong with it, and what was meant; the first counts."""

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
    what, meant = _meant(code, _units_in(lines))
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
    found = re.match(r"""(?:"[^"]*"|'[^']*'|[^#"']++)*(?:["'][^#]*)?""", line)
    return (found[0] if found else line).strip()


def _culprit(lines: list[str], index: int) -> int:
    """Go back to the line that opens what is not closed, from one that is sound in itself."""
    row = re.match(_ROW, _code(lines[index])) and not _open(_code(lines[index]))
    if not row and not _is_toml(lines[index]):
        return index
    for back in range(index, -1, -1):
        code = _code(lines[back])
        if row and code.endswith("["):
            return index
        if _open(code) or code.count('"""') % 2 or code.count("'''") % 2:
            return back
    return index


def _open(code: str) -> bool:
    return code.count("[") + code.count("{") > code.count("]") + code.count("}")


def _meant(code: str, units: Units | None) -> tuple[str, str]:
    """Say what is wrong with a statement, and how it was meant, where that can be guessed."""
    if len(code) > _LONG:
        return "", ""
    plain = code.translate(_TYPESET)
    if plain != code and _is_toml(plain):
        return "quotes, signs or blanks that TOML does not know", plain
    clean = re.sub(r"\x1b\[[\d;]*[A-Za-z]|[^\x20-\x7e\t\u00a0-\U0010ffff]", "", plain)
    if clean != plain:
        return "a control character", clean
    if row := re.fullmatch(rf"\[\s*{_NUMBER}(?:[\s,;:]+{_NUMBER})+\s*\]?,?", plain):
        if what := _in_uncertainty("", plain):
            return what, ""
        mended = f"{_with_commas(row)},"
        return ("", "") if mended.rstrip(",") == plain.rstrip(",") else (_LIST, mended)
    if plain.startswith("[") and not re.match(_ROW, plain):
        return _heading(plain)
    found = re.fullmatch(r"([^=:]+?)\s*([=:]+)\s*(.*)", plain, re.DOTALL)
    if not found:
        if found := re.fullmatch(r"""([\w-]+)\s+([+\-.\d"'\[].*)""", plain):
            return "no =", f"{found[1]} = {found[2]}"
        if re.fullmatch(r"\[.*[^,]", plain) and _open(plain):
            return "a list that is not closed", f"{plain}]"
        return "", ""
    key, equals, value = found[1], found[2], found[3]
    if re.search(r"\s", key) and not re.search("[\"'.]", key):
        return "a blank in a key", f"{'_'.join(key.split())} = {value}"
    if not _is_toml(f"{key} = 0"):
        return "", ""
    if equals != "=":
        what = "a colon in place of =" if ":" in equals else "more than one ="
        return what, f"{key} = {value}"
    if '"""' in value or "'''" in value or value == "[":
        return "what opens here is not closed", ""
    if len(value) > 200:
        return "", ""
    if what := _number_with_more(value):
        number = advised(value, key, units)
        return what, f"{key} = {number}" if number else ""
    if what := _in_uncertainty(key, value):
        return what, ""
    for pattern, what, instead in _VALUES:
        if meant := re.fullmatch(pattern, value):
            mended = instead(meant) if callable(instead) else meant.expand(instead)
            return meant.expand(what), f"{key} = {mended}" if mended else ""
    return "", ""


def _number_with_more(value: str) -> str:
    """Name what makes a number more than TOML knows: a unit, or a fraction."""
    said = read_number(value)
    if said is None or re.fullmatch(r"\d+/\d+", value):
        return ""
    if said.unit:
        return "a unit after the number"
    return "a fraction" if re.search("[/⁄¼-¾⅐-⅞]", value) else ""


def _in_uncertainty(key: str, value: str) -> str:
    """Say what is wrong with several numbers that could be one, or others."""
    if not re.fullmatch(rf"[\[({{]?\s*{_NUMBER}(?:[\s,;:]+{_NUMBER})+\s*[)}}\]]?,?", value):
        return ""
    tight = re.search(r"\d,\d", value)
    if tight and re.search(r"[\s;:]\s*[+\-\d]", value.strip("[](){} ")):
        return "commas between numbers or within them"
    bare = value[0] not in "[({"
    return "several numbers" if bare and not tight and key and not takes_list(key) else ""


def _units_in(lines: list[str]) -> Units | None:
    """Find the units that a file of such lines names, read past its slips."""
    named = (re.match(r"""\s*units\s*=\s*["']?(\w+)""", line) for line in lines)
    return next((SYSTEMS.get(one[1]) for one in named if one), None)


def _heading(code: str) -> tuple[str, str]:
    if len(code) > 80 or not (found := re.fullmatch(r"(\[+)\s*([^\[\]]+?)\s*(\]*)\s*:?", code)):
        return "", ""
    called = "_".join(found[2].split())
    count = min(max(len(found[1]), len(found[3])), 2)
    if called in CAR_FIELDS:
        count = 2 if CAR_FIELDS[called].schema["type"] == "list" else 1
    meant = "[" * count + called + "]" * count
    return (
        ("a heading not as TOML has it", meant) if meant != code and _is_toml(meant) else ("", "")
    )


def _is_toml(code: str) -> bool:
    try:
        tomllib.loads(code)
    except (ValueError, RecursionError):
        return False
    return True


def _nothing(line: str) -> str | None:
    """Give a line that says nothing but keeps the key, so that it is not missed."""
    code = _code(line)
    if _open(code) or '"""' in code or "'''" in code or code.startswith("["):
        return None
    key = code.partition("=")[0].strip()
    instead = f"{key} = 0"
    return instead if _is_toml(instead) else ""


def _twice(name: str, lines: list[str], index: int) -> _Slip:
    """Explain a key or a heading that is there a second time."""
    code = _code(lines[index])
    heading = code.startswith("[")
    what = code if heading else code.partition("=")[0].strip()
    where, first = f"{name}:{index + 1}: {what}", ""
    for back in range(index - 1, -1, -1):
        before = _code(lines[back])
        if heading and before.strip("[] ") == code.strip("[] "):
            if before != code:
                kept = max(before, code, key=len)
                other = f"line {back + 1} has {before}"
                return _Slip(Fault(where, other, f"write {kept} each time"), index, None)
            first = f", first in line {back + 1}"
            break
        if not heading and before.startswith("["):
            break
        if not heading and before.partition("=")[0].strip() == what:
            first = f", first in line {back + 1}"
            break
    kind = CAR_FIELDS.get(code.strip("[] "))
    several = heading and kind is not None and kind.schema["type"] == "list"
    way_out = f"write [{code}] each time" if several else "keep one"
    instead = None if heading or _open(code) else ""
    return _Slip(Fault(where, f"is there twice{first}", way_out), index, instead)
