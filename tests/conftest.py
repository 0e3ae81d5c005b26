"""What tests share: the shipped examples and random cars."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
from hypothesis import settings

from balancer.car.model import Car
from balancer.cli.terminal import waiting

# How long an example takes says how busy the machine is. A developer's run goes looking for new
# counterexamples; CI judges a change, and the same change must get the same verdict twice.
settings.register_profile("balancer", deadline=None, derandomize=bool(os.environ.get("CI")))
settings.load_profile("balancer")

ROOT = Path(__file__).resolve().parent.parent
COUPE = ROOT / "examples" / "coupe.toml"
ROADSTER = ROOT / "examples" / "roadster_us.toml"
WEIGH_IN = ROOT / "examples" / "weigh_in.toml"


@pytest.fixture(autouse=True)
def _in_root(monkeypatch: pytest.MonkeyPatch) -> None:
    """Run every test where the README's commands run."""
    monkeypatch.chdir(ROOT)


@pytest.fixture(autouse=True)
def _busy_machine(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a slow machine add no line of waiting to what a test reads, unless it asks for one."""
    monkeypatch.setattr(waiting, "_SILENCE", 1e6)


def random_car(rng: np.random.Generator, rigid: bool = False) -> Car:
    """Make a car with four different corners; rates in N/m, lengths in m."""
    return Car(
        name="random car",
        wheelbase=rng.uniform(2.2, 2.7),
        tracks=rng.uniform(1.3, 1.6, 2),
        spring_rate=rng.uniform(30e3, 120e3, 4),
        motion_ratio=rng.uniform(0.55, 0.95, 4),
        tire_rate=np.full(4, np.inf) if rigid else rng.uniform(180e3, 300e3, 4),
        unsprung_mass=rng.uniform(20, 40, 4),
        bar_rate=np.zeros(2),
        perch_lead=rng.uniform(1e-3, 2e-3, 4),
        perch_step=np.full(4, 0.25),
        perch_travel=np.tile([-10.0, 10.0], (4, 1)),
        cg_up=0.0,
    )


def random_loads(rng: np.random.Generator) -> np.ndarray:
    """Make four loads [N] of a light car."""
    return rng.uniform(1800.0, 3200.0, 4)
