"""Work that a plan may do on real corners: counted and not timed, so that all machines agree."""

PLAN, CLOSEST, BESIDE, LIMITS, MIDDLE = 0.8e6, 1.1e6, 0.5e6, 0.25e6, 0.3e6
"""To meet what is asked, to come nearest to it, and beside what meets it; for each limit that may
stand in the way, and for what lands in the middle [unit]: a unit is about a microsecond."""

SUBSET, FITTED, SLANT, SETTLED = 400.0, 1500.0, 600.0, 2500.0
"""What a set of adjusters costs, a corner cut into parts, planes laid, and any cars settled."""

LISTED, CELL, CASE, BY_SLOPES = 1.0, 0.07, 9.0, 500.0
"""What steps in a list cost, a limit looked at for one of them, one car settled, and a search of
the car taken for linear."""

MUCH, SOME = 0.7, 0.5
"""Of what is left, what one search may take, so that there is always some for the next: much where
it tells what can be reached at all, some for what comes nearest."""


class Work:
    """Work that is left.

    Examples:
        >>> work = Work(10.0)
        >>> work.begin(0.5)
        >>> work.spend(3.0)
        >>> work.room(1.0), work.out
        (2, False)
        >>> work.spend(2.0)
        >>> work.out
        True
    """

    def __init__(self, left: float = PLAN) -> None:
        self._left = left
        self.begin(SOME)

    def begin(self, share: float) -> None:
        """Begin another search."""
        self._kept = self._left * (1 - share)

    def spend(self, amount: float) -> None:
        """Count what was done."""
        self._left -= amount

    def room(self, each: float) -> int:
        """Say how many of something this search may still do."""
        return max(int((self._left - self._kept) / each), 0)

    @property
    def out(self) -> bool:
        """Whether this search has had its share."""
        return self._left <= self._kept
