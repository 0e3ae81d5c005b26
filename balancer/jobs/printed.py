"""Results whose `str` is what their command prints, in the units of a file, in 80 columns."""

from dataclasses import dataclass

from balancer.car.conventions import Floats
from balancer.car.meaning import Meaning
from balancer.files.car_file import CarFile
from balancer.planning.ballast.margin import margin_of
from balancer.planning.ballast.outcome import BallastPlan
from balancer.planning.perches.plan import PerchPlan
from balancer.planning.prep.preparation import Preparation
from balancer.planning.session.session import Session
from balancer.planning.session.step import Step
from balancer.report.ballast import ballast_text
from balancer.report.check import check_text
from balancer.report.perches.plan import perches_text
from balancer.report.prep import prep_text
from balancer.report.session import step_text
from balancer.report.weighing.compare import compare_text
from balancer.report.weighing.parts import parts_text
from balancer.report.weighing.trim import trim_text
from balancer.report.weighing.weigh import weigh_text
from balancer.weighing.comparison import Difference
from balancer.weighing.load_states import Trim
from balancer.weighing.parts import Variant
from balancer.weighing.weigh import WeighIn


@dataclass(frozen=True, eq=False, kw_only=True)
class _Printed:
    file: CarFile

    def __str__(self) -> str:
        """Lay it out."""
        return self._laid_out()

    def _laid_out(self) -> str:
        raise NotImplementedError


@dataclass(frozen=True, eq=False, kw_only=True)
class PrintedWeighIn(_Printed, WeighIn):
    """A weigh-in, printed as by `balancer weigh`."""

    def _laid_out(self) -> str:
        return weigh_text(self.file, self)


@dataclass(frozen=True, eq=False, kw_only=True)
class PrintedTrim(_Printed, Trim):
    """A car in another state, printed as by `balancer trim`.

    Attributes:
        was: As weighed.
    """

    was: Trim

    def _laid_out(self) -> str:
        return trim_text(self.file, self.was, {"": self})


@dataclass(frozen=True, eq=False, kw_only=True)
class PrintedDifference(_Printed, Difference):
    """Two weigh-ins beside each other, printed as by `balancer compare`.

    Attributes:
        weighed: The first and the second.
        predicted: (4,) or None, change of the loads that was expected [N].
    """

    weighed: tuple[WeighIn, WeighIn]
    predicted: Floats | None

    def _laid_out(self) -> str:
        return compare_text(self.file, self.weighed, ("first", "second"), self, self.predicted)


@dataclass(frozen=True, eq=False, kw_only=True)
class PrintedVariant(_Printed, Variant):
    """What a set of changes does to a car, printed as by `balancer parts`.

    Attributes:
        before: The car without them.
    """

    before: Trim

    def _laid_out(self) -> str:
        return parts_text(self.file, (self.before.loads, self.before.shares), [self])


@dataclass(frozen=True, eq=False, kw_only=True)
class PrintedPerchPlan(_Printed, PerchPlan):
    """A perch plan, printed as by `balancer perches`.

    Attributes:
        weighed: What it was made from.
    """

    weighed: WeighIn

    def _laid_out(self) -> str:
        return perches_text(self.file, self.weighed, self)


@dataclass(frozen=True, eq=False, kw_only=True)
class PrintedBallastPlan(_Printed, BallastPlan):
    """A ballast plan, printed as by `balancer ballast`.

    Attributes:
        racing: The car before it.
    """

    racing: Trim

    def _laid_out(self) -> str:
        return ballast_text(self.file, self.racing, self, {})


@dataclass(frozen=True, eq=False, kw_only=True)
class PrintedPreparation(_Printed, Preparation):
    """A preparation, printed as by `balancer prep`, for pads that are level.

    Attributes:
        total_uncertainty: Standard uncertainty of the total as weighed [N].
    """

    total_uncertainty: float

    def _laid_out(self) -> str:
        return prep_text(self.file, self, margin_of(self.file.car, self.total_uncertainty))


@dataclass(frozen=True, eq=False, kw_only=True)
class PrintedStep(_Printed, Step):
    """What a weigh-in of a session comes to, printed as by `balancer session`.

    Attributes:
        session: Up to that weigh-in.
    """

    session: Session

    def _laid_out(self) -> str:
        return step_text(self.file, self.session, self)


@dataclass(frozen=True, eq=False, kw_only=True)
class PrintedMeaning(_Printed, Meaning):
    """What a car file means, printed as by `balancer check`."""

    def _laid_out(self) -> str:
        return check_text(self.file, self)
