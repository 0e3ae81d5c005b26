"""The body as a rigid or twisting whole: how it moves at the wheels, and what weighs on it.

Its moves are heave, pitch slope, and one roll slope where the chassis is rigid, two, front and
rear, where it twists: n = 3 or 4. All in SI. What takes a car takes a fleet of them as well (see
`fleet`), one more axis in front.
"""

import numpy as np

from balancer.car.conventions import Floats
from balancer.car.model import Car


def twists(car: Car) -> bool:
    """Say whether the chassis gives way in torsion."""
    return not np.isinf(car.torsional_stiffness).all()


def body_basis(car: Car) -> Floats:
    """Give how far each wheel station rises with each move of the body.

    Returns:
        (4, n) [1] for heave, [m] for the slopes.
    """
    front, left = np.array([1.0, 1.0, 0.0, 0.0]), car.left
    roll = [left * front, left * (1 - front)] if twists(car) else [left]
    return np.stack([np.ones(left.shape), car.aft, *roll], axis=-1)


def twist_stiffness(car: Car) -> Floats:
    """Give the stiffness of the chassis itself against the moves of the body.

    Returns:
        (n, n) [N·m/rad] where front and rear roll apart, else 0.
    """
    if not twists(car):
        return np.zeros((3, 3))
    twist = np.asarray(car.torsional_stiffness)[..., None, None]
    stiffness = np.zeros((*twist.shape[:-2], 4, 4))
    stiffness[..., 2:, 2:] = twist * np.array([[1.0, -1.0], [-1.0, 1.0]])
    return stiffness


def weight_arms(car: Car, aft: Floats | float, left: Floats | float) -> Floats:
    """Give what a unit of weight does against each move of the body.

    Args:
        aft, left: Where it is [m].

    Returns:
        (n,), A chassis that twists takes the side moment at front and rear in proportion to
        where the weight sits between the axles.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> weight_arms(plain_car(), 1.2, 0.3).tolist()
        [1.0, 1.2, 0.3]
    """
    moments = [left]
    if twists(car):
        rearward = np.clip(aft / car.wheelbase, 0.0, 1.0)
        moments = [left * (1 - rearward), left * rearward]
    return np.stack(np.broadcast_arrays(1.0, aft, *moments), axis=-1)


def leaning_arms(car: Car, aft: Floats | float) -> Floats:
    """Give what of a unit of weight leans with each move of the body.

    Args:
        aft: Where it is [m].

    Returns:
        (n,), all of it in pitch and in roll, none in heave; a chassis that twists rolls with it
        front and rear as in `weight_arms`.
    """
    arms = weight_arms(car, aft, 1.0)
    arms[..., 0], arms[..., 1] = 0.0, 1.0
    return arms


def leaning_weight(car: Car, loads: Floats) -> Floats:
    """Give the weight that leans with each move of the body; times its height it softens that.

    Args:
        loads: (4,) [N].

    Returns:
        (n,) [N].
    """
    axles = loads[..., [0, 2]] + loads[..., [1, 3]]
    total = axles.sum(axis=-1)
    roll = [axles[..., 0], axles[..., 1]] if twists(car) else [total]
    return np.stack([np.zeros(total.shape), total, *roll], axis=-1)
