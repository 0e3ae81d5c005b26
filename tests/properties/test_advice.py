"""No advice changes a value: a number to write is worth what was written, or there is none."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import NamedTuple

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from balancer.car.errors import Fault, InputError
from balancer.files.format.keys import CAR_SCHEMA
from balancer.files.format.numbers import parse
from balancer.files.format.toml_text import TomlFile
from balancer.files.format.typos import mend
from balancer.files.format.validation import validate
from balancer.files.units import SYSTEMS

law = settings(deadline=None, max_examples=300)

POUND, INCH, GRAVITY = Fraction("0.45359237"), Fraction("0.0254"), Fraction("9.80665")
LENGTHS = {
    "mm": Fraction(1, 1000),
    "cm": Fraction(1, 100),
    "m": Fraction(1),
    "in": INCH,
    "inch": INCH,
    '"': INCH,
    "ft": 12 * INCH,
}
RATES = {
    "N/mm": Fraction(1000),
    "kg/mm": 1000 * GRAVITY,
    "lb/in": POUND * GRAVITY / INCH,
    "lbs/in": POUND * GRAVITY / INCH,
}
SIZES = {"wheelbase": LENGTHS, "spring_rate": RATES}
OWN = {
    ("wheelbase", "metric"): LENGTHS["mm"],
    ("wheelbase", "us"): LENGTHS["in"],
    ("spring_rate", "metric"): RATES["N/mm"],
    ("spring_rate", "us"): RATES["lb/in"],
}
STRANGE = ("stone", "kg", "°", "turns", "N", "mm/turn", "Nm", "%")
VULGAR = {"¼": (1, 4), "½": (1, 2), "¾": (3, 4), "⅓": (1, 3), "⅛": (1, 8), "⅞": (7, 8)}


class Written(NamedTuple):
    """A number as somebody writes it, and what it may be worth without its unit."""

    text: str
    values: tuple[Fraction, ...]


def decimals() -> st.SearchStrategy[Written]:
    whole, part = st.integers(0, 99999), st.from_regex(r"[0-9]{1,4}", fullmatch=True)

    def write(whole: int, part: str, point: str) -> Written:
        value = Fraction(f"{whole}.{part}")
        thousands = point == "," and len(part) == 3 and whole > 0
        values = (value, Fraction(whole * 1000 + int(part)))
        return Written(f"{whole}{point}{part}", values[: 1 + thousands])

    return st.builds(write, whole, part, st.sampled_from([".", ","]))


def write_thousands(high: int, low: int, by: str, part: str) -> Written:
    point = "," if by == "." else "."
    text = f"{high}{by}{low:03d}" + (f"{point}{part}" if part else "")
    value = Fraction(f"{high * 1000 + low}.{part or 0}")
    return Written(text, (value, Fraction(f"{high}.{low:03d}")) if not part else (value,))


def write_mixed(whole: int | None, over: int, under: int, by: str) -> Written:
    text = f"{over}/{under}" if whole is None else f"{whole}{by}{over}/{under}"
    return Written(text, ((whole or 0) + Fraction(over, under),))


def write_vulgar(whole: int | None, part: str, by: str) -> Written:
    text = part if whole is None else f"{whole}{by}{part}"
    return Written(text, ((whole or 0) + Fraction(*VULGAR[part]),))


NUMBERS = st.one_of(
    decimals(),
    st.integers(0, 10**6).map(lambda whole: Written(str(whole), (Fraction(whole),))),
    st.builds(
        write_thousands,
        st.integers(1, 99),
        st.integers(0, 999),
        st.sampled_from([",", ".", " ", "\u00a0", "'"]),
        st.sampled_from(["", "5", "25"]),
    ),
    st.builds(
        write_mixed,
        st.none() | st.integers(0, 9999),
        st.integers(1, 99),
        st.integers(1, 64),
        st.sampled_from([" ", "-", "  "]),
    ),
    st.builds(
        write_vulgar,
        st.none() | st.integers(0, 9999),
        st.sampled_from(list(VULGAR)),
        st.sampled_from(["", " "]),
    ),
)
SIGNS = st.sampled_from(["", "-", "−", "+"])


def numbers_in(way_out: str, key: str) -> list[Fraction]:
    """Find every number that the way out of a fault says to write."""
    if re.search(rf"write {key} = [\"']", way_out):
        return []  # as text, as it was
    way_out = way_out.replace(f"write {key} = ", "write ")
    if not re.search(r"write [\[+\-−]?[.\d]", way_out):
        return []
    found = re.findall(r"[+\-−]?(?:\d[\d.,]*\d|\d)(?:[eE]-?\d+)?", way_out)
    return [Fraction(one.replace("−", "-").rstrip(".,")) for one in found]


def assert_kept(fault: Fault, key: str, worth: set[Fraction]) -> None:
    for number in numbers_in(fault.way_out, key):
        off = min((abs(number - value) for value in worth), default=None)
        assert off is not None, str(fault)
        assert off <= Fraction(1, 10**5) * max(map(abs, worth)), str(fault)


def worth(sign: str, number: Written, unit: str, key: str, units: str) -> set[Fraction]:
    """Say what a text is worth in the units of the file; empty where its unit is another's."""
    factor = Fraction(-1 if sign in ("-", "−") else 1)
    if unit:
        if unit not in SIZES[key]:
            return set()
        factor *= SIZES[key][unit] / OWN[key, units]
    return {factor * value for value in number.values}


KEYS = st.sampled_from(["wheelbase", "spring_rate"])
UNITS = st.sampled_from(["metric", "us"])
BEHIND = st.sampled_from(["", *LENGTHS, *RATES, *STRANGE])
GAP = st.sampled_from(["", " "])


@law
@given(SIGNS, NUMBERS, GAP, BEHIND, KEYS, UNITS)
@example("", Written("101 1/4", (Fraction(405, 4),)), "", "", "wheelbase", "us")
@example("", Written("2", (Fraction(2),)), "", "mm", "wheelbase", "us")
@example("", Written("8", (Fraction(8),)), "", "kg/mm", "spring_rate", "metric")
@example("", Written("1/16", (Fraction(1, 16),)), "", "", "wheelbase", "us")
@example("-", Written("2,405", (Fraction("2.405"), Fraction(2405))), "", "", "wheelbase", "us")
@example("", write_thousands(1, 0, ",", "5"), "", "", "wheelbase", "metric")
@example("", write_thousands(1, 0, ".", "5"), "", "", "wheelbase", "metric")
@example("", write_thousands(1, 0, " ", ""), "", "", "spring_rate", "metric")
def test_a_line_that_is_not_toml(
    sign: str, number: Written, gap: str, unit: str, key: str, units: str
) -> None:
    text = f"{sign}{number.text}{gap}{unit}"
    try:
        faults = mend("a.toml", f'units = "{units}"\n{key} = {text}')[2]
    except InputError as error:
        faults = list(error.faults)
    except ValueError:
        return
    for fault in faults:
        assert_kept(fault, key, worth(sign, number, unit, key, units))


@law
@given(SIGNS, NUMBERS, GAP, BEHIND, KEYS, UNITS)
@example("", Written("101 1/4", (Fraction(405, 4),)), "", "", "wheelbase", "us")
@example("", Written("2", (Fraction(2),)), "", "mm", "wheelbase", "us")
@example("", Written("8", (Fraction(8),)), "", "kg/mm", "spring_rate", "metric")
@example("", Written("1/16", (Fraction(1, 16),)), "", "", "wheelbase", "us")
def test_a_number_in_quotes(
    sign: str, number: Written, gap: str, unit: str, key: str, units: str
) -> None:
    text = f"{sign}{number.text}{gap}{unit}"
    data = {"wheelbase": text} if key == "wheelbase" else {"front": {key: text}}
    file = TomlFile("a.toml", {"units": units, "wheelbase": 2000, **data}, "")
    for fault in validate(file, CAR_SCHEMA, SYSTEMS[units]).faults:
        if fault.where.endswith(key):
            assert_kept(fault, key, worth(sign, number, unit, key, units))


@law
@given(SIGNS, NUMBERS, GAP, st.sampled_from(["", "kg", "lb", "mm", "kg/mm", "stone"]))
@example("", Written("101 1/4", (Fraction(405, 4),)), "", "")
@example("", Written("310¼", (Fraction(1241, 4),)), "", "kg")
@example("", Written("8", (Fraction(8),)), "", "kg/mm")
@example("", Written("1/16", (Fraction(1, 16),)), "", "")
def test_a_number_typed(sign: str, number: Written, gap: str, unit: str) -> None:
    found = parse(f"{sign}{number.text}{gap}{unit}", "LF", ("kg", "lb", "lbs"), "a number")
    if isinstance(found, Fault):
        value = -1 if sign in ("-", "−") else 1
        known = unit in ("", "kg", "lb")
        assert_kept(found, "LF", {value * one for one in number.values} if known else set())
        assert not numbers_in(found.way_out, "LF") or unit in found.way_out


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("wheelbase = 101 1/4", "a fraction in “wheelbase = 101 1/4”: write wheelbase = 101.25"),
        ("wheelbase = 101¼", "a fraction in “wheelbase = 101¼”: write wheelbase = 101.25"),
        (
            "wheelbase = 2mm",
            "a unit after the number in “wheelbase = 2mm”: write wheelbase = 0.0787402",
        ),
        (
            "wheelbase = 8 kg/mm",
            "a unit after the number in “wheelbase = 8 kg/mm”:"
            " write the number alone, in the units of the file",
        ),
        (
            "wheelbase = 2 405",
            "several numbers in “wheelbase = 2 405”: write one, without blanks in it",
        ),
        (
            "perch_travel = -8,5 10,5",
            "commas between numbers or within them in “perch_travel = -8,5 10,5”:"
            " write decimals with a point, and a comma between two",
        ),
    ],
)
def test_what_is_said_of_a_line(line: str, said: str) -> None:
    faults = mend("a.toml", f'units = "us"\n{line}')[2]
    assert [str(fault) for fault in faults] == [f"a.toml:2: {said}"]
