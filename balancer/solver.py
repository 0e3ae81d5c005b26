"""One door to HiGHS: linear and mixed-integer programs, without what it prints by mistake."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from typing import Any, NamedTuple

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from balancer.car.conventions import Floats

TIME_LIMIT = 20.0
"""Seconds for one solve; after that the best so far counts as unproved."""

_WORKER = "solver"

_LISTEN = 0.1
"""Seconds between two looks whether somebody has had enough."""

INFEASIBLE, SOLVE_ERROR = 2, 4
"""Status of `scipy.optimize.milp` for a program that is proved to have no solution, and for one
that HiGHS stumbled over."""


class Solved(NamedTuple):
    """What a solve came to.

    Attributes:
        values: (n,) or None, None when there is no solution, or none was found in time.
        proved: Whether that is proved.
    """

    values: Floats | None
    proved: bool


def solve(
    cost: Floats, whole: Floats, bounds: Bounds, constraints: Sequence[LinearConstraint]
) -> Solved:
    """Make a cost as small as can be.

    Args:
        cost: (n,)
        whole: (n,), 1 where an unknown is an integer.

    References:
        HiGHS through `scipy.optimize.milp`.

    Examples:
        >>> solve(np.array([1.0]), np.ones(1), Bounds(1.5, 9), []).values.tolist()
        [2.0]
    """
    for presolve in (True, False):
        work = partial(
            milp,
            cost,
            integrality=whole.astype(np.int64),
            bounds=bounds,
            constraints=list(constraints),
            options={"time_limit": TIME_LIMIT, "mip_rel_gap": 0.0, "presolve": presolve},
        )
        with _quiet():
            result = _beside(work)
        # About one in a thousand comes back as a “solve error” that presolve alone is to blame for.
        if result.status != SOLVE_ERROR:
            break
    if result.x is None:
        return Solved(None, result.status == INFEASIBLE)
    return Solved(result.x, result.status == 0)


def still_solving() -> bool:
    """Say whether a solve that was broken off is still at work.

    Examples:
        >>> still_solving()
        False
    """
    return any(thread.name == _WORKER for thread in threading.enumerate())


def _beside(work: Callable[[], Any]) -> Any:
    """Do long work beside the main thread, which is the one that hears Ctrl-C.

    HiGHS has no ears while it solves. What is broken off goes on until the process ends, and a
    process that ends in good order would trip over it: see `still_solving`.
    """
    done: list[Any] = []
    failed: list[BaseException] = []

    def run() -> None:
        try:
            done.append(work())
        except BaseException as error:  # It is raised where it was asked for.
            failed.append(error)

    worker = threading.Thread(target=run, name=_WORKER, daemon=True)
    worker.start()
    while worker.is_alive():
        worker.join(_LISTEN)
    if failed:
        raise failed[0]
    return done[0]


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep a line that HiGHS 1.12 prints while it mends a solution out of our output."""
    if sys.stdout is not None:
        sys.stdout.flush()
    try:
        kept = os.dup(1)
    except OSError:
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)
