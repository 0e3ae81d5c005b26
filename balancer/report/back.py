"""Perches brought back to where they stood, told."""

from typing import Any

import numpy as np

from balancer.car.adjusters import adjusters_of
from balancer.car.conventions import CORNERS
from balancer.files.car_file import CarFile
from balancer.log.back import Back, Beyond
from balancer.report.words.cautions import turning_care
from balancer.report.words.json_parts import by_corner, heading_json
from balancer.report.words.numbers import amount
from balancer.report.words.prose import first_line, lines_of, paragraphs, times
from balancer.report.words.turns import turned_corners, turning, turns


def back_text(file: CarFile, back: Back) -> str:
    """Tell what to turn; what keeps it from being done stands above."""
    number, when = back.stood.number, f"{back.stood.wall:%Y-%m-%d %H:%M}"
    title = first_line(file, f": back to where it stood after entry {number} ({when})")
    return paragraphs(
        title,
        lines_of([*(_short(file, one) for one in back.beyond), *_unsure(file, back)]),
        "\n".join(_turn_lines(file, back)),
        turning_care(file.car) if back.turns.any() else "",
    )


def _short(file: CarFile, beyond: Beyond) -> str:
    count = file.counts()[CORNERS.index(beyond.corner)]
    asked, left = turning(beyond.turns, count), turns(beyond.left, count)
    return (
        f"{beyond.corner}: {asked} is beyond the travel left, {left}: it can't go all the way back."
    )


def _unsure(file: CarFile, back: Back) -> list[str]:
    """Say which turns nobody confirmed."""
    lines = []
    if back.assumed:
        some = f"{'one' if back.assumed == 1 else back.assumed} of them "
        sets = some if back.assumed < back.sets else ""
        lines.append(f"Turned {times(back.sets)} since, {sets}by the plan alone: nobody said so.")
    if back.due.any():
        lines.append(
            "Planned last and not said to be made, so not counted:"
            f" {turned_corners(back.due, file.counts())}."
        )
    return lines


def _turn_lines(file: CarFile, back: Back) -> list[str]:
    if not back.turns.any():
        since = f", turned {times(back.sets)} since" if back.sets else ", not turned since"
        return [f"Nothing to turn: the perches stand where they stood then{since}."]
    turned = turned_corners(0.0 - back.turns, file.counts())
    return [
        f"Turned since, {times(back.sets)}: {turned}{' in all' if back.sets > 1 else ''}.",
        "Turn back:",
        *(
            f"  {CORNERS[at]}: {_corner(file, back, at)}"
            for at in np.flatnonzero(back.turns).tolist()
        ),
        "Then weigh: whatever else was changed since is not in this.",
    ]


def _corner(file: CarFile, back: Back, index: int) -> str:
    adjusters, turn = adjusters_of(file.car), float(back.turns[index])
    moved = amount(turn * adjusters.lead[index], "length", file.units, sign=True, unit=True)
    said = turning(turn, file.counts()[index])
    if file.car.solid[index]:
        return f"{said} ({moved})"
    return f"{said} ({moved} {'lower mount' if adjusters.mounts[index] else 'perch'})"


def back_json(file: CarFile, back: Back) -> dict[str, Any]:
    """Give it for a script; turns up are positive."""
    units = file.units
    return {
        **heading_json(file),
        "status": "beyond_travel" if back.beyond else "reached",
        "back_to": {"entry": back.stood.number, "at": back.stood.at},
        "turns": by_corner(back.turns, "number", units),
        "turned_since": by_corner(0.0 - back.turns, "number", units),
        "sets": back.sets,
        "assumed": back.assumed,
        "planned": by_corner(back.due, "number", units),
        "beyond_travel": [one._asdict() for one in back.beyond],
        "notes": list(back.remarks),
    }
