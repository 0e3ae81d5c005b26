"""The log told: as a list, an entry at a time, as a state, as rows for a spreadsheet, as JSON."""

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from balancer.car.conventions import CORNERS
from balancer.car.corner import LINKS
from balancer.car.errors import InputError, spelled
from balancer.files.car_file import CarFile
from balancer.log import reader
from balancer.log.corrections import corrected_values, corrections_in
from balancer.log.entry import Entry
from balancer.log.entry_readings import readings_of_entry
from balancer.log.lookup import LogState
from balancer.report.weighing.weigh import weigh_text
from balancer.report.words.numbers import amount, percent
from balancer.report.words.opening import aboard_in, state_line
from balancer.report.words.prose import first_line, wrapped
from balancer.report.words.tables import WIDTH, cut
from balancer.report.words.turns import turned_corners
from balancer.weighing.weigh import WeighIn, weigh

_FOR_PROGRAMS = frozenset(
    {"rates", "lead", "perch_travel", "aboard", "mean", "covariance", "settling", "bearing", "file"}
)
"""Keys of entries that are shown in JSON alone: numbers of SI, and what sessions go on with."""


class Book:
    """The log of a car with what is worked out from it, each once; and what was undone."""

    def __init__(self, file: CarFile, entries: tuple[Entry, ...]) -> None:
        self.file, self.entries = file, entries
        standing = {entry.number for entry in reader.standing(entries)}
        self._now = {entry.number: entry for entry in reader.effective(entries)}
        self.undone = frozenset(
            one.number for one in entries if one.number not in standing and one.kind != "undo"
        )
        self._averaged = _averaged(entries)
        self.outdated = frozenset(
            one.number
            for one in entries
            if one.number in standing and one.number not in self._now and one.kind != "correction"
        )
        self._weighed: dict[int, WeighIn | InputError] = {}

    def now(self, entry: Entry) -> Entry:
        """Give an entry as it was corrected."""
        return self._now.get(entry.number, entry)

    def standing(self, entry: Entry) -> str:
        """Say how an entry stands; empty: as it was written."""
        number = entry.number
        if number in self.undone:
            into = self._averaged.get(number)
            average = f"averaged into {into}" if entry.kind == "weigh_in" else "replaced"
            return average if into else "undone"
        return "before a correction" if number in self.outdated else "corrected" * entry.corrected

    def corrections_of(self, entry: Entry) -> list[Entry]:
        """Find the corrections of an entry that count, in their order."""
        if not self.now(entry).corrected:
            return []
        found = corrections_in(self.entries)
        return [one for one in found if one.data["corrects"] == entry.number][::-1]

    def kept(self, kind: str) -> Iterator[Entry]:
        """Give the entries of a kind that count, as they were corrected."""
        return (entry for entry in self._now.values() if entry.kind == kind)

    def weighed(self, entry: Entry) -> WeighIn | None:
        """Weigh the car by a weigh-in; None when its readings can't be used."""
        weighed = self._weigh(entry)
        return None if isinstance(weighed, InputError) else weighed

    def unusable(self, since: int = 0) -> Iterator[str]:
        """Say what is wrong with weigh-ins, from a number on, whose readings can't be used."""
        for entry in self.kept("weigh_in"):
            if entry.number >= since and isinstance(error := self._weigh(entry), InputError):
                yield from map(str, error.faults)

    def _weigh(self, entry: Entry) -> WeighIn | InputError:
        if entry.number not in self._weighed:
            try:
                readings = readings_of_entry(self.now(entry), self.file)
                self._weighed[entry.number] = weigh(self.file.car, readings)
            except InputError as error:
                self._weighed[entry.number] = error
        return self._weighed[entry.number]


def _averaged(entries: Iterable[Entry]) -> dict[int, int]:
    """Find what was undone for a weigh-in that has it in its average; 0: for another reason."""
    into: dict[int, int] = {}
    last = 0
    for entry in reversed(tuple(entries)):
        if entry.kind == "weigh_in":
            last = entry.number
        elif entry.kind == "undo":
            into.setdefault(entry.data["undoes"], last if entry.data.get("replaced") else 0)
    return into


def log_text(book: Book, entries: Sequence[Entry], kept: int, every: bool = True) -> str:
    """List entries of a log, one a line.

    Args:
        every: Also lines that only undo others, which are marked where they stand.
    """
    wide, all_of = max(len(str(entry.number)) for entry in entries), len(book.entries)
    count = entries_counted(all_of)
    if kept < all_of:
        count = f"{kept} of {count}; --kind all lists each"
    told = [one for one in entries if every or one.kind != "undo"]
    left = [f"the last {len(entries)} here"] if len(entries) < kept else []
    if undoings := len(entries) - len(told):
        left.append(f"{undoings} undoing{'s' * (undoings > 1)} left out")
    if left:
        count += f"; {', '.join(left)}, --all for the rest"
    lines = [first_line(book.file, f": {count}"), ""]
    for entry in told:
        when, said = summary(book, entry)
        line = f"{entry.number:>{wide}}  {when}  {kind_name(entry):<8}  {said}"
        lines.append(cut(line, WIDTH))
    return "\n".join(line.rstrip() for line in lines)


def entries_counted(count: int) -> str:
    """Count entries in words."""
    return f"{count} {'entry' if count == 1 else 'entries'}"


def summary(book: Book, entry: Entry) -> tuple[str, str]:
    """Tell an entry in a line: when, and what."""
    now = book.now(entry)
    standing = book.standing(now)
    return _when(now), standing + ": " * bool(standing) + spelled(_summary(book, now))


def _when(entry: Entry) -> str:
    return f"{entry.wall:%Y-%m-%d %H:%M}"


def kind_name(entry: Entry) -> str:
    """Give what people call the kind of an entry."""
    return {"weigh_in": "weigh-in", "belief": "learned", "correction": "corrects"}.get(
        entry.kind, entry.kind
    )


def _summary(book: Book, entry: Entry) -> str:
    data = entry.data
    if entry.kind == "weigh_in":
        weighed = book.weighed(entry)
        if weighed is None:
            return "its readings can't be used"
        total = amount(weighed.shares.total, "load", book.file.units, unit=True)
        note = f", {data['note']}" if data.get("note") else ""
        return f"{total}, cross {percent(weighed.shares.cross)}{note}"
    if entry.kind == "note":
        return _about(entry) + str(data["text"])
    if entry.kind == "undo":
        return f"undoes {data['undoes']}"
    if entry.kind == "correction":
        return f"{data['corrects']}: {'; '.join(corrected_values(data))}"
    if entry.kind == "session" and "event" in data:
        return _event(data)
    if entry.kind == "belief":
        return "what a turn does to this car"
    if "turns" in data and entry.kind in ("made", "plan"):
        none = "nothing to turn" if entry.kind == "plan" else "nothing turned"
        return _turns(book.file, data["turns"] | data.get("links", {}), none)
    return ", ".join(
        f"{key} {value + 0.0:.4g}" if isinstance(value, float) else f"{key} {value}"
        for key, value in data.items()
        if isinstance(value, str | int | float)
    )


def _event(data: Mapping[str, Any]) -> str:
    """Tell the beginning or the end of a session.

    >>> _event({"event": "begin", "target_cross_pct": 50.5, "tolerance_pct": 0.2})
    'begun, wanted 50.5 % ± 0.2'
    """
    if data["event"] == "end":
        return "ended"
    wanted, within = data.get("target_cross_pct"), data.get("tolerance_pct")
    said = "begun"
    if isinstance(wanted, int | float):
        said += f", wanted {wanted:.4g} %"
        if isinstance(within, int | float):
            said += f" ± {within:.4g}"
    return said


def _about(entry: Entry) -> str:
    return f"about {entry.data['about']}: " if entry.data.get("about") else ""


def _turns(file: CarFile, turns: Mapping[str, float], none: str = "nothing turned") -> str:
    each = (turns.get(name, 0) for name in (*CORNERS, *LINKS))
    return turned_corners(each, file.counts()) or none


def entry_text(book: Book, entry: Entry) -> str:
    """Tell of an entry what a person can use of its data, what it means, and notes about it."""
    standing = book.standing(book.now(entry))
    parts = [f"Entry {entry.number}, {kind_name(entry)}, {entry.at}{standing and ', ' + standing}"]
    for key, value in entry.data.items():
        if key not in _FOR_PROGRAMS and value != "":
            said = _value(book.file, key, value)
            parts.append(wrapped(f"  {spelled(key)}: {spelled(said)}", "    "))
    for one in book.corrections_of(entry):
        told = "; ".join(corrected_values(one.data))
        parts.append(wrapped(f"  Corrected by entry {one.number}: {spelled(told)}", "    "))
    if entry.kind == "weigh_in" and (weighed := book.weighed(entry)):
        was = aboard_in(book.file, weighed.readings)
        if was.source != "assumed":
            was = was._replace(source="log", entry=entry.number, day=entry.at[:10])
        parts += ["", state_line(book.file, was, ""), weigh_text(book.file, weighed)]
    if entry.kind == "belief":
        parts += ["", _belief(book.file, entry)]
    notes = [one for one in book.kept("note") if one.data.get("about") == entry.number]
    return "\n".join(parts + (["", *_notes(notes)] if notes else []))


def _value(file: CarFile, key: str, value: object) -> str:
    if key == "turns" and isinstance(value, dict):
        return _turns(file, value)
    if isinstance(value, float):
        return f"{value:.6g}"
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)


def _belief(file: CarFile, entry: Entry) -> str:
    """Tell what was believed of the car, in the units of its file."""
    from balancer.log.car_from_log import last_belief
    from balancer.report.learned import learned_text

    if found := last_belief([entry], file.car):
        return learned_text(file, found[1])
    return wrapped(
        "It can't be told in the units of the car file: it is of other rates than the file has"
        " now, or damaged. No session goes by it."
    )


def correction_text(book: Book, entry: Entry, name: str) -> str:
    """Say what a correction has put right, and what comes of it."""
    data = entry.data
    lines = [f"Entry {entry.number} of {name}: weigh-in {data['corrects']} is corrected."]
    lines += [f"  {spelled(told)}" for told in corrected_values(data)]
    corrected = next(one for one in book.kept("weigh_in") if one.number == data["corrects"])
    lines.append(f"It is {_when(corrected)}, {spelled(_summary(book, corrected))} now.")
    if count := len(book.outdated):
        entries = "1 plan or lesson" if count == 1 else f"{count} plans and lessons"
        lines.append(f"{entries} of sessions came of what was wrong: they no longer count.")
    return "\n".join(wrapped(line, "  ") for line in lines)


def _notes(notes: Iterable[Entry]) -> list[str]:
    return [
        wrapped(f"{_when(one)}  note {one.number}: {spelled(_about(one) + one.data['text'])}", "  ")
        for one in notes
    ]


def state_text(book: Book, state: LogState, when: str) -> str:
    """Tell how the car stood at a date."""
    lines = [first_line(book.file, f" at {when}, as far as the log knows"), ""]
    if state.weigh_in:
        number, said = state.weigh_in.number, _summary(book, state.weigh_in)
        lines.append(f"last weighed   {_when(state.weigh_in)} (entry {number}): {said}")
        lines.append(f"turned since   {_turns(book.file, state.turns_since)}")
    else:
        lines.append("last weighed   never")
    lines.append(f"turned in all  {_turns(book.file, state.turns)}")
    if state.belief:
        lines.append(f"learned        entry {state.belief.number}, {_when(state.belief)}")
    wide = [wrapped(spelled(line), " " * 15) for line in lines]
    return "\n".join(wide + (["", *_notes(state.notes)] if state.notes else []))
