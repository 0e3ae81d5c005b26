"""Readings that look like a slip: how far off is too far, and what may have been meant."""

from __future__ import annotations

import numpy as np
import pytest

from balancer.planning.session.plausibility import Suspect, odd_pad, other_order, suspect_reading

LOADS = np.array([3000.0, 2600.0, 2200.0, 2400.0])
EVEN = np.array([1.0, -1.0, -1.0, 1.0])


def test_pads_that_were_swapped_may_each_be_off_by_a_twenty_fifth() -> None:
    """Front pads typed for each other, the left one 3.9 % above what was to be, or 4.1 %."""
    near, far = (LOADS + np.array(off) for off in ([117.0, 0, -30, -87], [123.0, 0, -40, -83]))
    found = suspect_reading(near[[1, 0, 2, 3]], LOADS)
    assert found is not None
    assert (found.kind, found.pads) == ("swapped", ("LF", "RF"))
    assert found.meant.tolist() == near.tolist()
    assert suspect_reading(far[[1, 0, 2, 3]], LOADS) is None


@pytest.mark.parametrize("way", [1, -1])
def test_one_pad_alone_is_wrong_from_twice_that_on(way: int) -> None:
    """7.9 % and 8.1 % of the left rear one, less than a fiftieth of the whole."""
    assert suspect_reading(LOADS * [1, 1, 1 + 0.079 * way, 1], LOADS) is None
    found = suspect_reading(LOADS * [1, 1, 1 + 0.081 * way, 1], LOADS)
    assert found is not None
    assert (found.kind, found.pads) == ("digit", ("LR",))
    assert found.meant.tolist() == LOADS.tolist()


def test_a_total_is_asked_about_from_a_fiftieth_on() -> None:
    """All pads alike, within what each may be off: 2 % of the whole, up and down."""
    for share in (0.0199, -0.0199):
        assert suspect_reading((1 + share) * LOADS, LOADS) is None
    for share in (0.0201, -0.0201):
        found = suspect_reading((1 + share) * LOADS, LOADS)
        assert found is not None
        assert (found.kind, found.pads) == ("total", ())
        assert found.meant.tolist() == LOADS.tolist()


@pytest.mark.parametrize("factor", [10.0, 0.1])
def test_a_point_in_the_wrong_place_is_read_where_it_ought_to_be(factor: float) -> None:
    """The other pads are further from what was expected than this one then is."""
    now = LOADS + np.array([60.0, 15.0, -50, -20])
    found = suspect_reading(now * [1, factor, 1, 1], LOADS)
    assert found is not None
    assert (found.kind, found.pads) == ("digit", ("RF",))
    assert found.meant == pytest.approx(now)


def test_pads_off_for_no_reason_that_is_known_are_believed() -> None:
    """Two pads off by a tenth, one up, one down, is no slip of typing, nor does the total jump."""
    assert suspect_reading(LOADS + np.array([300.0, -300, 0, 0]), LOADS) is None


def test_of_two_mistakes_the_one_that_explains_more_is_told() -> None:
    """Front pads typed for each other, where the rear ones are as far apart."""
    loads = np.array([3000.0, 2600.0, 2610.0, 2990.0])
    typed = loads[[1, 0, 2, 3]]
    found = suspect_reading(typed, loads)
    assert found is not None
    assert (found.kind, found.pads) == ("swapped", ("LF", "RF"))
    assert found.meant.tolist() == loads.tolist()


@pytest.mark.parametrize(
    ("order", "kind", "pads"),
    [
        ([1, 0, 2, 3], "swapped", ("LF", "RF")),
        ([0, 1, 3, 2], "swapped", ("LR", "RR")),
        ([1, 0, 3, 2], "sides", ("LF", "RF", "LR", "RR")),
        ([2, 3, 0, 1], "rows", ("LF", "RF", "LR", "RR")),
    ],
)
def test_another_order_than_ever_before_is_told(
    order: list[int], kind: str, pads: tuple[str, ...]
) -> None:
    """Turns in between move loads along the free pattern, and fuel their sum: neither is asked."""
    now = 1.03 * (LOADS + 250 * EVEN)
    found = other_order(now[order], [LOADS * 0.97, LOADS], EVEN)
    assert found is not None
    assert (found.kind, found.pads) == (kind, pads)
    assert found.meant == pytest.approx(now)
    assert other_order(now, [LOADS], EVEN) is None
    assert other_order(now[order], [], EVEN) is None


def test_masses_that_move_within_a_season_are_no_other_order() -> None:
    """Six thousandths of the total, off the free pattern.

    From left to right on both axles by d each moves four pads by d: 2·d off.
    """
    total, side = LOADS.sum(), np.array([1.0, -1, 1, -1])
    even = np.array([2501.0, 2500, 2500, 2501]) * total / 10002

    def moved(share: float) -> Suspect | None:
        return other_order(even - side * share * total / 4, [even + side * share * total / 4], EVEN)

    assert moved(0.0059) is None
    found = moved(0.0061)
    assert found is not None
    assert found.kind == "sides"


def test_an_order_that_is_hardly_better_is_not_told() -> None:
    """Not a third as far off as what was typed, by no order."""
    heavy = LOADS + np.array([400.0, 0, 400, 0])
    assert other_order(heavy, [LOADS], EVEN) is None


@pytest.mark.parametrize("pad", range(4))
def test_a_pad_a_quarter_of_the_others_is_odd_and_a_tenfold_one(pad: int) -> None:
    loads = np.full(4, 2400.0)
    loads[pad] = 601.0
    assert odd_pad(loads) is None
    loads[pad] = 600.0
    found = odd_pad(loads)
    assert found is not None
    assert found.meant[pad] == pytest.approx(6000.0)
    loads[pad] = 9599.0
    assert odd_pad(loads) is None
    loads[pad] = 9600.0
    found = odd_pad(loads)
    assert found is not None
    assert (found.kind, len(found.pads)) == ("digit", 1)
    assert found.meant[pad] == pytest.approx(960.0)


def test_a_pad_that_no_factor_of_ten_mends_is_not_guessed_at() -> None:
    """A hundredth of the others: ten times as much is a tenth still; and 45 times as much."""
    assert odd_pad(np.array([2400.0, 24.0, 2400.0, 2400.0])) is None
    assert odd_pad(np.array([2400.0, 2400.0, 2400.0, 108e3])) is None
