"""A session as its log has it, made ready to be shown: read, never written."""

import re
import secrets
from collections.abc import Sequence
from datetime import datetime
from typing import Any, Literal, NamedTuple

from balancer.car.conventions import CORNERS, Floats
from balancer.car.corner import LINKS
from balancer.car.errors import refuse
from balancer.files.car_file import CarFile, operating_faults
from balancer.files.counting import LINK_TURN
from balancer.files.units import Dimension
from balancer.jobs.answers import Answer, listed
from balancer.log.dates import with_offset
from balancer.log.entry import Entry
from balancer.log.reader import log_path, read_log
from balancer.log.resume import TakenUp, take_up
from balancer.log.terms import Terms
from balancer.page.forms import Form, shown
from balancer.page.kept import kept_while_unchanged
from balancer.page.told import told
from balancer.planning.session.session import Session, without_made
from balancer.planning.session.step import Step, step
from balancer.report.log import Book, kind_name, summary
from balancer.report.perches.moves import corner_words, link_lines
from balancer.report.session import step_text
from balancer.report.session_terms import opening_sentences
from balancer.report.words.cautions import turning_care

_STOP = "Stop here"
_FIELD = ("surer: --pads.", "surer: say it below.")
"""What is an option of a command is a field here."""

Phase = Literal["weigh", "turn", "turned", "settle", "stop"]


class Sitting(NamedTuple):
    """A session read from its log.

    Attributes:
        seen: Number of the last entry of the log.
        step: What the last weigh-in comes to; None before the first.
    """

    file: CarFile
    entries: tuple[Entry, ...]
    taken: TakenUp
    step: Step | None

    @property
    def seen(self) -> int:
        """Number of the last entry of the log."""
        return self.entries[-1].number if self.entries else 0

    @property
    def session(self) -> Session:
        """What was weighed and turned so far."""
        return self.taken.session

    @property
    def phase(self) -> Phase:
        """What is to be done next."""
        if self.step is None:
            return "weigh"
        if self.taken.lines.said:
            return "turned"
        if self.step.stop:
            return "stop"
        return "settle" if self.step.settle_again else "turn"


@kept_while_unchanged
def sitting_of(file: CarFile) -> Sitting:
    """Read the session that a car is in, as `session` would take it up."""
    refuse(file.missing.springs)
    entries = read_log(log_path(file.path)).entries
    with operating_faults(file):
        taken = take_up(file, entries, Terms(), with_offset(datetime.now()))
        session = without_made(taken.session)
        return Sitting(file, entries, taken, step(session) if session.weigh_ins else None)


def shown_sitting(
    sitting: Sitting, form: Form | None = None, asked: Answer | None = None, sure: str = ""
) -> dict[str, Any]:
    """Give what the page of a session shows.

    Args:
        form: That is shown again with what was typed.
        asked: What is asked about it.
        sure: The line that is asked about.
    """
    file, session, taken = sitting.file, sitting.session, sitting.taken
    words: dict[str, Any] = {
        "phase": sitting.phase,
        "count": len(session.weigh_ins),
        "act": secrets.token_urlsafe(15),
        "seen": sitting.seen,
        "typed": form.fields if form else {},
        "board": board_of(file, taken.terms, form),
        "unit": file.units.labels["load"],
        "opening": opening_sentences(
            file, taken.terms, taken.lines.told, session.goal, taken.begin
        ),
        "settings": _settings(taken.terms),
        "heights": _heights(file, taken.terms),
        "length": file.units.labels["length"],
        "perches": _perches(file),
        "links": _links(file, taken.terms),
        "care": " ".join(turning_care(file.car).split()),
        "again": sitting.phase in ("turn", "settle", "stop"),
        "question": _question(asked) if asked else "",
        "sure": sure,
        "suspect": list(asked["suspect"]) if asked else [],
    }
    if sitting.step is not None:
        words |= _stepped(sitting, sitting.step)
    return words


def _stepped(sitting: Sitting, now: Step) -> dict[str, Any]:
    file, lines = sitting.file, sitting.taken.lines
    best, aim = now.plan.best, sitting.taken.terms.aim
    session = without_made(sitting.session)
    blocks = told(lambda: step_text(file, session, now, aim).replace(*_FIELD))
    return {
        "corners": [corner_words(file, best, index) for index in range(4)],
        "also": link_lines(best, file),
        "step": blocks,
        "verdict": [line for block in blocks for line in block.lines if line.startswith(_STOP)],
        "made": listed(lines.made, file) if lines.made is not None else "",
        "readings": _readings(sitting),
        "cross": f"{100 * now.cross:.2f}",
        "makes": f"{100 * best.shares.cross:.2f}",
        "wanted": f"{100 * session.goal.cross:.2f}".rstrip("0").rstrip("."),
        "weighed": session.last_read,
    }


def _readings(sitting: Sitting) -> dict[str, str]:
    mean = sitting.session.last_read.readings.repeats.mean(axis=0)
    return _by_pad(mean, sitting.file, "load")


def _by_pad(values: Floats, file: CarFile, kind: Dimension) -> dict[str, str]:
    each = zip(CORNERS, values.tolist(), strict=True)
    return {pad: shown(value, file, kind) for pad, value in each}


class Perch(NamedTuple):
    """What can be turned at a corner: empty `many` for nothing."""

    corner: str
    many: str
    ways: tuple[str, str]


def _perches(file: CarFile) -> list[Perch]:
    each = zip(CORNERS, file.car.adjustable.tolist(), file.counts(), strict=True)
    return [Perch(pad, count.many if can else "", count.ways) for pad, can, count in each]


def _links(file: CarFile, terms: Terms) -> list[Perch]:
    """List the drop links that can be turned: with nothing to count where they are left alone."""
    return [
        Perch(LINKS[axle], LINK_TURN.many if terms.links else "", LINK_TURN.ways)
        for axle, link in enumerate(file.car.links)
        if link.usable
    ]


def _settings(terms: Terms) -> dict[str, str]:
    asked = terms.asked

    def percent(share: float | None) -> str:
        return "" if share is None else f"{100 * share:.6g}"

    return {
        "cross": "" if asked.once_weighed else percent(asked.cross),
        "tolerance": percent(asked.tolerance),
        "aim": "stands" if terms.race is False else "race",
        "poorly": "1" if terms.poorly_known else "",
        "links": "1" if terms.links else "",
    }


def _heights(file: CarFile, terms: Terms) -> dict[str, str]:
    """Give how high each pad stands, as it stands in the fields; empty where nobody said it."""
    if terms.pads is None:
        return dict.fromkeys(CORNERS, "")
    return _by_pad(terms.pads, file, "length")


class Aboard(NamedTuple):
    """Something that comes and goes, as a form shows it."""

    name: str
    on: bool
    amount: str
    unit: str


def board_of(file: CarFile, terms: Terms, form: Form | None = None) -> list[Aboard]:
    """List what comes and goes, and what of it is on the pads."""
    there = {item.name: item for item in terms.on_pads(file)}
    board = []
    for index, item in enumerate(file.car.on_board):
        is_there = there.get(item.name)
        mass = (is_there or item).mass
        kind: Dimension = "volume" if item.density else "mass"
        amount = shown(mass / (item.density or 1.0), file, kind)
        one = Aboard(item.name, is_there is not None, amount, file.units.labels[kind])
        if form:
            amount = form.fields.get(f"amount-{index}", one.amount)
            one = one._replace(on=form.ticked(f"on-{index}"), amount=amount)
        board.append(one)
    return board


def _question(asked: Answer) -> str:
    """Give a question without the words that answer it in a terminal: here are buttons."""
    text = " ".join(str(asked["question"]).split())
    return re.split(r"[:;] say yes", text)[0] + "."


def news_told(file: CarFile, news: Sequence[Entry]) -> list[str]:
    """Tell entries in a line each, the dull ones left out."""
    book = Book(file, read_log(log_path(file.path)).entries)
    lines = [(kind_name(one), *summary(book, one)) for one in news if one.kind != "belief"]
    return [f"{when}: {kind}, {said}" for kind, when, said in lines]
