"""What commands are handed: a car file read, and the car weighed."""

from __future__ import annotations

from typing import Any, NamedTuple

from balancer.car.conventions import Floats
from balancer.car.model import Item
from balancer.files.car_file import CarFile
from balancer.files.states import words_of
from balancer.report.words.opening import Aboard
from balancer.weighing.weigh import WeighIn


class Weighed(NamedTuple):
    """A car file read, and the car weighed.

    Attributes:
        aboard: What was on board, and who said so.
        learned: (3, 3), covariance of the belief in the rates of the car; None where they are as
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
