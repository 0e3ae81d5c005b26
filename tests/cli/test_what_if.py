"""Plans for a car as it will be: parts of a book or typed, in what plans from readings."""

from __future__ import annotations

from typing import Any

import pytest

from tests.cli.conftest import Run, write_upright
from tests.cli.test_contract import LOADS, four

pytestmark = pytest.mark.usefixtures("garage")

TYPED = "fueled.toml 302 288.5 231 244"
ALLOY = "--book parts.toml --variant alloy"
COMMANDS = ("trim", "ballast", "perches", "prep")
LOADS_IN = {
    "trim": lambda found: found["was"]["loads"],
    "perches": lambda found: found["now"]["loads"],
    "prep": lambda found: found["as_weighed"]["loads"],
}


def loads_of(name: str, found: dict[str, Any]) -> list[float]:
    return list(four(LOADS_IN[name](found)))


@pytest.mark.parametrize("name", LOADS_IN)
def test_a_variant_of_the_book_is_in_the_plan(name: str, run: Run) -> None:
    (alloy,) = run(f"parts {TYPED} {ALLOY} --json").json["variants"]
    found = run(f"{name} {TYPED} {ALLOY} --json").json
    assert loads_of(name, found) == pytest.approx(four(alloy["loads"]))
    assert found["what_if"] == ["iron engine off", "alloy engine on"]
    assert found["car"] == "Heron Lane coupe"


def test_ballast_is_for_the_car_as_it_will_be(run: Run) -> None:
    now, then = (run(f"ballast {TYPED} {more} --json").json for more in ("", ALLOY))
    without = [found["total"] - found["added"] for found in (now, then)]
    assert without[1] - without[0] == pytest.approx(-39.5)
    assert then["added"] > now["added"] + 20


@pytest.mark.parametrize("name", LOADS_IN)
def test_a_part_typed(name: str, run: Run) -> None:
    """A part over the middle of the rear axle is on the two rear wheels."""
    on = run(f"{name} {TYPED} --part 'jack box=10@2405,0' --json").json
    typed = TYPED.replace("fueled.toml", write_upright("fueled.toml"))
    upright = loads_of(name, run(f"{name} {typed} --part 'jack box=10@2405,0' --json").json)
    assert upright[2] + upright[3] == pytest.approx(231 + 244 + 10)
    now = loads_of(name, on)
    assert 0.1 < now[2] + now[3] - sum(upright[2:]) < 0.2, "and the car squats under it"
    assert on["what_if"] == ["jack box on"]
    both = run(
        name, *TYPED.split(), "--part=jack box=10@2405,0", "--part=jack box=-10@2405,0", "--json"
    )
    assert loads_of(name, both.json) == pytest.approx(LOADS)
    off = run(name, *TYPED.split(), "--part", "battery=-22lb@-250mm,420,700", "--json").json
    assert sum(loads_of(name, off)) == pytest.approx(sum(LOADS) - 22 * 0.45359237)
    assert off["what_if"] == ["battery off"]


@pytest.mark.parametrize("name", COMMANDS)
def test_it_is_said_first(name: str, run: Run) -> None:
    out = run(f"{name} {TYPED} {ALLOY}").out
    opening = " ".join(out.partition("\n\n")[0].split())
    assert opening.startswith("Heron Lane coupe, on the pads with")
    assert (
        "What if: iron engine off, alloy engine on."
        " All below is for the car as it will be, not as weighed." in opening
    )
    assert max(map(len, out.split("\n"))) <= 80


def test_a_picture_says_so(run: Run, garage: Any) -> None:
    run(f"perches {TYPED} {ALLOY} --svg plan.svg")
    assert "as it will be" in (garage / "plan.svg").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("words", "fault"),
    [
        ("--variant alloy", "--variant: there is no book to look in: give --book FILE"),
        ("--book parts.toml", "--book: nothing of it is asked for: name a --variant"),
        (
            "--book parts.toml --variant aloy",
            "--variant: “aloy” is not in the book (parts.toml): did you mean alloy?",
        ),
        (
            "--book parts.toml --variant alloy --variant aft",
            "--variant: “iron engine off” more than once: name one of them",
        ),
        (
            "--part jack=10",
            "--part jack: “jack=10” is no part and its place:"
            " write NAME=MASS@AFT,LEFT, as in “jack=4.5@2300,-200”",
        ),
        ("--part jack=ten@1,2", "--part jack: “ten” is not a number: write a mass like 4.5"),
        (
            "--part jack=0@1,2",
            "--part jack: has no mass that a part could have: expected 3000 kg at most",
        ),
        (
            "--part jack=1@9000,2",
            "--part jack: is nowhere near the car: expected -2405 to 4810 mm aft",
        ),
        (
            "--part driver=-78@1420,340",
            "--part driver: “driver” is in [[on_board]]: say it with --weighed-with and --to",
        ),
    ],
)
@pytest.mark.parametrize("name", COMMANDS)
def test_slips(name: str, words: str, fault: str, run: Run) -> None:
    status, out, err = run(f"{name} {TYPED} {words}")
    assert (status, out) == (2, "")
    assert fault in err.splitlines()
