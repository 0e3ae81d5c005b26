"""What no single key of a car file can tell: keys that contradict or need each other."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from balancer.car.conventions import CORNERS
from balancer.errors import Fault
from balancer.files.format.bounds import MOST_CHOICES, MOST_STEPS
from balancer.files.format.faults import line_of, meant, suggestion
from balancer.files.format.keys import AXLE_FIELDS, NONLINEAR_KEYS
from balancer.files.format.toml_text import Key, TomlFile, spell
from balancer.units import Units

AXLES = {"front": CORNERS[:2], "rear": CORNERS[2:]}
_USUAL_STEPS = {"perch": 0.25, "mount": 0.25, "link": 0.5}
"""Of adjusters whose step is left out [turns]."""

_OVERHANG = 1.6
_OUTSIDE = 0.25
"""How far beyond axles and tire centers a car may reach [m]; long tails and wide bodies do."""


def across(file: TomlFile, faults: Iterable[Fault], units: Units | None) -> Iterator[Fault]:
    """Find what each key of a car file alone can't tell.

    Args:
        faults: Found so far; what they are about is left alone.
        units: Of the file; None: they are not known.

    Examples:
        >>> item = {"name": "driver", "mass": 78}
        >>> data = {"class": {"weighed_with": ["diver"]}, "on_board": [item]}
        >>> print(*across(TomlFile("a.toml", data, ""), [], None))
        a.toml: class.weighed_with: “diver” is not in [[on_board]]: did you mean driver?
    """
    sound = Sound(file, faults)
    yield from _missing_rates(file)
    yield from _no_lead(sound)
    yield from _too_fine(sound)
    yield from _too_many(sound)
    yield from _twice(sound)
    yield from _weighed_with(sound)
    yield from _fluids(sound)
    if units and sound.get("units"):
        yield from _outside(sound, units)


class Sound:
    """The values of a file with which nothing is wrong so far, for checks across several."""

    def __init__(self, file: TomlFile, faults: Iterable[Fault]) -> None:
        self.file, self.data, self.place = file, file.data, file.place
        faults = list(faults)
        self.faulted = [_path_of(file, fault) for fault in faults]
        self.unread = [_path_of(file, fault) for fault in faults if _too_long(fault)]
        self.mended = {line_of(file, slip) for slip in file.slips}

    def get(self, *key: str | int) -> Any:
        """Give the value of a key; None when it is not there or there is a fault in it."""
        value: Any = self.data
        for part in key:
            try:
                value = value[part]
            except (KeyError, IndexError, TypeError):
                return None
        if not self.faulted:
            # Lines are worked out only for a file with faults.
            return value
        path = spell(key)
        wrong = any(_within(one, path) for one in self.faulted)
        wrong = wrong or any(_within(path, one) for one in self.unread)
        return None if wrong or self.file.line(key) in self.mended else value

    def entries(self, name: str) -> Iterator[tuple[int, str]]:
        """Give number and name of each [[table]] of a list."""
        entries = self.data.get(name)
        for number in range(len(entries) if isinstance(entries, list) else 0):
            called = self.get(name, number, "name")
            if isinstance(called, str):
                yield number, called


def _path_of(file: TomlFile, fault: Fault) -> str:
    """Take the key path out of where a fault is; nothing for one of a whole line or file."""
    return re.sub(r"^(:\d+)?(: )?", "", fault.where.removeprefix(file.name))


def _too_long(fault: Fault) -> bool:
    """Say whether a list is too long, so that what is in it was not looked at."""
    has = re.match(r"has (\d+) value", fault.what)
    most = re.match(r"(?:give )?(\d+)", fault.way_out)
    return has is not None and most is not None and int(has[1]) > int(most[1])


def _within(path: str, holder: str) -> bool:
    """Say whether a path is that of a value or of what it holds."""
    return path.startswith(holder) and path[len(holder) : len(holder) + 1] in ("", "[", ".", " ")


def corner_value(data: dict[str, Any], corner: str, key: str) -> tuple[Any, Key]:
    """Look a corner's key up: its own table first, then its axle's.

    Args:
        data: Of the car file.

    Returns:
        The value, None when there is none, and where it is or would be.

    Examples:
        >>> corner_value({"rear": {"track": 1430}}, "LR", "track")
        (1430, ('rear', 'track'))
    """
    own = data.get(corner)
    if isinstance(own, dict) and key in own:
        return own[key], (corner, key)
    axle = "front" if corner in AXLES["front"] else "rear"
    table = data.get(axle)
    return (table.get(key) if isinstance(table, dict) else None), (axle, key)


def turns_of(step: float | str) -> float:
    """Read a step, a number or a fraction in quotes.

    Returns:
        [turns]

    Examples:
        >>> turns_of("1/4")
        0.25
    """
    if isinstance(step, str):
        top, _, bottom = step.partition("/")
        return int(top) / int(bottom)
    return float(step)


def plain(value: Any) -> Any:
    """Give the number that stands for a key of one number or of rows: that of the row next to 0.

    Examples:
        >>> plain(70), plain([[-30, 0.72], [0, 0.70]])
        (70, 0.7)
    """
    return min(value, key=lambda row: abs(row[0]))[1] if isinstance(value, list) else value


def has_nonlinear_keys(data: dict[str, Any]) -> bool:
    """Say whether a car file describes corners or bars that are more than a rate and a ratio.

    Args:
        data: Of the car file, sound or not.

    Examples:
        >>> has_nonlinear_keys({"rear": {"spring_rate": [[0, 40], [30, 60]]}})
        True
    """
    for name in (*AXLES, *CORNERS):
        given = data.get(name)
        if isinstance(given, dict) and (
            not NONLINEAR_KEYS.isdisjoint(given)
            or any(isinstance(given.get(key), list) for key in ("spring_rate", "motion_ratio"))
        ):
            return True
    return False


def is_solid(data: dict[str, Any], axle: str) -> bool:
    """Say whether an axle has no springs: neither a spring rate nor a motion ratio anywhere.

    Args:
        data: Of the car file.
        axle: `front` or `rear`.

    Returns:
        False also where a key looks like one of the two misspelled.

    Examples:
        >>> is_solid({"rear": {"track": 1430}}, "rear")
        True
        >>> is_solid({"rear": {"sping_rate": 60}}, "rear")
        False
    """
    tables = [data.get(name) for name in (axle, *AXLES[axle])]
    given = {key for table in tables if isinstance(table, dict) for key in table}
    given |= {meant(key, list(AXLE_FIELDS)) for key in given if key not in AXLE_FIELDS}
    return isinstance(data.get(axle), dict) and not {"spring_rate", "motion_ratio"} & given


def _nothing_gives(file: TomlFile) -> Iterator[Fault]:
    """Find cars that stand on four stone feet: no load could be told from geometry."""
    stiff = not isinstance(file.data.get("body"), dict) or (
        "torsional_stiffness" not in file.data["body"]
    )
    if not stiff or not all(is_solid(file.data, axle) for axle in AXLES):
        return
    if all(corner_value(file.data, corner, "tire_rate")[0] is None for corner in CORNERS):
        what = "nothing gives way: no springs, rigid tires, rigid chassis"
        way_out = "give tire_rate or torsional_stiffness; with springs spring_rate and motion_ratio"
        yield Fault(file.place(("front",)), what, way_out)


def _missing_rates(file: TomlFile) -> Iterator[Fault]:
    meanings = {"spring_rate": "spring rate", "motion_ratio": "spring travel / wheel travel"}
    for axle, corners in AXLES.items():
        table = file.data.get(axle)
        if not isinstance(table, dict) or is_solid(file.data, axle):
            continue
        misspelled = {meant(key, list(AXLE_FIELDS)) for key in table if key not in AXLE_FIELDS}
        for key, meaning in meanings.items():
            if key not in misspelled and any(
                corner_value(file.data, corner, key)[0] is None for corner in corners
            ):
                yield Fault(file.place((axle, key)), "is missing", f"add it: {meaning}")
    yield from _nothing_gives(file)


def _no_lead(sound: Sound) -> Iterator[Fault]:
    """Find steps and travels of perches that are not there."""
    for key in ("perch_step", "perch_travel"):
        without: dict[Key, list[str]] = {}
        for corner in CORNERS:
            lead, _ = corner_value(sound.data, corner, "perch_lead")
            value, place = corner_value(sound.data, corner, key)
            axle = "front" if corner in AXLES["front"] else "rear"
            if value is not None and lead is None and isinstance(sound.data.get(axle), dict):
                without.setdefault(place, []).append(corner)
        for place, corners in without.items():
            has = "has" if len(corners) == 1 else "have"
            what = f"given, but {' and '.join(corners)} {has} no perch_lead"
            yield Fault(sound.place(place), what, "give perch_lead too")


def _too_fine(sound: Sound) -> Iterator[Fault]:
    """Find adjusters with more steps than anybody counts and a plan could try."""
    said: set[Key] = set()
    for corner in CORNERS:
        for kind, usual in _USUAL_STEPS.items():
            step, own = corner_value(sound.data, corner, f"{kind}_step")
            _, place = corner_value(sound.data, corner, f"{kind}_travel")
            travel = sound.get(*place)
            if place in said or not travel or (step is not None and sound.get(*own) is None):
                continue
            turns, size = travel[1] - travel[0], usual if step is None else turns_of(step)
            if turns / size > MOST_STEPS:
                said.add(place)
                what = f"{turns:g} turns in steps of {size:g} are {turns / size:.0f} steps"
                way_out = f"expected {MOST_STEPS} at most: give the turns that are left"
                yield Fault(sound.place(place), what, f"{way_out}, or a larger {kind}_step")


def _too_many(sound: Sound) -> Iterator[Fault]:
    """Find more choices of ballast than can be weighed against each other."""
    counts = [len(sound.get(name) or []) for name in ("place", "piece")]
    if counts[0] * counts[1] > MOST_CHOICES:
        what = f"{counts[1]} kinds at {counts[0]} places are {counts[0] * counts[1]} choices"
        yield Fault(sound.place(("piece",)), what, f"expected {MOST_CHOICES} at most")


def _twice(sound: Sound) -> Iterator[Fault]:
    """Find names that two of a kind have."""
    for list_name in ("on_board", "place"):
        names: set[str] = set()
        for number, name in sound.entries(list_name):
            if name in names:
                where = sound.place((list_name, number, "name"))
                yield Fault(where, f"“{name}” is there twice", "give each its own name")
            names.add(name)


def _weighed_with(sound: Sound) -> Iterator[Fault]:
    """Find names in [class] that are not those of items."""
    items = sound.data.get("on_board", [])
    known = [name for _, name in sound.entries("on_board")]
    if not isinstance(items, list) or len(known) < len(items) or (sound.faulted and not items):
        # There is a fault in the items; it will be mended first.
        return
    words = sound.get("class", "weighed_with") or []
    names = [word.partition("=")[0].strip() for word in words]
    for what, way_out in unknown_names(names, known, "[[on_board]]"):
        yield Fault(sound.place(("class", "weighed_with")), what, way_out)


def _fluids(sound: Sound) -> Iterator[Fault]:
    """Find items that are neither solid nor fluid, and tanks that don't hold what is in them."""
    for number, name in sound.entries("on_board"):
        entry = sound.data["on_board"][number]
        given = [key for key in ("mass", "volume") if key in entry]
        if "," in name or "=" in name or name.strip().lower() == "none":
            what = f"“{name}” can't be said after --weighed-with"
            way_out = "give it a name without , or =, and not none"
            yield Fault(sound.place(("on_board", number, "name")), what, way_out)
        if len(given) != 1:
            what = "has both mass and volume" if given else "has no mass"
            way_out = "give one of them" if given else "give mass, or volume of a fluid"
            where = sound.place(("on_board", number, given[0] if given else "name"))
            yield Fault(where, f"“{name}” {what}", way_out)
        for key in ("density", "tank", "reserve"):
            if key in entry and "volume" not in entry:
                where = sound.place(("on_board", number, key))
                yield Fault(where, f"given, but “{name}” has no volume", "give volume too")
        full = sound.get("on_board", number, "tank")
        for key in ("volume", "reserve"):
            value = sound.get("on_board", number, key)
            if full is not None and value is not None and value > full:
                where = sound.place(("on_board", number, key))
                yield Fault(where, f"{value:g} is more than the tank holds, {full:g}", "check both")


def unknown_names(
    names: Sequence[str], known: Sequence[str], home: str
) -> Iterator[tuple[str, str]]:
    """Find names that are not those of items, or are given twice.

    Args:
        names: As given there.
        home: Where the known ones are.

    Returns:
        What is wrong, and the way out.

    Examples:
        >>> list(unknown_names(["diver"], ["driver"], "[[on_board]]"))
        [('“diver” is not in [[on_board]]', 'did you mean driver?')]
    """
    for index, name in enumerate(names):
        if not name:
            yield "a name is missing", "write it like fuel=20"
        elif name not in known and name.lower() == "none":
            yield "“none” among names", "for the empty car write none alone, in a file []"
        elif name not in known:
            way_out = suggestion(name, known) if known else "add it as [[on_board]]"
            yield f"“{name}” is not in {home}", way_out
        elif name in names[:index]:
            yield f"“{name}” is there twice", "name each once"


def _outside(sound: Sound, units: Units) -> Iterator[Fault]:
    """Find places and items that are not in the car."""
    wheelbase = sound.get("wheelbase")
    tracks = [sound.get(axle, "track") for axle in AXLES]
    bounds = {}
    if wheelbase is not None:
        reach = units.from_si(_OVERHANG, "length")
        bounds["aft"] = (-reach, wheelbase + reach)
    if None not in tracks:
        half = max(tracks) / 2 + units.from_si(_OUTSIDE, "length")
        bounds["left"] = (-half, half)
    for list_name in ("on_board", "place"):
        for number, name in sound.entries(list_name):
            for key, (low, high) in bounds.items():
                value = sound.get(list_name, number, key)
                values = value if isinstance(value, list) else [value]
                if value is not None and any(not low <= one <= high for one in values):
                    yield Fault(
                        sound.place((list_name, number, key)),
                        f"“{name}” is outside the car",
                        f"expected {low:.0f} to {high:.0f} {units.labels['length']}",
                    )
