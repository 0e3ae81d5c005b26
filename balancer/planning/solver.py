"""One door to HiGHS: linear and mixed-integer programs, without what it prints by mistake."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from highspy import Highs, HighsLp, HighsModelStatus, HighsVarType, MatrixFormat

from balancer.car.conventions import Floats

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

TIME_LIMIT = 20.0
"""Seconds for one solve; after that the best so far counts as unproved."""

_WORKER = "solver"

_LISTEN = 0.1
"""Seconds between two looks whether somebody has had enough."""

_TOLD = frozenset(
    {HighsModelStatus.kOptimal, HighsModelStatus.kInfeasible, HighsModelStatus.kTimeLimit}
)
"""What a solve ends with that did what it was asked to."""


class Bounds(NamedTuple):
    """Least and most of each unknown, (n,) or one for all."""

    lb: ArrayLike
    ub: ArrayLike


class LinearConstraint(NamedTuple):
    """Least and most of sums of the unknowns.

    Attributes:
        A: (m, n) or (n,), a row for each sum.
        lb, ub: (m,) or one for all rows.
    """

    A: Floats
    lb: ArrayLike
    ub: ArrayLike


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
        HiGHS, through its own package: Q. Huangfu and J. A. J. Hall, Math. Prog. Comp. 10 (2018);
        value from memory.

    Examples:
        >>> solve(np.array([1.0]), np.ones(1), Bounds(1.5, 9), []).values.tolist()
        [2.0]
    """
    program = _program(cost, whole, bounds, constraints)
    for presolve in ("on", "off"):
        with _quiet():
            highs = _beside(partial(_solved, program, presolve))
        # About one in a thousand comes back as an error that presolve alone is to blame for, or
        # as “unbounded or infeasible”.
        status = highs.getModelStatus()
        if status in _TOLD:
            break
    found = highs.getSolution()
    if status not in _TOLD or not found.value_valid:
        return Solved(None, status == HighsModelStatus.kInfeasible)
    return Solved(np.array(found.col_value), status == HighsModelStatus.kOptimal)


def _program(
    cost: Floats, whole: Floats, bounds: Bounds, constraints: Sequence[LinearConstraint]
) -> HighsLp:
    """Write a program down as HiGHS takes it."""
    width = len(cost)
    rows = [np.zeros((0, width)), *(np.atleast_2d(one.A) for one in constraints)]
    low, high = (
        [
            np.zeros(0),
            *(np.full(len(np.atleast_2d(one.A)), one[end]) for one in constraints),
        ]
        for end in (1, 2)
    )
    matrix = np.concatenate(rows)
    row, column = np.nonzero(matrix)
    program = HighsLp()
    program.num_col_, program.num_row_ = width, len(matrix)
    program.col_cost_ = np.asarray(cost, dtype=np.float64)
    program.col_lower_, program.col_upper_ = (
        np.full(width, one, dtype=np.float64) for one in bounds
    )
    program.row_lower_, program.row_upper_ = np.concatenate(low), np.concatenate(high)
    program.integrality_ = [
        HighsVarType.kInteger if one else HighsVarType.kContinuous for one in whole
    ]
    program.a_matrix_.format_ = MatrixFormat.kRowwise
    program.a_matrix_.num_col_, program.a_matrix_.num_row_ = width, len(matrix)
    program.a_matrix_.start_ = np.searchsorted(row, np.arange(len(matrix) + 1))
    program.a_matrix_.index_, program.a_matrix_.value_ = column, matrix[row, column]
    return program


def _solved(program: HighsLp, presolve: str) -> Highs:
    highs = Highs()  # type: ignore[no-untyped-call]
    highs.silent()
    # One thread: the same program comes to the same end, and no thread is left over. The jump to
    # something feasible takes four times as long as all the rest of a small program; HiGHS 1.10
    # has none, and does not know it.
    for name, value in (
        ("time_limit", TIME_LIMIT),
        ("mip_rel_gap", 0.0),
        ("presolve", presolve),
        ("threads", 1),
        ("mip_heuristic_run_feasibility_jump", False),
    ):
        highs.setOptionValue(name, value)
    highs.passModel(program)
    highs.run()
    return highs


def still_solving() -> bool:
    """Say whether a solve that was broken off is still at work.

    Examples:
        >>> still_solving()
        False
    """
    return any(thread.name == _WORKER for thread in threading.enumerate())


def _beside(work: Callable[[], Highs]) -> Highs:
    """Do long work beside the main thread, which is the one that hears Ctrl-C.

    HiGHS has no ears while it solves. What is broken off goes on until the process ends, and a
    process that ends in good order would trip over it: see `still_solving`.
    """
    done: list[Highs] = []
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
