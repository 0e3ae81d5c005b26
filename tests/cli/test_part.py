"""Parts weighed on the pads, and sums of parts: what the book has, and what it is refused for."""

from __future__ import annotations

from math import sqrt
from pathlib import Path

import pytest

from balancer.files.car_reader import read_car
from balancer.files.parts_book import read_parts
from tests.cli.conftest import Run

NEW = 'part shelf.toml "spare gearbox" 0 22.5 21 0 --at 900,0,300'


def test_a_part_goes_into_a_new_book_with_its_uncertainty(garage: Path, run: Run) -> None:
    ran = run(f"{NEW} --tare 0,1.5,1.5,0 --plus 2 --units kg --note 'no oil' --json")
    assert (ran.status, ran.err) == (0, "")
    assert ran.json["mass"] == pytest.approx(22.5 + 21 - 3 + 2)
    # Usual scales: 0.1 % of what is weighed, 0.5 kg steps and scatter at each of four readings.
    each = 0.5**2 / 12 + 0.5**2
    by_hand = sqrt(0.001**2 * (21**2 + 19.5**2) + 4 * each)
    assert ran.json["uncertainty"] == pytest.approx(by_hand, rel=0.05)
    book = read_parts("shelf.toml", read_car("coupe.toml"))
    gearbox = book.parts["spare gearbox"]
    assert (gearbox.mass, gearbox.aft, gearbox.left, gearbox.up) == (42.5, 0.9, 0.0, 0.3)
    assert book.sure["spare gearbox"] == ran.json["uncertainty"]


def test_all_else_in_a_book_stays(garage: Path, run: Run) -> None:
    before = Path("parts.toml").read_text(encoding="utf-8")
    for words in ('"left seat" 11.5 --at 1400,340', '"right seat" 12 --at 1400,-340'):
        ran = run(f"part parts.toml {words} --car coupe.toml")
        assert (ran.status, ran.err) == (0, "")
        assert ran.out.splitlines()[1].startswith("Kept in parts.toml, 20")
    after = Path("parts.toml").read_text(encoding="utf-8")
    assert after.startswith(before)
    assert after.count("[[part]]") == before.count("[[part]]") + 2
    told = run("parts coupe.toml 302 288.5 231 244 --book parts.toml").out
    assert "left seat" in told
    assert "±" in told


@pytest.mark.parametrize(
    ("line", "fault"),
    [
        ("part parts.toml battery 15 --at 1,2 --car coupe.toml", "“battery” is in parts.toml"),
        ("part parts.toml x 15 --at 1,2", "BOOK: does not say its units"),
        ("part new.toml x 15 --at 1,2", "--units: is missing: say --units metric (kg)"),
        ("part new.toml x --at 1,2 --units us", "READING: got 0: give one for each pad"),
        ("part new.toml x 5 6 --tare 1 --at 1,2 --units us", "--tare: has 1 numbers for 2"),
        ("part new.toml x 5 --units us", "--at: is missing: say how far behind"),
        ("part new.toml x 5a --at 1,2 --units us", "reading: “a” is not a unit for this"),
        ("part new.toml x 5 --tare 6 --at 1,2 --units us", "reading: leaves nothing of the part"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_written(
    garage: Path, run: Run, line: str, fault: str
) -> None:
    before = Path("parts.toml").read_bytes()
    ran = run(line)
    assert (ran.status, ran.out) == (2, "")
    assert fault in ran.err
    assert Path("parts.toml").read_bytes() == before
    assert not Path("new.toml").exists()


def test_half_of_this_and_that_less_those(garage: Path, run: Run) -> None:
    with Path("parts.toml").open("a", encoding="utf-8") as book:
        book.write(
            """
[[part]]
name = "harness"
mass = 8
uncertainty = 0.3
aft = 600
left = 0

[[part]]
name = "kit"
of = ["half of harness", "battery", "-0.25 alloy engine"]
plus = 30
"""
        )
    parts = read_parts("parts.toml", read_car("coupe.toml")).parts
    engine = 60 + 54.5 - 3 + 7.5
    assert parts["kit"].mass == pytest.approx(4 + 15.5 - engine / 4 + 30)
    by_hand = (4 * 0.6 + 15.5 * -0.25 - engine / 4 * -0.02) / (4 + 15.5 - engine / 4)
    assert parts["kit"].aft == pytest.approx(by_hand)


@pytest.mark.parametrize(
    ("of", "fault"),
    [
        ('["batery"]', "“batery” is no part above it: did you mean battery?"),
        ('["kit"]', "“kit” is no part above it"),
        ('["-battery"]', "leaves nothing of the part"),
        ("[]", "has 0 values"),
    ],
)
def test_a_sum_of_nothing_is_refused(garage: Path, run: Run, of: str, fault: str) -> None:
    with Path("parts.toml").open("a", encoding="utf-8") as book:
        book.write(f'\n[[part]]\nname = "kit"\nof = {of}\n')
    ran = run("parts coupe.toml 302 288.5 231 244 --book parts.toml")
    assert (ran.status, ran.out, ran.err.count("\n")) == (2, "", 1), ran.err
    assert fault in ran.err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("'' 5 --at 900,0", "NAME: is blank: "),
        ("'a\x7fb' 5 --at 900,0", "NAME: “a\\x7fb” has a control character in it: "),
        ("'a\nb' 5 --at 900,0", "NAME: “a\\nb” has a control character in it: "),
        (f"{'a' * 201} 5 --at 900,0", "NAME: has 201 characters: 200 at most"),
        ("seat 5 --at 900000,0", "--at: 900000 mm is out of reason: "),
        ("seat 1e308 1e308 --at 900,0", "reading: 1e+308 is out of reason: "),
        ("'a\udcff' 5 --at 900,0", "NAME: is not UTF-8 text: "),
        (f"seat 5 --at 900,0 --note {'n' * 5000}", "--note: has 5000 characters: "),
    ],
)
def test_what_no_book_may_hold_is_not_put_into_it(
    words: str, said: str, run: Run, garage: Path
) -> None:
    """It would be refused ever after, with all that was in it before."""
    before = (garage / "parts.toml").read_bytes()
    for book in ("parts.toml", "shelf.toml"):
        ran = run(f"part {book} {words} --car coupe.toml")
        assert ran[:2] == (2, "")
        assert ran.err.startswith(said)
    assert (garage / "parts.toml").read_bytes() == before
    assert not (garage / "shelf.toml").exists()


def test_a_note_of_odd_characters_is_read_again(run: Run, garage: Path) -> None:
    assert run("part shelf.toml seat 5 --at 900,0 --units metric --note 'a\x7fb'").status == 0
    assert run("part shelf.toml belt 2 --at 900,0").status == 0
