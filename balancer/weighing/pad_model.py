"""What pads show for a car that is known, on pads and a floor that are known: the way there.

A reading of wheel w on pad i is (1 + g_i)·(N_w + ΔN_w). Pads that differ in thickness, and spots of
the floor that differ in height, shift loads by ΔN = n·nᵀh / (nᵀCn + 1/K), with h under each wheel,
and by what the car leans on them where the height of its center of gravity is known. A floor that
leans moves the center of gravity over the wheels, and the other way when the car is
turned.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from balancer.car.conventions import GRAVITY, Floats, Integers
from balancer.car.leaning import leaned_change
from balancer.car.model import Car
from balancer.car.resting import added_loads

WIDE = 0.02
"""Gain of a pad that nobody has compared, as a standard uncertainty: what is further off is broken
(common practice, no published source). It says how uncertain what is not determined is, and pulls
nothing."""

WIDE_THICKNESS, WIDE_FLOOR = 5e-3, 15e-3
"""The same for how pads differ in thickness, and spots of the floor in height [m]."""

WIDE_LEAN = 0.02
"""The same for how far a leaning floor moves the center of gravity [m]: 4 % of slope or so."""

MIXED = np.array([[1, 1, 1], [1, -1, -1], [-1, 1, -1], [-1, -1, 1]]) / 2
"""Three independent ways in which four pads can differ while their mean stays."""

WARP = np.array([1.0, -1.0, -1.0, 1.0]) / 2
"""Heights that warp the floor: up under LF and RR."""


class PadWeighing(NamedTuple):
    """The car on the pads, read once or several times as it stands.

    Attributes:
        pads: Which pad is under LF RF LR RR.
        repeats: (r, 4), what the pads show, in the order of the wheels [N].
        reversed: The car stands turned round, LF where RR stood.
        heights: (4,) or None, of the pads' tops under the wheels, measured across all four [m];
            None: not measured.
    """

    pads: tuple[str, ...]
    repeats: Floats
    reversed: bool = False
    heights: Floats | None = None


@dataclass(frozen=True, eq=False)
class PadModel:
    """The readings of several weighings as a function of what is not known.

    The unknowns are, in this order: ln N of the four wheels; three coordinates (`MIXED`) of
    ln(1 + g) of the four pads, whose mean is 0; and what `blocks` names.

    Attributes:
        pads: (m, 4), number of the pad under each wheel, in each weighing.
        known: (m, 4), what measured heights and thicknesses add to the loads [N].
        effects: (m, 4, q), what each of the unknowns in `blocks` adds to the loads [N/m].
        blocks: Name to its unknowns [m], a slice: `thickness` (three coordinates of the four),
            `lean` (center of gravity aft and left, of the car not turned round) and `floor`
            (the warped part of the heights, √(Σh²)); each is there only where weighings differ
            in it.
        limits: (7 + q,), standard uncertainty of each unknown before anything is read; infinite
            for the loads.
    """

    pads: Integers
    known: Floats
    effects: Floats
    blocks: dict[str, slice]
    limits: Floats

    def readings(self, unknown: Floats) -> tuple[Floats, Floats]:
        """Give the readings of the weighings and how they change with each unknown.

        Args:
            unknown: (7 + q,)

        Returns:
            (m, 4) [N].
            (m, 4, 7 + q) [N], for those in metres [N/m].
        """
        loads, mixed = np.exp(unknown[:4]), MIXED[self.pads]
        factors = np.exp(mixed @ unknown[4:7])
        shown = factors * (loads + self.known + self.effects @ unknown[7:])
        each, by_pad = factors[..., None], shown[..., None] * mixed
        return shown, np.concatenate([each * np.diag(loads), by_pad, each * self.effects], axis=2)


def pad_model(
    car: Car, weighings: Sequence[PadWeighing], thickness: Mapping[str, float] | None = None
) -> PadModel:
    """Set up what the readings of several weighings depend on.

    Args:
        thickness: Of each pad [m]; None: not known.

    Returns:
        Of a leaning floor only what turning the car round shows. The warp of the floor is taken
        as the same for a car turned round, which it is when both tracks are: the diagonals stay.

    References:
        Derived here from `leaning.leaned_change`; see tests/properties/test_pad_errors.py.
    """
    names = list(weighings[0].pads)
    loads = np.mean([each.repeats.mean(axis=0) for each in weighings], axis=0)
    pads = np.array([[names.index(pad) for pad in each.pads] for each in weighings])
    measured = np.array([each.heights is not None for each in weighings])
    under = np.array([np.zeros(4) if each.heights is None else each.heights for each in weighings])
    bare = np.where(measured, 0.0, 1.0)
    blocks: dict[str, Floats] = {}
    limits = []
    if thickness is not None:
        tall = np.array([thickness[name] for name in names])
        under = under + bare[:, None] * tall[pads]
    elif not measured.all():
        shifts = np.array([leaned_change(car, each.T, loads) for each in MIXED[pads]])
        blocks["thickness"] = bare[:, None, None] * shifts.transpose(0, 2, 1)
        limits += [WIDE_THICKNESS] * 3
    told = [each for each in weighings if not car.cg_up or each.heights is None]
    if len({each.reversed for each in told}) == 2:
        mass = float(np.mean([each.repeats.mean(axis=0).sum() for each in weighings])) / GRAVITY
        way = np.array([-1.0 if each.reversed else 1.0 for each in weighings])
        # What measured heights make a car lean is known with the height of its center of gravity.
        way *= bare if car.cg_up else 1.0
        blocks["lean"] = way[:, None, None] * _lean(car, mass)
        limits += [WIDE_LEAN] * 2
    if len(set(measured.tolist())) == 2:
        blocks["floor"] = (bare[:, None] * leaned_change(car, WARP, loads))[..., None]
        limits += [WIDE_FLOOR]
    where, start = {}, 7
    for name, effect in blocks.items():
        where[name] = slice(start, start + effect.shape[2])
        start = where[name].stop
    return PadModel(
        pads=pads,
        known=leaned_change(car, under, loads),
        effects=np.concatenate([np.zeros((*pads.shape, 0)), *blocks.values()], axis=2),
        blocks=where,
        limits=np.array([np.inf] * 4 + [WIDE] * 3 + limits),
    )


def _lean(car: Car, mass: float) -> Floats:
    """Compute what the loads gain for each metre the center of gravity moves aft, and left."""
    middle = car.wheelbase / 2
    still = added_loads(car, mass, middle, 0.0)
    aft = (added_loads(car, mass, middle + 0.1, 0.0) - still) / 0.1
    left = (added_loads(car, mass, middle, 0.1) - still) / 0.1
    return np.column_stack([aft, left])
