"""What a perch plan says of its proof: of each way by itself, in text and JSON."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from balancer.car.conventions import GRAVITY
from balancer.files.car_file import CarFile
from balancer.files.car_reader import read_car
from balancer.planning.perches.goal import PerchGoal
from balancer.planning.perches.plan import PerchPlan, plan_perches
from balancer.report.perches.moves import places_turned
from balancer.report.perches.plan import perches_text, proof_line
from balancer.report.perches.plan_json import perches_json
from balancer.weighing.weigh import Readings, WeighIn, weigh
from tests.conftest import ROOT


def test_each_way_carries_its_own_proof() -> None:
    file = read_car(ROOT / "examples" / "coupe.toml")
    loads = GRAVITY * np.array([302, 288.5, 231, 244])
    weighed = weigh(file.car, Readings(loads[None], np.zeros(4), np.zeros(4)))
    plan = plan_perches(file.car, loads, PerchGoal.level(0.5))
    assert plan.alternatives
    assert all(one["proved"] for one in each_of(file, weighed, plan))
    assert "Proved of each way: no allowed turns" in perches_text(file, weighed, plan)
    first, *rest = plan.alternatives
    unsure = replace(plan, alternatives=(first._replace(proved=False), *rest))
    told = [one["proved"] for one in each_of(file, weighed, unsure)]
    assert told == [True, False, *[True] * len(rest)]
    assert proof_line(unsure).endswith(f"corners: {places_turned(first)}.")
    unsure = replace(plan, best=plan.best._replace(proved=False))
    assert proof_line(unsure).startswith("Best found, not proved")
    assert "Proved of each way" not in perches_text(file, weighed, unsure)


def each_of(file: CarFile, weighed: WeighIn, plan: PerchPlan) -> list[dict[str, Any]]:
    told = perches_json(file, weighed, plan)
    return [told, *told["alternatives"]]
