"""`balancer compare`: both weigh-ins in one state, and a place only where it means something."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from balancer.car.model import Item, plain_car
from balancer.car.statics import statics_of
from balancer.log.writer import open_log
from balancer.weighing.comparison import BESIDE, OVERHANG, REAL, carried, compare
from balancer.weighing.weigh import Readings, weigh
from tests.cli.conftest import Run

DRIVER = '["driver"]'


def readings(name: str, on_board: str | None, loads: str = "302, 288.5, 231, 244") -> None:
    said = "" if on_board is None else f"on_board = {on_board}\n"
    Path(name).write_text(f"{said}readings = [[{loads}]]\n", encoding="utf-8")


def test_two_people_are_carried_to_one_state(run: Run, garage: Path) -> None:
    readings("a.toml", '["driver=78"]')
    trimmed = run(
        "trim coupe.toml 302 288.5 231 244 --weighed-with driver=78 --to driver=94 --json"
    ).json
    readings("b.toml", '["driver=94"]', ", ".join(str(x) for x in trimmed["loads"].values()))
    status, out, _ = run("compare coupe.toml a.toml b.toml")
    assert status == 0
    first = " ".join(out.split("\n\n")[0].split())
    assert first == (
        "Heron Lane coupe: b.toml less a.toml Both with driver=94 on board, as b.toml says: a.toml"
        " was weighed with driver and is carried over; --as-weighed for the bare difference."
    )
    found = run("compare coupe.toml a.toml b.toml --json").json
    assert found["carried_to"] == ["driver=94"]
    assert list(found["loads"].values()) == pytest.approx([0] * 4, abs=1e-6)
    assert not any(found["real"].values())
    assert found["added_place"] == "no_change"
    bare = run("compare coupe.toml a.toml b.toml --as-weighed --json").json
    assert bare["carried_to"] is None
    assert bare["total"] == pytest.approx(16)
    assert "carried" not in run("compare coupe.toml a.toml b.toml --as-weighed").out


@pytest.mark.parametrize(("was", "now"), [(None, DRIVER), (DRIVER, None), (DRIVER, DRIVER)])
def test_what_nobody_said_is_not_carried(
    was: str | None, now: str | None, run: Run, garage: Path
) -> None:
    readings("a.toml", was)
    readings("b.toml", now)
    assert run("compare coupe.toml a.toml b.toml --json").json["carried_to"] is None


def test_weigh_ins_of_the_log_are_carried(run: Run, garage: Path) -> None:
    both: dict[str, Any] = {"readings": [[302, 288.5, 231, 244]], "units": "metric"}
    with open_log("coupe.log.jsonl") as log:
        for on_board in (["driver"], ["driver", "spare wheel"]):
            log.append("weigh_in", {**both, "on_board": on_board})
    found = run("compare coupe.toml log:1 log:2 --json").json
    assert found["carried_to"] == ["driver", "spare wheel"]
    assert found["total"] == pytest.approx(-14)
    assert found["added_place"] == "on_the_car"
    # It is not known how high that is, so not to the last digit how it leans.
    assert found["added"]["aft"] == pytest.approx(2710, abs=0.1)


@pytest.mark.parametrize(
    ("loads", "said", "place"),
    [
        ("302, 288.5, 232.5, 245.5", "More by 3.0 kg: too small a difference to say", "too_unsure"),
        ("272, 263.5, 236, 259", "Less by 35.0 kg. No one place on the car", "off_the_car"),
        ("302, 288.5, 241, 254", "More by 20.0 kg, centered", "on_the_car"),
        ("302, 288.5, 231, 244.5", "", "no_change"),
    ],
)
def test_a_place_is_told_only_where_it_is_on_the_car(
    loads: str, said: str, place: str, run: Run, garage: Path
) -> None:
    readings("a.toml", DRIVER)
    readings("b.toml", DRIVER, loads)
    out = run("compare coupe.toml a.toml b.toml").out
    told = [part for part in out.split("\n\n") if part.startswith(("More", "Less"))]
    assert [" ".join(one.split())[: len(said)] for one in told] == ([said] if said else [])
    found = run("compare coupe.toml a.toml b.toml --json").json
    assert found["added_place"] == place
    assert found["added"]["mass"] == pytest.approx(found["total"])


def test_a_place_that_is_told_is_on_the_car_and_true() -> None:
    """Masses put on 400 cars: none told off the car, the true place within four times its ±."""
    rng, car = np.random.default_rng(5), plain_car()
    told = 0
    for _ in range(400):
        mass, aft, left = rng.uniform(0, 30), rng.uniform(-0.8, 3.2), rng.uniform(-0.8, 0.8)
        item = Item("ballast", mass, aft, left, 0.3)
        loads = np.array([2950.0, 2850, 2350, 2350])
        after = statics_of(car, loads).carried(put_on=[item], taken_off=())
        weighed = [weigh(car, Readings.of(one)) for one in (loads, after)]
        chol = [np.linalg.cholesky(one.covariance + 1e-9 * np.eye(4)) for one in weighed]
        noisy = [
            replace(one, loads=one.loads + root @ rng.standard_normal(4))
            for one, root in zip(weighed, chol, strict=True)
        ]
        found = compare(car, noisy[0], noisy[1])
        if found.placed(car) != "on_the_car":
            continue
        told += 1
        added = found.added
        for place, sure, true, low, high in (
            (added.aft, added.aft_uncertainty, aft, -OVERHANG, car.aft.max() + OVERHANG),
            (
                added.left, added.left_uncertainty, left,
                car.left.min() - BESIDE, car.left.max() + BESIDE,
            ),
        ):  # fmt: skip
            assert low <= place - REAL * sure
            assert place + REAL * sure <= high
            assert abs(place - true) < 4.5 * sure
    assert told > 100


def test_carried_there_and_back_is_as_weighed() -> None:
    car = plain_car()
    first = weigh(car, Readings.of(np.array([2950.0, 2850, 2350, 2350])))
    driver = Item("driver", 78, 1.4, 0.3, 0.4)
    there = carried(car, first, (), (driver,))
    assert there.shares.total == pytest.approx(first.shares.total + 78 * 9.80665)
    np.testing.assert_allclose(carried(car, there, (driver,), ()).loads, first.loads)
