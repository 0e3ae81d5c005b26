"""The sheet that hangs on the garage wall: one page of HTML that needs nothing else."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from balancer.files.car_file import CarFile
from balancer.planning.prep.preparation import Preparation, as_read
from balancer.report.perches.corners import aside_lines, bar_lines
from balancer.report.perches.moves import corner_words, turn_lines
from balancer.report.pictures.plan_view import plan_view
from balancer.report.pictures.svg import PLAN_STYLE
from balancer.report.sheet import notes, tables
from balancer.report.sheet.paper import Contents, Room, brief, room_for
from balancer.report.words.cautions import BALLAST, turning_care
from balancer.report.words.numbers import amount
from balancer.report.words.prose import times
from balancer.weighing.weigh import WeighIn

if TYPE_CHECKING:
    from balancer.log.last_session import PastSession

_UNEVEN = "“Next on pads” is with the pads' heights as measured; the rest as on level pads."

BOXES = ("Who", "When", "Track", "Weather", "Next time")


def sheet_html(
    file: CarFile,
    weighed: WeighIn,
    ready: Preparation,
    session: PastSession | None = None,
    opening: Sequence[str] = (),
) -> str:
    """Write a preparation as one self-contained page.

    Args:
        session: The session that the weigh-in ends, to be told step by step.
        opening: What was on board, and what is aimed at.

    Returns:
        HTML without scripts or anything to fetch; every name in it is text, never markup. The
        same input gives the same bytes.
    """
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("balancer.report", "sheet"), undefined=StrictUndefined,
        autoescape=True, trim_blocks=True, lstrip_blocks=True,
        optimized=False,  # for one page it takes longer than it spares
    )  # fmt: skip
    words = {**_words(file, weighed, ready, session), "about": _about(weighed, opening)}
    room = _room(words)
    environment.globals["brief"] = lambda name: brief(name, room.brief)
    return environment.get_template("sheet.html").render(words, room=room.name) + "\n"


def _words(
    file: CarFile, weighed: WeighIn, ready: Preparation, session: PastSession | None
) -> dict[str, Any]:
    units, items = file.units, ready.ballast.items
    shown = as_read(file.car, ready, weighed.readings.pad_heights)
    heights = tables.heights_table(weighed, ready, session, units)
    care = [turning_care(file.car), *([BALLAST] if items else [])]
    return {
        "car": file.car.name,
        "view": plan_view(file.car, units, ready.race_trim.loads, ready.race_trim.shares, items),
        "drawing": PLAN_STYLE,
        "drawn": notes.drawn_words(file, ready),
        "first": notes.first_of_all(file, ready),
        "turns_title": _title(file, ready, session),
        "corners": [corner_words(file, ready.perches.best, index) for index in range(4)],
        "verdict": notes.verdict(file, ready, session),
        "bars": _bars(file, ready),
        "states": tables.states_table(tables.states_of(ready, session, shown), units),
        "uneven": "" if shown is ready.on_the_pads else _UNEVEN,
        "heights": heights,
        "left_out": notes.left_out(ready) if heights else "",
        "length": units.labels["length"],
        "steps": tables.steps_table(file, session),
        "stands": aside_lines(file, ready.ballast.loads, ready.perches),
        "doubts": list(notes.uncertainties(file, weighed, ready)),
        "added": amount(ready.ballast.added, "mass", units, unit=True) if items else "",
        "items": [tables.item_words(item, units) for item in items],
        "mass": units.labels["mass"],
        "unnumbered": tables.unnumbered(file, items),
        "rules": tables.rules_words(ready, units),
        "margin": notes.margin_words(file, weighed),
        "others": notes.other_trims(file, ready),
        "board": tables.board_rows(ready, units),
        "boxes": BOXES,
        "care": [" ".join(text.split()) for text in care],
    }


def _room(words: dict[str, Any]) -> Room:
    """Pick the type for paper by all that is to be on the page."""
    items = [
        (item["place"], f" ({item['pieces']})" * bool(item["pieces"])) for item in words["items"]
    ]
    board = [(row[0], "") for row in words["board"]]
    contents = Contents(
        title=words["car"],
        paragraphs=[*(*words["about"], *words["first"], " ".join(words["verdict"]), words["bars"])],
        notes=[
            *(" ".join(words["doubts"]), words["margin"], words["unnumbered"]),
            *(words["uneven"], words["left_out"], *words["stands"], *words["others"]),
        ],
        tables=[
            *(len(words[key]) for key in ("states", "steps", "heights", "rules") if words[key]),
            *([0] if words["stands"] else []),
        ],
        lists=[entries for entries in (items, board) if entries],
    )
    return room_for(contents)


def _about(weighed: WeighIn, opening: Sequence[str]) -> list[str]:
    readings = weighed.readings
    dated = f", {readings.date}" if readings.date else ""
    state = " ".join([*opening, f"Weighed {times(weighed.repeats)}{dated}."])
    return [state, *([readings.note] if readings.note else [])]


def _bars(file: CarFile, ready: Preparation) -> str:
    if not ready.bars:
        return ""
    head, *each = bar_lines(ready.bars, file, bool(ready.perches.best.corners))
    return f"{head} " + "; ".join(line.removeprefix("- ") for line in each) + "."


def _title(file: CarFile, ready: Preparation, session: PastSession | None) -> str:
    lines = turn_lines(ready.perches.best, file)
    if not lines:
        return "Nothing to turn"
    title = lines[0].removesuffix(":")
    return f"Still to do: {title[0].lower()}{title[1:]}" if session else title
