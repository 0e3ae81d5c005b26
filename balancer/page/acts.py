"""What somebody does in a session, one form at a time: once, whole, and on what they have seen.

Nothing is remembered between two forms but what the log has. Each form carries the name of an act,
which goes into every line that comes of it: a form that is sent again finds them and does nothing.
A form made from an older state of the log is not heard, but told what has changed.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple

from balancer.car.conventions import CORNERS
from balancer.car.corner import LINKS
from balancer.car.errors import InputError
from balancer.files.car_file import CarFile, operating_faults
from balancer.files.on_board import State
from balancer.jobs.answers import Answer
from balancer.jobs.at_the_pads import AtThePads
from balancer.log.dates import with_offset
from balancer.log.entry import REMARKS, Entry, Kind
from balancer.log.reader import log_path
from balancer.log.terms import Terms
from balancer.log.writer import LogWriter, open_log
from balancer.page.editing import PATIENCE

NOTHING_SAID = Terms()

_BEFORE = "+"
"""Behind the name of an act in lines that come before what it is about."""


class Act(NamedTuple):
    """One form that was sent.

    Attributes:
        name: Nobody else's.
        seen: Number of the last entry that whoever sent it had seen.
    """

    name: str
    seen: int


@dataclass(frozen=True)
class Wish:
    """What an act is to do.

    Attributes:
        ends_in: Kind of the entry without which it is not done.
        line: As typed in a session.
        as_planned: Whether the line is that what was planned is made.
        given: What the session is to go by.
        aboard: What is on the pads, if it is to be said.
        sure: Whether the line is to be kept though it is asked about.
        made: What was turned before, as a line; empty: what the log says.
    """

    ends_in: Kind
    line: str = ""
    as_planned: bool = False
    given: Terms = NOTHING_SAID
    aboard: State | None = None
    sure: bool = False
    made: str = ""


class Done(NamedTuple):
    """What came of an act.

    Attributes:
        asked: What is asked, where nothing was taken for want of an answer.
        before: Whether it was done before, and this is the form sent again.
    """

    asked: Answer | None = None
    before: bool = False


class BehindError(Exception):
    """The log has gone on since the form was made.

    Attributes:
        news: What was added to it.
    """

    def __init__(self, news: Sequence[Entry]) -> None:
        super().__init__(len(news))
        self.news = tuple(news)


def done(file: CarFile, act: Act, wish: Wish) -> Done:
    """Do what a form asks for.

    Raises:
        BehindError: When the log has gone on since.
        InputError, LogError: With what is wrong with it; what is said before it in the same form
            may be in the log.
    """
    with open_log(log_path(file.path), wait=PATIENCE) as writer:
        if any(one.act == act.name and one.kind == wish.ends_in for one in writer.entries):
            return Done(before=True)
        if news := news_since(writer.entries, act):
            raise BehindError(news)
        with operating_faults(file):
            return Done(_heard(file, writer, act, wish))


def news_since(entries: Sequence[Entry], act: Act) -> list[Entry]:
    """Find what the log has that whoever sent a form had not seen; remarks change nothing."""
    later = (one for one in reversed(entries) if one.kind not in REMARKS)
    news = []
    for one in later:
        if one.number <= act.seen:
            break
        if one.act.removesuffix(_BEFORE) != act.name:
            news.append(one)
    return news[::-1]


def _heard(file: CarFile, writer: LogWriter, act: Act, wish: Wish) -> Answer | None:
    """Say the lines of a wish one after the other; give the question where one is asked."""
    writer.act = f"{act.name}{_BEFORE}"
    pads = AtThePads(file, wish.given, writer, with_offset(datetime.now()))
    if wish.aboard is not None and wish.aboard.words != pads.terms.words:
        pads.hear(f"aboard {', '.join(wish.aboard.words) or 'none'}")
    if wish.made:
        pads.hear(wish.made)
    line = _planned(pads) if wish.as_planned else wish.line
    writer.act = act.name
    answer = pads.hear(line) if line else None
    if answer is None or "question" not in answer:
        return None
    if not wish.sure:
        return answer
    pads.hear("yes")
    return None


def _planned(pads: AtThePads) -> str:
    due = pads.record.lines.due
    if due is None:
        raise InputError.one("Turns", "none are planned", "look at the page again")
    each = zip((*CORNERS, *LINKS), due.tolist(), strict=False)
    turns = [f"{place}={turn!r} turns" for place, turn in each if turn]
    return f"made {', '.join(turns) or 'nothing'}"
