"""The cautions that go with every plan that sends somebody under a car."""

from balancer.car.model import Car

PERCHES = """\
Care: put the car on stands on level ground, never work under a car on a jack.
A spring stores energy: support the car and unload the spring before turning a
perch, and lock the perch afterwards. After a height change see that nothing
binds or touches at full droop and full bump. Settle the car, then weigh again.
In doubt ask a qualified mechanic."""

SPACERS = """\
Care: put it on a stand that can't tip, on level ground, and never work under it
while it hangs. Support the axle before it is loosened; change spacers and
tighten as the maker says. After a height change see that nothing binds or
touches, steering lock to lock. Settle it, then weigh again. In doubt ask a
qualified mechanic."""

SPRINGS = """\
Care: a spring that flies off breaks bones and can kill. Put the car on stands
on level ground, never work under a car on a jack. Let the shock out to full
droop and wind the perch down, counting the turns, until the spring is loose in
your hand; one that is still pressed there needs a spring compressor, and nobody
in its line. Wind the perch back by the same turns. See that the new spring has
the right inner diameter, is not solid at full bump and stays seated at full
droop. Then turn as told, lock the perches, settle the car and weigh again. In
doubt ask a qualified mechanic."""

BALLAST = """\
Care: ballast that comes loose kills. Fasten it as the class rules say, with the
bolts and washers they ask for, to structure and not to sheet metal, and have it
looked at. The rule book and the scrutineer decide, not this plan."""


def turning_care(car: Car) -> str:
    """Pick the caution for turning perches, or for spacers where no axle has springs.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> "spring" in turning_care(plain_car())
        True
    """
    return SPACERS if car.solid.all() else PERCHES
