"""What plans start from: a car file read, and the car weighed, with what its log knows."""

import os
from typing import Any, NamedTuple

from balancer.car.conventions import Floats
from balancer.car.model import Item
from balancer.car.statics import statics_of
from balancer.files.car_file import CarFile, operating_faults
from balancer.files.on_board import words_of
from balancer.report.words.opening import Aboard, aboard_in
from balancer.weighing.weigh import WeighIn, weigh


class Weighed(NamedTuple):
    """A car file read, and the car weighed.

    Attributes:
        aboard: What was on board, and who said so.
        learned: (6, 6), covariance of the belief in the rates of the car; None where they are as
            the file has them.
    """

    file: CarFile
    weigh_in: WeighIn
    aboard: Aboard
    learned: Floats | None = None

    @property
    def was(self) -> tuple[Item, ...]:
        """What was on board."""
        return self.aboard.items

    @property
    def words(self) -> tuple[str, ...]:
        """What was on board, so that it can be said again."""
        return words_of(self.was, self.file.units, self.file.car.on_board)

    @property
    def source(self) -> dict[str, Any]:
        """What JSON says of where the readings are from, if from the log."""
        source = self.weigh_in.readings.source
        return {"from_log": source._asdict()} if source else {}


def last_weighed(file: CarFile) -> tuple[Weighed, list[str]]:
    """Weigh a car by the last weigh-in of its log, as whatever plans for it needs it.

    Returns:
        With what is to be said of it.

    Raises:
        InputError: When nothing was weighed, or what was read can't be.
    """
    from balancer.files.checks.plausible import refuse_bounces
    from balancer.log.car_from_log import car_from_log
    from balancer.log.lookup import readings_from

    with operating_faults(file):
        readings = readings_from("log", file)
        weigh_in = weigh(file.car, readings)
    refuse_bounces(file, weigh_in.loads)
    logged, remark, learned = car_from_log(file)
    tied, odd_travel = tied_to(logged, weigh_in)
    said = [*readings.remarks, *filter(None, [remark]), *odd_travel]
    return Weighed(tied, weigh_in, aboard_in(tied, readings, learned), learned), said


def tied_to(file: CarFile, weigh_in: WeighIn) -> tuple[CarFile, list[str]]:
    """Tie a car to where its corners stood on the pads, and say what is odd about that."""
    statics = statics_of(file.car, weigh_in.loads + weigh_in.pad_effect)
    with operating_faults(file):
        tied, odd = file._replace(car=statics.anchored()), statics.odd_travel()
    if not odd:
        return tied, []
    from balancer.report.perches.corners import oddities

    name = os.path.basename(file.path)
    return tied, [f"{name}: {text}" for text in oddities(odd, file.units)]
