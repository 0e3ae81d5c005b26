"""From a car file to a `Car`: validation, what looks odd, and the car that it describes."""

import os
from collections.abc import Iterable, Iterator, Sequence
from math import inf, nan
from typing import Any

import numpy as np
from pydantic_core import SchemaValidator, ValidationError

from balancer.car.conventions import CORNERS, Floats
from balancer.car.errors import Fault, InputError
from balancer.car.model import (
    FUEL_DENSITY,
    USUAL_LEVEL,
    Car,
    Item,
    Piece,
    Place,
    RaceTrim,
    Rules,
    Scales,
    Target,
)
from balancer.files.car_file import CarFile
from balancer.files.checks.car import across, has_no_springs, missing_in
from balancer.files.checks.class_rules import contradictions
from balancer.files.checks.sound import (
    AXLES,
    Sound,
    corner_value,
    has_nonlinear_keys,
    is_unsprung,
    plain,
    states_in,
)
from balancer.files.counting import SPACER, TURN, Count, read_count
from balancer.files.format.bounds import first_of
from balancer.files.format.faults import in_order
from balancer.files.format.keys import CAR_SCHEMA, ITEM_FIELDS, UNSAID
from balancer.files.format.quoted import in_numbers
from balancer.files.format.toml_text import TomlFile, read_toml
from balancer.files.format.validation import validate
from balancer.files.format.value_types import Key, several, table
from balancer.files.on_board import look_up
from balancer.files.units import METRIC, SYSTEMS, Units

EQUAL_SPRINGS = 40e3
"""Rate that stands for springs of which the file says nothing [N/m]: only that it is the same at
all wheels matters."""


def read_car(path: str | os.PathLike[str]) -> CarFile:
    """Read a car file.

    Raises:
        InputError: With every fault of the file: where, what was found, and a way out.

    References:
        The file format is documented in the guide and by `balancer schema`.

    Examples:
        >>> read_car("nowhere.toml")
        Traceback (most recent call last):
        balancer.car.errors.InputError: nowhere.toml: no such file: check the name and the folder
    """
    file = read_toml(path)
    units = SYSTEMS.get(str(file.data.get("units")))
    file = in_numbers(file, units)
    si, faults = validate(file, CAR_SCHEMA, units)
    sound = Sound(file, faults)
    states = {key: sound.get(*key) or [] for key in states_in(file.data)}
    faults += across(file, faults, units)
    if has_nonlinear_keys(file.data):
        from balancer.files.checks.corners import corner_faults

        faults += corner_faults(Sound(file, faults))
    if units is not None:
        faults += contradictions(file, faults, units)
        faults += _race_trims(file, states, faults, units)
    if faults or units is None:
        raise InputError(first_of(file.name, in_order(file, faults)))
    missing = missing_in(file)
    counts = tuple(_count(si, corner) for corner in CORNERS)
    return CarFile(file.path, _car(si, units, counts), units, tuple(_notes(file)), missing, counts)


def _count(si: dict[str, Any], corner: str) -> Count:
    """Give what is counted at a perch; a spacer is in or it is out."""
    said, lead = (corner_value(si, corner, key)[0] for key in ("perch_count", "perch_lead"))
    if said is not None:
        return read_count(said, nan if lead is None else lead) or TURN
    return SPACER if corner_value(si, corner, "spring_rate")[0] is None else TURN


def _race_trims(
    file: TomlFile, states: dict[Key, list[str]], faults: list[Fault], units: Units
) -> Iterator[Fault]:
    """Find amounts in race trims that can't be, once all that comes and goes is sound."""
    sound = Sound(file, faults)
    items = _sound_items(sound, units)
    if items is None:
        return
    for key, words in states.items():
        state, wrong = look_up(items, words, units, "", "[[on_board]]")
        if wrong:
            # Where it stands is worked out only for what is wrong.
            yield from look_up(items, words, units, file.place(key), "[[on_board]]")[1]
        if sound.get("class", "moment") == "after":
            for fault in _above_reserve(state.items, words, units):
                yield fault._replace(where=file.place(key))


def _above_reserve(items: Iterable[Item], words: list[str], units: Units) -> Iterator[Fault]:
    """Find an amount that can't be left after a race."""
    said = {word.partition("=")[0].strip() for word in words if "=" in word}
    for item in items:
        if item.density and item.name in said and 0 < item.reserve < item.mass:
            left = units.from_si(item.reserve / item.density, "volume")
            what = f"{item.name} is above its reserve, {left:g} {units.labels['volume']}"
            way_out = 'leave out the amount, or write moment = "before"'
            yield Fault("", f'{what}, but moment is "after"', way_out)


def _sound_items(sound: Sound, units: Units) -> list[Item] | None:
    """Give all that comes and goes, whatever is wrong elsewhere; None where there is a fault."""
    entries = sound.data.get("on_board", [])
    # What is on board has a mass even where its place is missing.
    fields = {name: field._replace(required=name == "name") for name, field in ITEM_FIELDS.items()}
    try:
        schema = several(table(fields), 0, 200)
        si = SchemaValidator(schema).validate_python(entries, context=units)
    except ValidationError:
        return None
    keys = [("on_board", number, key) for number, entry in enumerate(entries) for key in entry]
    if any(sound.get(*key) is None for key in keys):
        return None
    return [_item(entry) for entry in si]


def _notes(file: TomlFile) -> Iterator[str]:
    yield from _odd_ratios(file)
    yield from _used_up(file)
    yield from _left_alone(file)
    if has_no_springs(file.data):
        yield (
            f"{file.name}: no springs: what is put on board is spread over the wheels as by four"
            " equal ones"
        )
        return
    unsprung = [axle for axle in AXLES if is_unsprung(file.data, axle)]
    if len(unsprung) == 1:
        yield (
            f"{file.place((unsprung[0],))}: no spring_rate and no motion_ratio:"
            " taken as unsprung, as on a kart"
        )
    for axle in unsprung:
        if file.data[axle].get("anti_roll_bar"):
            where = file.place((axle, "anti_roll_bar"))
            yield f"{where}: does nothing on an axle without springs"
    yield from _odd_stiffness(file, bare_frame=len(unsprung) == 2)


def _odd_ratios(file: TomlFile) -> Iterator[str]:
    for corner in CORNERS:
        value, place = corner_value(file.data, corner, "motion_ratio")
        ratio = plain(value)
        if ratio is not None and ratio > 1 and corner in ("LF", "LR", place[0]):
            yield (
                f"{file.place(place)}: {ratio:g} is above 1, which few cars have: it is spring"
                f" travel / wheel travel (the inverse would be {1 / ratio:.3g})"
            )


def _left_alone(file: TomlFile) -> Iterator[str]:
    if UNSAID not in file.text:
        return
    from balancer.files.first_file import left_alone

    if left := left_alone(file.text, SYSTEMS[file.data["units"]]):
        yield f"{file.name}: {', '.join(left)} still as init wrote it: put in your car's"


def _used_up(file: TomlFile) -> Iterator[str]:
    rules = file.data.get("class", {})
    for number, item in enumerate(file.data.get("on_board", [])):
        listed = rules.get("moment") == "after" and item["name"] in rules.get("weighed_with", [])
        if listed and "volume" in item and "reserve" not in item:
            where = file.place(("on_board", number, "name"))
            yield f"{where}: “{item['name']}” has no reserve: after the race it is taken as used up"


def _odd_stiffness(file: TomlFile, bare_frame: bool) -> Iterator[str]:
    stiffness = file.data.get("body", {}).get("torsional_stiffness")
    if stiffness is None:
        return
    units = SYSTEMS[file.data["units"]]
    stiff = units.to_si(stiffness, "torsion") / METRIC.factors["torsion"]
    # A bare frame on four tires twists on purpose.
    if not (20 if bare_frame else 200) <= stiff <= 60_000:
        yield (
            f"{file.place(('body', 'torsional_stiffness'))}: {stiffness:g}"
            f" {units.labels['torsion']} is unusual for a car"
        )


def _car(si: dict[str, Any], units: Units, counts: Sequence[Count]) -> Car:
    """Make a car of a sound file; a key of the same name in the model needs no word here."""

    def corners(key: str, *left_out: Any) -> Floats:
        values = [plain(corner_value(si, corner, key)[0]) for corner in CORNERS]
        usual = left_out if len(left_out) == 4 else left_out * 4
        return np.array([u if v is None else v for v, u in zip(values, usual, strict=True)])

    travels = [corner_value(si, corner, "perch_travel")[0] for corner in CORNERS]
    in_a_turn = np.array([count.in_a_turn for count in counts])
    bars = [si[axle].get("anti_roll_bar", 0.0) for axle in AXLES]
    # Loads of a car that gives way nowhere could not be told; what needs springs asks for them.
    usual = EQUAL_SPRINGS if has_no_springs(si) else inf
    return Car(
        name=si["name"],
        wheelbase=si["wheelbase"],
        tracks=np.array([si[axle]["track"] for axle in AXLES]),
        spring_rate=corners("spring_rate", usual),
        motion_ratio=corners("motion_ratio", 1.0),
        tire_rate=corners("tire_rate", inf),
        unsprung_mass=corners("unsprung_mass", 0.0),
        bar_rate=np.array(bars) * [si[axle].get("bar_connected", True) for axle in AXLES],
        perch_lead=corners("perch_lead", nan),
        perch_step=corners("perch_step", *(count.step for count in counts)) / in_a_turn,
        perch_travel=np.array([[-inf, inf] if each is None else each for each in travels])
        / in_a_turn[:, None],
        **si.get("body", {}),
        scales=_scales(si.get("scales"), units),
        on_board=tuple(_item(entry) for entry in si.get("on_board", [])),
        rules=Rules(**_fractions(si.get("class", {}))),
        places=tuple(Place(**{"up": 0.0, **entry}) for entry in si.get("place", [])),
        pieces=tuple(Piece(**entry) for entry in si.get("piece", [])),
        target=_target(si.get("target", {})),
        race_trims=tuple(RaceTrim(**entry) for entry in si.get("race_trim", [])),
        **(_beyond(si) if has_nonlinear_keys(si) else {}),
    )


def _beyond(si: dict[str, Any]) -> dict[str, Any]:
    # Most cars are read without it.
    from balancer.files.corner_keys import corners_of, links_of

    return {"corners": corners_of(si), "links": links_of(si)}


def _fractions(table: dict[str, Any]) -> dict[str, Any]:
    """Give a table with fractions for percentages, `front` for `front_pct`, and no lists."""
    return {key.removesuffix("_pct"): _fraction(key, value) for key, value in table.items()}


def _fraction(key: str, value: Any) -> Any:
    if isinstance(value, list | tuple):
        return tuple(_fraction(key, part) for part in value)
    return value / 100 if key.endswith("_pct") else value


def _target(stated: dict[str, Any]) -> Target:
    # A tolerance is said in points.
    points = {"tolerance": stated["tolerance"] / 100} if "tolerance" in stated else {}
    return Target(**{**_fractions(stated), **points})


def _scales(stated: dict[str, Any] | None, units: Units) -> Scales:
    said = stated or {}
    usual = usual_scales(units)._replace(stated=stated is not None, level_stated="level" in said)
    return usual._replace(**_fractions(said))


def usual_scales(units: Units) -> Scales:
    """Give what a set of pads in good order does, where nobody says what these do."""
    step = units.to_si(0.5 if units is METRIC else 1.0, "load")
    return Scales(1e-3, 0.0, step, step, USUAL_LEVEL, False, False)


def _item(entry: dict[str, Any]) -> Item:
    item = {**dict.fromkeys(("aft", "left", "up"), 0.0), **entry}
    if "volume" in entry:
        density = item.setdefault("density", FUEL_DENSITY)
        item["mass"] = item.pop("volume") * density
        item |= {key: item[key] * density for key in ("tank", "reserve") if key in item}
    return Item(**item)
