"""Each command says which state it takes a car to stand in, who said so, and what it aims for."""

from __future__ import annotations

from pathlib import Path

import pytest

from balancer.car.model import Item
from balancer.files.car_reader import read_car
from balancer.report.words.opening import Aboard, state_line


@pytest.fixture
def car(garage: Path) -> str:
    return str(garage / "coupe.toml")


@pytest.mark.parametrize(
    ("was", "known"),
    [
        (Aboard((), "said"), "nothing on board (as said)."),
        (Aboard((), "file"), "nothing on board (from the readings file)."),
        (Aboard((), "log", 12, "2026-06-13"), "(from the log, entry 12, 2026-06-13)."),
        (Aboard(()), "(assumed: say --weighed-with for another)."),
        (Aboard((Item("driver", 78, 1.4, 0.3, 0.4),)), "on the pads with driver (assumed"),
    ],
)
def test_a_state_is_said_with_who_said_it(was: Aboard, known: str, car: str) -> None:
    told = state_line(read_car(car), was)
    assert known in " ".join(told.split())
    assert max(map(len, told.split("\n"))) <= 80
