"""Several cars beside each other: in one state, and as cars, not as one that has changed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.conftest import Run


@pytest.fixture(autouse=True)
def cars(garage: Path) -> None:
    """Put two more cars beside the coupe, and readings of each."""
    text = (garage / "fueled.toml").read_text(encoding="utf-8")
    for number, name in enumerate(("red", "blue"), 1):
        (garage / f"{name}.toml").write_text(
            text.replace('name = "Heron Lane coupe"', f'name = "{name} one"'), encoding="utf-8"
        )
        four = f"[[{290 + 10 * number}, 280, 240, {230 + number}]]"
        on_board = ('["driver"]', '["driver", "fuel=20"]')[number - 1]
        (garage / f"{name}_in.toml").write_text(
            f"readings = {four}\non_board = {on_board}\n", encoding="utf-8"
        )


LINE = "compare fueled.toml may.toml red_in.toml blue_in.toml --other-car red.toml"


def test_columns_side_by_side(run: Run) -> None:
    ran = run(f"{LINE} --other-car blue.toml")
    assert (ran.status, ran.err) == (0, "")
    lines = ran.out.splitlines()
    assert lines[0] == "3 cars, carried to one state."
    head = next(line for line in lines if line.startswith("kg"))
    assert [head.index(name) for name in ("Heron Lane", "red one", "blue one")] == sorted(
        head.index(name) for name in ("Heron Lane", "red one", "blue one")
    )
    assert "centered" not in ran.out
    assert "More by" not in ran.out
    assert max(map(len, lines)) <= 80


def test_each_is_carried_to_the_state_asked_for(run: Run) -> None:
    told = run(f"{LINE} --other-car blue.toml --state driver,fuel=8 --json").out.splitlines()
    found = [json.loads(line) for line in told]
    assert [one["other_car"] for one in found] == ["red one", "blue one"]
    trims = [
        run(f"trim {name}.toml --readings {read}.toml --to driver,fuel=8 --json").json
        for name, read in (("fueled", "may"), ("red", "red_in"), ("blue", "blue_in"))
    ]
    totals = [trim["total"] for trim in trims]
    assert [one["total"] for one in found] == pytest.approx(
        [total - totals[0] for total in totals[1:]]
    )
    for one in found:
        assert one["carried_to"] == ["driver", "fuel=8"]
        assert (one["added"]["aft"], one["added"]["left"]) == (None, None)
        assert one["added_place"] == "other_car"


@pytest.mark.parametrize(
    ("line", "fault"),
    [
        (f"{LINE} --other-car blue.toml --other-car red.toml", "--other-car: got 3 for 2 readings"),
        (f"{LINE} --state none --as-weighed", "--state: carries nothing here: leave --as-weighed"),
        ("compare fueled.toml may.toml june.toml --state none", "--state: carries nothing here"),
        (f"{LINE} --state nobody", "--state (fueled.toml): “nobody” is not in the car file"),
    ],
)
def test_faults(run: Run, line: str, fault: str) -> None:
    ran = run(line)
    assert (ran.status, ran.out) == (2, "")
    assert fault in ran.err
