"""Rules of a class of which one forbids or empties another: nobody writes such, one is a slip."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from balancer.errors import Fault
from balancer.files.checks.car import Sound
from balancer.files.format.toml_text import TomlFile
from balancer.units import Units


def contradictions(file: TomlFile, faults: Iterable[Fault], units: Units) -> Iterator[Fault]:
    """Find rules in [class] that can't go together.

    Args:
        faults: Found so far; what they are about is left alone.

    Examples:
        >>> from balancer.units import METRIC
        >>> rules = {"class": {"minimum": 1090, "maximum": 1000}}
        >>> print(*contradictions(TomlFile("a.toml", rules, ""), [], METRIC))
        a.toml: class.maximum: 1000 kg is below the minimum, 1090 kg: check both
    """
    sound = Sound(file, faults)
    if isinstance(sound.data.get("class"), dict):
        yield from _lone(sound)
        yield from _margin(sound, units)
        yield from _least(sound, units)
        yield from _most(sound, units)


def _lone(sound: Sound) -> Iterator[Fault]:
    """Find rules that say nothing without another."""
    rules = sound.data["class"]
    for key, other in (("power", "mass_per_power"), ("mass_per_power", "power")):
        if key in rules and other not in rules:
            where = sound.place(("class", key))
            yield Fault(where, f"given, but there is no {other}", f"give {other} too")
    if "minimum" not in rules and "mass_per_power" not in rules:
        for key in ("margin", "shortfall_chance_pct"):
            if sound.get("class", key):
                where = sound.place(("class", key))
                yield Fault(where, "given, but there is no minimum", "give minimum too")
    if sound.get("class", "margin") and "shortfall_chance_pct" in rules:
        where = sound.place(("class", "shortfall_chance_pct"))
        yield Fault(where, "given beside margin", "give one or the other")


def _margin(sound: Sound, units: Units) -> Iterator[Fault]:
    margin, minimum = sound.get("class", "margin"), sound.get("class", "minimum")
    if not margin or not minimum:
        return
    where, label = sound.place(("class", "margin")), units.labels["mass"]
    if margin > minimum / 2:
        yield Fault(
            where,
            f"{margin:g} {label} is more than half the minimum",
            "give only what to be above the minimum by",
        )
        return
    maximum = sound.get("class", "maximum")
    if maximum and minimum <= maximum < minimum + margin:
        what = f"with the minimum it makes {minimum + margin:g} {label}"
        yield Fault(where, f"{what}, the maximum is {maximum:g} {label}", "give a smaller one")


def _least(sound: Sound, units: Units) -> Iterator[Fault]:
    """Find what is asked of wheels and axles that is more than what is asked of the car."""
    label = units.labels["mass"]
    wheel, axles = sound.get("class", "wheel_minimum"), sound.get("class", "axle_minimum")
    for name in ("minimum", "maximum"):
        limit = sound.get("class", name)
        if not limit:
            continue
        if wheel and 4 * wheel > limit:
            yield Fault(
                sound.place(("class", "wheel_minimum")),
                f"four times {wheel:g} {label} is more than the {name}, {limit:g} {label}",
                "give what the rules ask of one wheel",
            )
            wheel = None
        if axles and sum(axles) > limit:
            yield Fault(
                sound.place(("class", "axle_minimum")),
                f"both together are more than the {name}, {limit:g} {label}",
                "give what the rules ask of each axle",
            )
            axles = None


def _most(sound: Sound, units: Units) -> Iterator[Fault]:
    label = units.labels["mass"]
    maximum, minimum = sound.get("class", "maximum"), sound.get("class", "minimum")
    power, each = sound.get("class", "power"), sound.get("class", "mass_per_power")
    if maximum is None:
        return
    where = sound.place(("class", "maximum"))
    if minimum and maximum < minimum:
        what = f"{maximum:g} {label} is below the minimum, {minimum:g} {label}"
        yield Fault(where, what, "check both")
    if power and each and maximum < power * each:
        asked = f"power × mass_per_power, {power * each:g} {label}"
        yield Fault(where, f"{maximum:g} {label} is below {asked}", "check all three")
