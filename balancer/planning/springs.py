"""Springs exchanged: what that does while the perches stay, and the turns that make it good."""

from dataclasses import dataclass

from balancer.car.answers import Resprung, Springs
from balancer.car.conventions import Floats
from balancer.car.model import Car
from balancer.car.statics import statics_of
from balancer.planning.perches.goal import NOTHING_ASKED, Aim, Asked, aim_of
from balancer.planning.perches.plan import PerchPlan
from balancer.planning.session.plan import believed_plan


@dataclass(frozen=True, eq=False)
class SpringPlan:
    """A car on other springs.

    Attributes:
        springs: What is put in.
        before: (4,), loads on the old springs [N].
        resprung: On the new ones, no perch turned yet.
        aim: For the car on its new springs; heights are to go back to what they were.
        plan: From there.
    """

    springs: Springs
    before: Floats
    resprung: Resprung
    aim: Aim
    plan: PerchPlan

    @property
    def shown(self) -> Resprung:
        """On the new springs as it stands: a wheel that would have to pull is off the ground."""
        tied = self.resprung
        stands = statics_of(tied.car, tied.loads).standing
        return tied._replace(loads=stands.loads, heights=tied.heights + stands.rise)

    @property
    def heights(self) -> Floats:
        """How far the body stands above where it was, the turns made (4,) [m]."""
        return self.resprung.heights + self.plan.best.height_change


def plan_springs(
    car: Car,
    loads: Floats,
    springs: Springs,
    asked: Asked = NOTHING_ASKED,
    cross_uncertainty: float = 0.0,
    learned: Floats | None = None,
) -> SpringPlan:
    """Work out what other springs do to a car, and the turns that make it good.

    Args:
        loads: (4,), on the old springs, on level pads [N].
        asked: Beyond the car file; a rise is counted from the heights on the old springs.
        cross_uncertainty: Standard uncertainty of the cross weight, as a fraction.
        learned: (3, 3) or None, covariance of what is believed of the car.

    Returns:
        A linear car is taken to have anti-roll bars that carry nothing as it stands.

    References:
        Derived here; tests/oracles has the springs of a simulated car really changed.

    Examples:
        >>> import numpy as np
        >>> from balancer.car.model import plain_car
        >>> stiffer = Springs(np.array([80e3, 80e3, np.nan, np.nan]), np.zeros(4))
        >>> found = plan_springs(plain_car(), np.full(4, 2500.0), stiffer)
        >>> (1e3 * found.resprung.heights[:2]).round(1).tolist(), found.plan.status
        ([9.1, 9.1], 'reached')
    """
    resprung = statics_of(car, loads).resprung(springs)
    back = asked._replace(rise=asked.rise - resprung.heights)
    aim = aim_of(resprung.car, resprung.loads, back)
    plan = believed_plan(resprung.car, resprung.loads, aim.goal, cross_uncertainty, learned)
    return SpringPlan(springs, statics_of(car, loads).standing.loads, resprung, aim, plan)
