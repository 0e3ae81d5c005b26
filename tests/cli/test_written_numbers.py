"""Numbers as people have them: in the car file, in readings, and on the command line."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from balancer.car.errors import InputError
from balancer.files.car_reader import read_car
from balancer.files.format.measured import measured
from balancer.files.format.numbers import Amount, parse
from balancer.files.units import METRIC, US, Dimension, Units
from tests.cli.conftest import Run
from tests.conftest import ROOT

# Worth, by the exact sizes of NIST SP 811: 1 in = 25.4 mm, 1 lb = 0.45359237 kg, g = 9.80665.
LB = Fraction("0.45359237")
TABLE: list[tuple[str, Dimension, Units, Fraction | None]] = [
    ("101 1/4", "length", US, Fraction(405, 4)),
    ("101-1/4", "length", US, Fraction(405, 4)),
    ("101¼", "length", US, Fraction(405, 4)),
    ('101 1/4"', "length", US, Fraction(405, 4)),
    ("101 1/4 in", "length", METRIC, Fraction("2571.75")),
    ("1/16", "length", US, Fraction(1, 16)),
    ("2 mm", "length", US, Fraction(2) / Fraction("25.4")),
    ("2mm", "length", METRIC, Fraction(2)),
    ("24 cm", "length", METRIC, Fraction(240)),
    ("1.5 m", "length", METRIC, Fraction(1500)),
    ("8 ft", "length", US, Fraction(96)),
    ("16 tpi", "length", US, Fraction(1, 16)),
    ("12 threads per inch", "length", METRIC, Fraction("25.4") / 12),
    ("0 tpi", "length", US, None),
    ("8 ft 3 in", "length", US, None),
    ("2,405", "length", METRIC, None),
    ("2405,5", "length", METRIC, Fraction("2405.5")),
    ("8 kg", "length", METRIC, None),
    ("5 Nm", "length", METRIC, None),
    ("1.5 mm/turn", "length", METRIC, None),
    ("671½", "load", US, Fraction(1343, 2)),
    ("671 1/2 lbs", "load", US, Fraction(1343, 2)),
    ("640 lb", "load", METRIC, 640 * LB),
    ("300 kg", "load", US, 300 / LB),
    ("½", "load", METRIC, Fraction(1, 2)),
    ("300 g", "mass", METRIC, Fraction(3, 10)),
    ("78 kgs", "mass", METRIC, Fraction(78)),
    ("170 lbs", "mass", METRIC, 170 * LB),
    ("6 stones", "mass", METRIC, 6 * 14 * LB),
    ("eight kg", "mass", METRIC, None),
    ("8 kg/mm", "rate", METRIC, 8 * Fraction("9.80665")),
    ("8kg/mm", "rate", METRIC, 8 * Fraction("9.80665")),
    ("450 lb/in", "rate", US, Fraction(450)),
    ("450 lbs/in", "rate", METRIC, 450 * LB * Fraction("9.80665") / Fraction("25.4")),
    ("70 N/mm", "rate", METRIC, Fraction(70)),
    ("70000 N/m", "rate", METRIC, Fraction(70)),
    ("7 kN/m", "rate", METRIC, Fraction(7)),
    ("70 N", "rate", METRIC, None),
    ("4000 Nm/deg", "torsion", METRIC, Fraction(4000)),
    ("4000 N·m/deg", "torsion", METRIC, Fraction(4000)),
    ("20 L", "volume", METRIC, Fraction(20)),
    ("5 gal", "volume", METRIC, 5 * 231 * Fraction("25.4") ** 3 / 10**6),
    ("20 liters", "volume", US, Fraction(20 * 10**6) / (231 * Fraction("25.4") ** 3)),
    ("0.75 kg/L", "density", METRIC, Fraction(3, 4)),
    ("110 kW", "power", METRIC, Fraction(110)),
    ("150 hp", "power", US, Fraction(150)),
    ("-4 1/2", "number", METRIC, Fraction(-9, 2)),
    ("−¾", "number", METRIC, Fraction(-3, 4)),
    ("3 mm", "number", METRIC, None),
    ("", "length", METRIC, None),
    ("nan", "length", METRIC, None),
    ("1/0", "length", METRIC, None),
    ("__import__", "length", METRIC, None),
    ("1e400 mm", "length", METRIC, None),
    ("2**999999999 mm", "length", METRIC, None),
    ("3 (mm)", "length", METRIC, Fraction(3)),
]


@pytest.mark.parametrize(("text", "dimension", "units", "worth"), TABLE)
def test_what_a_number_is_worth(
    text: str, dimension: Dimension, units: Units, worth: Fraction | None
) -> None:
    found = measured(text, dimension, units)
    assert (found is None) == (worth is None)
    if worth is not None:
        assert float(found or 0) == pytest.approx(float(worth), rel=1e-12)


@given(
    st.fractions(Fraction(1, 64), 5000, max_denominator=64),
    st.sampled_from(["mm", "in", "cm", "ft"]),
    st.sampled_from([METRIC, US]),
)
def test_a_unit_and_back_changes_nothing(value: Fraction, unit: str, units: Units) -> None:
    whole, part = divmod(value, 1)
    text = f"{whole} {part.numerator}/{part.denominator} {unit}" if part else f"{whole} {unit}"
    found = measured(text, "length", units)
    assert found is not None
    size = {"mm": Fraction(1), "cm": Fraction(10), "in": Fraction("25.4"), "ft": Fraction("304.8")}
    own = 1 if units is METRIC else Fraction("25.4")
    assert found == value * size[unit] / own


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("671½", Amount(671.5, "")),
        ("671 1/2", Amount(671.5, "")),
        ("671½lb", Amount(671.5, "lb")),
        ("671 1/2 kg", Amount(671.5, "kg")),
        ("-1/4", Amount(-0.25, "")),
    ],
)
def test_a_fraction_on_the_command_line(text: str, found: Amount) -> None:
    assert parse(text, "LF", ("kg", "lb")) == found


def test_a_car_file_in_the_numbers_of_the_shop(run: Run, tmp_path: Path) -> None:
    """The same car, once in plain numbers and once as it was written on the wall."""
    text = (ROOT / "examples" / "roadster_us.toml").read_text(encoding="utf-8")
    plain = tmp_path / "plain.toml"
    plain.write_text(text, encoding="utf-8")
    car = read_car(plain).car
    mm = f'wheelbase = "{car.wheelbase * 1e3:.3f} mm"'
    pitch = f'perch_lead = "{1 / (car.perch_lead[0] / 0.0254):.6f} tpi"'
    lines = []
    for line in text.splitlines():
        key = line.partition("=")[0].strip()
        lines.append({"wheelbase": mm, "perch_lead": pitch}.get(key, line))
    shop = tmp_path / "shop.toml"
    shop.write_text("\n".join(lines), encoding="utf-8")
    again = read_car(shop).car
    assert again.wheelbase == pytest.approx(car.wheelbase, abs=1e-6)
    assert again.perch_lead == pytest.approx(car.perch_lead, rel=1e-6)
    assert run(f"perches {shop} 520 498 455 462").status in (0, 1)


REFUSED = [
    ('wheelbase = "2,405"', "“2,405” is not a number: write a number in mm, without quotes"),
    ('wheelbase = "2405,5"', "“2405,5” is not a number: write 2405.5, without quotes"),
    (
        'wheelbase = "8 ft 3 in"',
        "“8 ft 3 in” is not a number: write a number in mm",
    ),
    ('wheelbase = "95 kg"', "“95 kg” is not a number: write a number in mm, without quotes"),
    ("track = 57,5", "a decimal comma in “track = 57,5”: write track = 57.5"),
    ("track = 57 1/2", "a fraction in “track = 57 1/2”: write track = 57.5"),
    ('spring_rate = "70 N"', "“70 N” is not a number: write a number in N/mm, without quotes"),
    ('spring_rate = "0 N/mm"', "is zero: give its true value"),
    ("spring_rate = 0.7", "0.7 N/mm is out of reason: expected 1 to 2000 N/mm"),
    ('motion_ratio = "1.47"', "1.47 looks like wheel travel / spring travel"),
    ('perch_lead = "0 tpi"', "“0 tpi” is not a number: write a number in mm, without quotes"),
    ('perch_step = "1 flat"', "“1 flat” is not a number: write a number, and what it counts as"),
    ('perch_travel = ["-9 mm", 9]', "“-9 mm” is not a number: write a number, and what it counts"),
    ('perch_count = "flats"', "“flats” is not counted at a perch: write"),
]


@pytest.mark.parametrize(("line", "fault"), REFUSED)
def test_what_is_refused_says_why_and_what_to_write(tmp_path: Path, line: str, fault: str) -> None:
    key = line.partition(" = ")[0]
    text = (ROOT / "examples" / "coupe.toml").read_text(encoding="utf-8")
    at = "perch_step" if key == "perch_count" else key
    old = next(each for each in text.splitlines() if each.startswith(f"{at} = "))
    new = f"{line}\n{old}" if key == "perch_count" else line
    path = tmp_path / "car.toml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(InputError) as refused:
        read_car(path)
    assert fault in str(refused.value)
    assert str(refused.value).startswith(f"car.toml:{text.split(old)[0].count(chr(10)) + 1}: ")


def test_the_tables_have_sixty_inputs() -> None:
    assert len(TABLE) + len(REFUSED) >= 60


def test_what_is_no_number_in_quotes_is_a_fault_with_its_place(tmp_path: Path) -> None:
    path = tmp_path / "car.toml"
    text = (ROOT / "examples" / "coupe.toml").read_text(encoding="utf-8")
    path.write_text(text.replace("wheelbase = 2405", 'wheelbase = "2405 stones"'), encoding="utf-8")
    with pytest.raises(InputError, match=r"car.toml:5: wheelbase: “2405 stones” is not a number"):
        read_car(path)
