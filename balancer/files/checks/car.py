"""What no single key of a car file can tell: keys that contradict each other, or are left out."""

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from balancer.car.conventions import CORNERS
from balancer.car.errors import Fault
from balancer.files.car_file import Missing
from balancer.files.checks.adjusters import adjuster_faults
from balancer.files.checks.sound import (
    AXLES,
    Sound,
    corner_value,
    given_keys,
    is_unsprung,
    states_in,
)
from balancer.files.format.bounds import MOST_CHOICES
from balancer.files.format.faults import suggestion
from balancer.files.format.toml_text import TomlFile
from balancer.files.units import Units

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
    yield from _missing_rates(sound)
    yield from adjuster_faults(sound, units)
    yield from _too_many(sound)
    yield from sound.named_twice("on_board")
    yield from sound.named_twice("race_trim")
    yield from sound.named_twice("place")
    yield from _states(sound)
    yield from _target(sound)
    yield from _fluids(sound)
    if units and sound.get("units"):
        yield from _outside(sound, units)


def _missing_rates(sound: Sound) -> Iterator[Fault]:
    meanings = {"spring_rate": "spring rate", "motion_ratio": "spring travel / wheel travel"}
    for axle, corners in AXLES.items():
        if axle not in sound.data or is_unsprung(sound.data, axle):
            continue
        misspelled = given_keys(sound.data, axle) - sound.table(axle).keys()
        for key, meaning in meanings.items():
            values = [corner_value(sound.data, corner, key)[0] for corner in corners]
            if isinstance(sound.data[axle], dict) and key not in misspelled and None in values:
                yield sound.fault((axle, key), "is missing", f"add it: {meaning}")


def _too_many(sound: Sound) -> Iterator[Fault]:
    """Find more choices of ballast than can be weighed against each other."""
    places, pieces = (len(sound.get(name) or []) for name in ("place", "piece"))
    if places * pieces > MOST_CHOICES:
        what = f"{pieces} kinds at {places} places are {places * pieces} choices"
        yield sound.fault(("piece",), what, f"expected {MOST_CHOICES} at most")


def _target(sound: Sound) -> Iterator[Fault]:
    """Find a target that is none, or that the class forbids."""
    cross, band = sound.get("target", "cross_pct"), sound.get("class", "cross_pct")
    if cross is not None and sound.get("target", "equal") is not None:
        yield sound.fault(("target", "equal"), "given beside cross_pct", "give one of them")
    if cross is None or band is None:
        return
    low, high = band if isinstance(band, list) else (band, band)
    if not low <= cross <= high:
        what = f"{cross:g} is not within class.cross_pct, {low:g} to {high:g}"
        yield sound.fault(("target", "cross_pct"), what, "check both")


def _states(sound: Sound) -> Iterator[Fault]:
    """Find names of race trims that are taken, and names in them that are not those of items."""
    items = sound.data.get("on_board", [])
    known = [name for _, name in sound.entries("on_board")]
    if not isinstance(items, list) or len(known) < len(items) or (sound.faulted and not items):
        # There is a fault in the items; it will be mended first.
        return
    for number, name in sound.entries("race_trim"):
        if name in known:
            what = f"“{name}” is the name of an item on board too"
            yield sound.fault(("race_trim", number, "name"), what, f"call it {name} race, say")
    for key in states_in(sound.data):
        names = [word.partition("=")[0].strip() for word in sound.get(*key) or []]
        for what, way_out in unknown_names(names, known, "[[on_board]]"):
            yield sound.fault(key, what, way_out)


def _fluids(sound: Sound) -> Iterator[Fault]:
    """Find items that are neither solid nor fluid, and tanks that don't hold what is in them."""
    for number, name in sound.entries("on_board"):
        for key, what, way_out in _of_item(name, sound.data["on_board"][number]):
            yield sound.fault(("on_board", number, key), what, way_out)
        full = sound.get("on_board", number, "tank")
        for key in ("volume", "reserve"):
            value = sound.get("on_board", number, key)
            if full is not None and value is not None and value > full:
                what = f"{value:g} is more than the tank holds, {full:g}"
                yield sound.fault(("on_board", number, key), what, "check both")


def _of_item(name: str, entry: dict[str, Any]) -> Iterator[tuple[str, str, str]]:
    given = [key for key in ("mass", "volume") if key in entry]
    if "," in name or "=" in name or name.strip().lower() == "none":
        way_out = "give it a name without , or =, and not none"
        yield "name", f"“{name}” can't be said after --weighed-with", way_out
    if not given:
        yield "name", f"“{name}” has no mass", "give mass, or volume of a fluid"
    if len(given) == 2:
        yield "mass", f"“{name}” has both mass and volume", "give one of them"
    for key in ("density", "tank", "reserve"):
        if key in entry and "volume" not in entry:
            yield key, f"given, but “{name}” has no volume", "give volume too"


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
    bounds = dict(_bounds(sound, units))
    for table in ("on_board", "place"):
        for number, name in sound.entries(table):
            for key, (low, high) in bounds.items():
                value = sound.get(table, number, key)
                values = value if isinstance(value, list) else [value]
                if value is not None and any(not low <= each <= high for each in values):
                    expected = f"expected {low:.0f} to {high:.0f} {units.labels['length']}"
                    yield sound.fault(
                        (table, number, key), f"“{name}” is outside the car", expected
                    )


def _bounds(sound: Sound, units: Units) -> Iterator[tuple[str, tuple[float, float]]]:
    """Give how far a car reaches, in the units of its file, as far as it says."""
    wheelbase = sound.get("wheelbase")
    if wheelbase is not None:
        reach = units.from_si(_OVERHANG, "length")
        yield "aft", (-reach, wheelbase + reach)
    tracks = [sound.get(axle, "track") for axle in AXLES]
    if None not in tracks:
        half = max(tracks) / 2 + units.from_si(_OUTSIDE, "length")
        yield "left", (-half, half)


_RATES = {
    "spring_rate": "the rate of both springs; of a kart, which has none, tire_rate instead",
    "motion_ratio": "spring travel / wheel travel",
}
_LEAD = "the perch travel in one turn"
_LEADS = ("perch_lead", "mount_lead", "link_lead")


def missing_in(file: TomlFile) -> Missing:
    """Find what a sound car file leaves out of springs and perches.

    Examples:
        >>> data = {"front": {"track": 1450}, "rear": {"track": 1440}}
        >>> print(missing_in(TomlFile("a.toml", data, "")).perches[1])
        a.toml: rear.perch_lead: is missing: add the perch travel in one turn
    """
    springs = tuple(_keys(file, _RATES)) if has_no_springs(file.data) else ()
    turned = any(corner_value(file.data, corner, key)[0] for corner in CORNERS for key in _LEADS)
    return Missing(springs, () if turned else tuple(_keys(file, {"perch_lead": _LEAD})))


def _keys(file: TomlFile, meanings: dict[str, str]) -> Iterator[Fault]:
    for axle in AXLES:
        for key, meaning in meanings.items():
            yield Fault(file.place((axle, key)), "is missing", f"add {meaning}")


def has_no_springs(data: dict[str, Any]) -> bool:
    """Say whether a car file says nothing of what gives way: no spring, no tire, no chassis.

    Examples:
        >>> has_no_springs({"front": {"track": 1.4}, "rear": {"track": 1.4, "tire_rate": 90}})
        False
    """
    given = [corner_value(data, corner, "tire_rate")[0] for corner in CORNERS]
    body = data.get("body")
    stiff = isinstance(body, dict) and "torsional_stiffness" in body
    return not stiff and given == [None] * 4 and all(is_unsprung(data, axle) for axle in AXLES)
