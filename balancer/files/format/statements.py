"""A statement that is no TOML: what is wrong with it, and how it was meant."""

import re
import tomllib
from collections.abc import Callable

from balancer.files.format.advice import advised, takes_list
from balancer.files.format.keys import CAR_FIELDS
from balancer.files.format.written import read_number
from balancer.files.units import Units

_LONG = 500
"""Of a line whose slip is guessed at."""

_TYPESET = str.maketrans(
    {
        "“": '"', "”": '"', "„": '"', "«": '"', "»": '"', "‘": "'", "’": "'", "−": "-", "–": "-",
        "—": "-", "\u00a0": " ", "\u202f": " ", "\u2009": " ", "\u200b": "", "\ufeff": "",
        "，": ",", "＝": "=", **{chr(0xFF10 + digit): str(digit) for digit in range(10)},
    }
)  # fmt: skip

_LIST = "a list not as TOML has it"
ROW = r"\[\s*[+\-.\d]"
_NUMBER = r"[+-]?\d+(?:\.\d+)?"
_THOUSANDS = r"[+-]?[1-9]\d{0,2}(?:,\d{3})+\.\d+"
_BLANKS = r"[+-]?[1-9]\d{0,2}(?= )(?=(?: \d{3})* 0)(?: \d{3})+(?:\.\d+)?"
_NUMBERS = rf"{_NUMBER}(?:[\s,;:]+{_NUMBER})+"


def _with_commas(numbers: re.Match[str]) -> str:
    return f"[{', '.join(re.findall(_NUMBER, numbers[0]))}]"


_VALUES: tuple[tuple[str, str, str | Callable[[re.Match[str]], str]], ...] = (
    (r"([+-]?[1-9]\d?\d?),(\d{3})", r"a comma (decimals take a point: \1.\2)", r"\1\2"),
    (r"([+-]?\d+),(\d+)", "a decimal comma", r"\1.\2"),
    (r"([+-]?)(\.\d+)", "a number that begins with its point", r"\g<1>0\2"),
    (r"([+-]?\d+\.)", "a number that ends in its point", r"\g<1>0"),
    (r"([+-]?)0+(\d+(?:\.\d+)?)", "a zero in front", r"\1\2"),
    (r"(\d+/\d+)", "no quotes around a fraction", r'"\1"'),
    (r"(?i:true|false)", "capital letters", lambda word: word[0].lower()),
    (r"(?i:|-+|none|null|nil|n/?a|\?+)", "no value", ""),
    # Only where it can't be two numbers: none begins with a zero.
    (rf"({_BLANKS})", "a blank in a number", lambda number: number[0].replace(" ", "")),
    (rf"\(?\{{?{_NUMBERS}[)}}\]]?", "no brackets around a list", _with_commas),
    (rf"\[\s*{_NUMBERS}\s*\]?", _LIST, _with_commas),
    (r"(\[[^\[\]]+)", "a list that is not closed", r"\1]"),
    (r'"([^"\\]*)', "a quote that is not closed", r'"\1"'),
    (r"'([^'\\]*)", "a quote that is not closed", r"'\1'"),
    (r"'([^\"\\]*)'", "a quote inside quotes", r'"\1"'),
    (r"\"([^'\"]*)\"", "a backslash in double quotes", r"'\1'"),
    (r"([^\W_][\w .,:/+&'-]*)", "text without quotes", r'"\1"'),
)
"""What a whole value looks like, what is wrong with it, and what was meant; the first counts."""


def is_open(code: str) -> bool:
    """Say whether more brackets are opened than closed."""
    return code.count("[") + code.count("{") > code.count("]") + code.count("}")


def meant_by(code: str, units: Units | None) -> tuple[str, str]:
    """Say what is wrong with a statement, and how it was meant, where that can be guessed."""
    if len(code) > _LONG:
        return "", ""
    plain = code.translate(_TYPESET)
    if plain != code and is_toml(plain):
        return "quotes, signs or blanks that TOML does not know", plain
    clean = re.sub(r"\x1b\[[\d;]*[A-Za-z]|[^\x20-\x7e\t\u00a0-\U0010ffff]", "", plain)
    if clean != plain:
        return "a control character", clean
    if row := re.fullmatch(rf"\[\s*{_NUMBERS}\s*\]?,?", plain):
        return _row_meant(row)
    if plain.startswith("[") and not re.match(ROW, plain):
        return _heading(plain)
    if statement := re.fullmatch(r"([^=:]+?)\s*([=:]+)\s*(.*)", plain, re.DOTALL):
        return _statement_meant(statement[1], statement[2], statement[3], units)
    if no_equals := re.fullmatch(r"""([\w-]+)\s+([+\-.\d"'\[].*)""", plain):
        return "no =", f"{no_equals[1]} = {no_equals[2]}"
    if re.fullmatch(r"\[.*[^,]", plain) and is_open(plain):
        return "a list that is not closed", f"{plain}]"
    return "", ""


def _row_meant(row: re.Match[str]) -> tuple[str, str]:
    if what := _several_numbers("", row[0]):
        return what, ""
    mended = f"{_with_commas(row)},"
    return ("", "") if mended.rstrip(",") == row[0].rstrip(",") else (_LIST, mended)


def _statement_meant(key: str, equals: str, value: str, units: Units | None) -> tuple[str, str]:
    if re.search(r"\s", key) and not re.search("[\"'.]", key):
        return "a blank in a key", f"{'_'.join(key.split())} = {value}"
    if not is_toml(f"{key} = 0"):
        return "", ""
    if equals != "=":
        what = "a colon in place of =" if ":" in equals else "more than one ="
        return what, f"{key} = {value}"
    if '"""' in value or "'''" in value or value == "[":
        return "what opens here is not closed", ""
    return _value_meant(key, value, units) if len(value) <= 200 else ("", "")


def _value_meant(key: str, value: str, units: Units | None) -> tuple[str, str]:
    if what := _number_with_more(value):
        number = advised(value, key, units)
        return what, f"{key} = {number}" if number else ""
    if re.fullmatch(_THOUSANDS, value):
        return "commas between thousands", f"{key} = {value.replace(',', '')}"
    if what := _several_numbers(key, value):
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


def _several_numbers(key: str, value: str) -> str:
    """Say what is wrong with several numbers that could be one, or others."""
    if not re.fullmatch(rf"[\[({{]?\s*{_NUMBERS}\s*[)}}\]]?,?", value):
        return ""
    tight = re.search(r"\d,\d", value)
    # No number of a list begins with a zero and a digit: that may be thousands.
    zeros = re.search(r",0\d", value) and not re.fullmatch(r"[+-]?\d+,\d+", value)
    points = re.fullmatch(r"[+-]?\d{1,3}(\.\d{3})+,\d+", value)
    if tight and (zeros or points or re.search(r"[\s;:]\s*[+\-\d]", value.strip("[](){} "))):
        return "commas between numbers or within them"
    bare = value[0] not in "[({"
    return "several numbers" if bare and not tight and key and not takes_list(key) else ""


def _heading(code: str) -> tuple[str, str]:
    if len(code) > 80 or not (heading := re.fullmatch(r"(\[+)\s*([^\[\]]+?)\s*(\]*)\s*:?", code)):
        return "", ""
    called = "_".join(heading[2].split())
    count = min(max(len(heading[1]), len(heading[3])), 2)
    if called in CAR_FIELDS:
        count = 2 if is_list(called) else 1
    meant = "[" * count + called + "]" * count
    wrong = meant != code and is_toml(meant)
    return ("a heading not as TOML has it", meant) if wrong else ("", "")


def is_toml(code: str) -> bool:
    """Say whether tomllib takes it."""
    try:
        tomllib.loads(code)
    except (ValueError, RecursionError):
        return False
    return True


def is_list(table: str) -> bool:
    """Say whether a table of a car file may be there several times."""
    return table in CAR_FIELDS and CAR_FIELDS[table].schema["type"] == "list"
