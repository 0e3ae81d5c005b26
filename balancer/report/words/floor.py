"""What is known on these pads, and what another floor leaves open: two uncertainties, two words."""

from collections.abc import Iterator
from math import isfinite

from balancer.car.model import Scales
from balancer.files.units import METRIC, Units
from balancer.report.words.numbers import amount, number, uncertainty
from balancer.weighing.weigh import WeighIn

HERE, ELSEWHERE = "on these pads", "on another floor"


def apart(here: float, elsewhere: float, decimals: int = 2) -> str:
    """Say how well the cross weight is known, in points: by weighing again here, and in truth.

    Args:
        here, elsewhere: Standard uncertainties, as fractions.

    Examples:
        >>> apart(0.0005, 0.0033)
        '± 0.05 on these pads, ± 0.33 on another floor'
    """
    near, far = (uncertainty(100 * standard, decimals) for standard in (here, elsewhere))
    return f"{near} {HERE}, {far} {ELSEWHERE}"


def cross_apart(weighed: WeighIn) -> str:
    """Say the same of a weigh-in; where nothing tells how loads answer to pads, that it can't be.

    Examples:
        >>> import numpy as np
        >>> from balancer.car.model import plain_car
        >>> from balancer.weighing.weigh import Readings, weigh
        >>> cross_apart(weigh(plain_car(), Readings.of(np.full(4, 2500.0))))
        '± 0.05 on these pads, ± 0.32 on another floor'
    """
    if not isfinite(weighed.cross_per_pad):
        return f"{uncertainty(100 * weighed.repeatable.cross, 2)} {HERE}"
    return apart(weighed.repeatable.cross, weighed.uncertainties.cross)


def floor_lines(
    scales: Scales, weighed: WeighIn, units: Units, brief: bool = False
) -> Iterator[str]:
    """Say what a pad that is not level is worth on this car, and how level they are taken to be.

    Args:
        brief: Leave out who says so, for paper.
    """
    if not isfinite(weighed.cross_per_pad):
        yield (
            "What pads that are not level do to the cross weight can't be told without springs and"
            " motion ratios: another floor may say otherwise."
        )
        return
    shim, lift = ("1 mm", 1e-3) if units is METRIC else ("0.1 in", 2.54e-3)
    worth = number(100 * lift * weighed.cross_per_pad, 2)
    if brief:
        level = f"± {amount(scales.level, 'length', units, unit=True)}"
        yield f"{shim} under one wheel is worth {worth} points; pads level to {level}."
        return
    yield (
        f"{shim} under one wheel is worth {worth} points of cross weight on this car;"
        f" {level_words(scales, units, bool(weighed.readings.pad_heights.any()))}."
    )


def level_words(scales: Scales, units: Units, measured: bool = False) -> str:
    """Say how level the pads stand, and who says so.

    Args:
        measured: Whether their heights are known, so that it is these that are not sure.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> print(level_words(plain_car().scales, METRIC))
        the pads are taken as level to ± 1.0 mm each (common practice, no published source: say [scales] level)
    """  # noqa: E501
    level = f"± {amount(scales.level, 'length', units, unit=True)} each"
    what = "heights of the pads are" if measured else "pads are"
    known = "known" if measured else "level"
    if scales.level_stated:
        return f"the {what} {known} to {level}, as [scales] says"
    source = "common practice, no published source: say [scales] level"
    return f"the {what} taken as {known} to {level} ({source})"
