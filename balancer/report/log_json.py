"""The log for programs: entries and states as JSON, weigh-ins as rows for a spreadsheet."""

from collections.abc import Iterator
from typing import Any

from balancer.car.conventions import CORNERS
from balancer.files.car_file import CarFile
from balancer.log.entry import Entry
from balancer.log.lookup import LogState
from balancer.report.log import Book
from balancer.report.words.json_parts import loads_json
from balancer.weighing.weigh import WeighIn

COLUMNS = (
    "number", "date", *CORNERS, "total", "front_pct", "left_pct", "cross_pct", "on_board", "note",
)  # fmt: skip


def entry_json(book: Book, entry: Entry) -> dict[str, Any]:
    """Give an entry, and for a weigh-in what the car weighed."""
    now = book.now(entry)
    result = {**now.as_json(), "undone": entry.number in book.undone}
    if entry.number in book.outdated:
        result["outdated"] = True
    if entry.kind != "weigh_in":
        return result
    if now.corrected:
        by = [one.number for one in book.corrections_of(entry)]
        written = next(one for one in book.entries if one.number == entry.number)
        result["corrected"] = {"by": by, "was": {"at": written.at, "data": written.data}}
    weighed = book.weighed(entry)
    return {**result, "weighed": weighed and _loads(book.file, weighed)}


def _loads(file: CarFile, weighed: WeighIn) -> dict[str, Any]:
    return loads_json(weighed.loads, weighed.shares, file.units)


def state_json(book: Book, state: LogState) -> dict[str, Any]:
    """Give a state."""
    return {
        "weigh_in": state.weigh_in and entry_json(book, state.weigh_in),
        "turns": state.turns,
        "turns_since": state.turns_since,
        "belief": state.belief and state.belief.data,
        "notes": [entry_json(book, one) for one in state.notes],
    }


def csv_rows(book: Book) -> Iterator[list[str]]:
    """Give a row of `COLUMNS` for each weigh-in that was not undone and can be used."""
    for entry in book.kept("weigh_in"):
        if weighed := book.weighed(entry):
            told = _loads(book.file, weighed)
            numbers = [*told.pop("loads").values(), *told.values()]
            on_board = weighed.readings.on_board
            # What the car file no longer names is named, too.
            names = [*(on_board or ()), *(item.name for item in weighed.readings.aboard)]
            yield [
                str(entry.number),
                entry.at,
                *(f"{number:.10g}" for number in numbers),
                "" if on_board is None else ", ".join(names) or "none",
                weighed.readings.note,
            ]
