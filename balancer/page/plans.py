"""What else can be asked of a car from the page: other states, ballast, the event, parts."""

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

from balancer.files.car_file import CarFile
from balancer.files.on_board import State, in_words
from balancer.files.parts_book import read_parts
from balancer.files.states import race_states
from balancer.jobs import preparing
from balancer.jobs.weighed import Weighed, last_weighed
from balancer.page.kept import kept_while_unchanged
from balancer.page.told import Block, told
from balancer.planning.ballast.margin import margin_of
from balancer.report.ballast import ballast_text
from balancer.report.perches.moves import corner_words
from balancer.report.pictures.plan_view import plan_view
from balancer.report.prep import prep_text
from balancer.report.weighing.parts import book_text, parts_text
from balancer.report.weighing.trim import trim_text
from balancer.report.weighing.weigh import weigh_text
from balancer.report.words.opening import opening_words, state_words
from balancer.weighing.load_states import carry
from balancer.weighing.parts import variant


@kept_while_unchanged
def weigh_shown(file: CarFile) -> dict[str, Any]:
    """Show the last weigh-in."""
    weighed, remarks = last_weighed(file)
    weigh_in = weighed.weigh_in
    return {
        "remarks": remarks,
        "opening": [_first(weighed)],
        "blocks": told(lambda: weigh_text(weighed.file, weigh_in)),
        "view": plan_view(weighed.file.car, file.units, weigh_in.loads, weigh_in.shares),
    }


def _first(weighed: Weighed) -> str:
    said = state_words(weighed.file, weighed.aboard)
    return said[:1].upper() + said[1:]


def trim_shown(weighed: Weighed, remarks: list[str], asked: State | None) -> dict[str, Any]:
    """Show the last weigh-in carried to a state, or to the race trims of the car file."""
    file = weighed.file
    states = race_states(file) if asked is None else {"as asked": asked}
    now = preparing.trims_of(weighed, states)
    was = carry(weighed.file.car, weighed.weigh_in.loads, weighed.was, weighed.was)
    first = next(iter(now.values()))
    return {
        "remarks": remarks,
        "opening": [_first(weighed)],
        "blocks": told(lambda: trim_text(weighed.file, was, now)),
        "view": plan_view(weighed.file.car, file.units, first.loads, first.shares),
        "caption": in_words(first.on_board, file.units),
    }


@kept_while_unchanged
def ballast_shown(file: CarFile) -> dict[str, Any]:
    """Show the least ballast that meets the rules of the class."""
    weighed, remarks = last_weighed(file)
    trims = preparing.trims_of(weighed, race_states(file))
    plan = preparing.ballasted(weighed, preparing.goal_of(weighed), trims)
    racing = next(iter(trims.values()))
    return {
        "remarks": remarks,
        "opening": [_first(weighed)],
        "blocks": told(lambda: ballast_text(weighed.file, racing, plan, trims)),
        "view": plan_view(weighed.file.car, file.units, plan.loads, plan.shares, plan.items),
        "met": plan.status == "met",
    }


@kept_while_unchanged
def prep_shown(file: CarFile) -> dict[str, Any]:
    """Show the check before an event, with the turns that the session has left."""
    weighed, remarks = last_weighed(file)
    ready, aimed = preparing.prepared(weighed, preparing.trims_of(weighed, race_states(file)))
    session, ready = preparing.after_session(weighed, ready, asked=False)
    aimed = preparing.aimed_by(session, ready, aimed)
    margin = margin_of(weighed.file.car, weighed.weigh_in.uncertainties.total)
    best, items = ready.perches.best, ready.ballast.items
    blocks = told(lambda: prep_text(weighed.file, ready, margin))
    return {
        "remarks": remarks,
        "opening": opening_words(weighed.file, weighed.aboard, aimed),
        "blocks": _without_boxes(blocks),
        "boxes": boxes_in(blocks),
        "corners": [corner_words(weighed.file, best, index) for index in range(4)],
        "view": plan_view(
            weighed.file.car, file.units, ready.race_trim.loads, ready.race_trim.shares, items
        ),
        "met": ready.status == "met",
    }


def boxes_in(blocks: Sequence[Block]) -> list[str]:
    """Find what is to be ticked: what is bolted in and turned, and what is looked at then."""
    work: list[str] = []
    for head, block in pairwise(blocks):
        if block.kind == "list" and head.lines and head.lines[-1].startswith(_WORK):
            work += block.lines
    looked_at = [line for block in blocks if block.kind == "boxes" for line in block.lines]
    # Here the numbers stand below.
    return work + [line.replace("” above", "” below") for line in looked_at]


def _without_boxes(blocks: list[Block]) -> list[Block]:
    """Leave out the boxes, which stand where they are ticked, and what leads to them."""
    last = blocks[-1:] if blocks and blocks[-1].kind != "boxes" else []
    return [one for one, after in pairwise(blocks) if "boxes" not in (one.kind, after.kind)] + last


_WORK = ("Bolt in", "Turn", "Change")


def parts_shown(file: CarFile, path: str, named: Sequence[str]) -> dict[str, Any]:
    """Show a parts book, and what its variants do to the car as last weighed."""
    weighed, remarks = last_weighed(file)
    book, car = read_parts(path, file), weighed.file.car
    loads = weighed.weigh_in.loads
    known = [name for name in dict.fromkeys(named) if name in book.variants]
    variants = [variant(car, loads, name, book.variants[name]) for name in known]
    before = (loads, weighed.weigh_in.shares)
    return {
        "remarks": [*remarks, *book.notes],
        "opening": [_first(weighed)],
        "variants": [(name, name in known) for name in book.variants],
        "blocks": told(
            lambda: (
                parts_text(weighed.file, before, variants)
                if variants
                else book_text(weighed.file, book, None)
            )
        ),
    }


@kept_while_unchanged
def sheet_shown(file: CarFile) -> str:
    """Write the sheet of the last session."""
    return preparing.sheet_of(last_weighed(file)[0])
