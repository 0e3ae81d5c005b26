"""Rules of a class of which one forbids or empties another: nobody writes such, one is a slip."""

from collections.abc import Iterable, Iterator

from balancer.car.errors import Fault
from balancer.files.checks.sound import Sound
from balancer.files.format.toml_text import TomlFile
from balancer.files.units import Units

_NEEDS = (
    ("power", ("mass_per_power",)),
    ("mass_per_power", ("power",)),
    ("margin", ("minimum", "mass_per_power")),
    ("shortfall_chance_pct", ("minimum", "mass_per_power")),
)
"""Rules that say nothing without one of others; the first is asked for."""


def contradictions(file: TomlFile, faults: Iterable[Fault], units: Units) -> Iterator[Fault]:
    """Find rules in [class] that can't go together.

    Args:
        faults: Found so far; what they are about is left alone.

    Examples:
        >>> from balancer.files.units import METRIC
        >>> rules = {"class": {"minimum": 1090, "maximum": 1000}}
        >>> print(*contradictions(TomlFile("a.toml", rules, ""), [], METRIC))
        a.toml: class.maximum: 1000 kg is below the minimum, 1090 kg: check both
    """
    sound = Sound(file, faults)
    for key, what, way_out in _Rules(sound, units.labels["mass"]).contradictions():
        yield sound.fault(("class", key), what, way_out)


class _Rules:
    def __init__(self, sound: Sound, label: str) -> None:
        self.given, self.label = sound.table("class"), label
        self.sound = {key: sound.get("class", key) for key in self.given}

    def contradictions(self) -> Iterator[tuple[str, str, str]]:
        yield from self.lone()
        yield from self.margin()
        for name in ("minimum", "maximum"):
            if limit := self.sound.get(name):
                yield from self.parts(name, limit)
        yield from self.most()

    def mass(self, value: float) -> str:
        return f"{value:g} {self.label}"

    def lone(self) -> Iterator[tuple[str, str, str]]:
        """Find rules that say nothing without another, or say it twice."""
        for key, others in _NEEDS:
            matters = self.sound.get(key) if len(others) > 1 else key in self.given
            if matters and not self.given.keys() & set(others):
                yield key, f"given, but there is no {others[0]}", f"give {others[0]} too"
        if self.sound.get("margin") and "shortfall_chance_pct" in self.given:
            yield "shortfall_chance_pct", "given beside margin", "give one or the other"

    def margin(self) -> Iterator[tuple[str, str, str]]:
        margin, minimum = self.sound.get("margin"), self.sound.get("minimum")
        maximum = self.sound.get("maximum")
        if not margin or not minimum:
            return
        if margin > minimum / 2:
            what = f"{self.mass(margin)} is more than half the minimum"
            yield "margin", what, "give only what to be above the minimum by"
        elif maximum and minimum <= maximum < minimum + margin:
            both = f"with the minimum it makes {self.mass(minimum + margin)}"
            what = f"{both}, the maximum is {self.mass(maximum)}"
            yield "margin", what, "give a smaller one"

    def parts(self, name: str, limit: float) -> Iterator[tuple[str, str, str]]:
        """Find what is asked of wheels and axles that is more than what is asked of the car."""
        said = f"more than the {name}, {self.mass(limit)}"
        wheel, axles = self.sound.get("wheel_minimum"), self.sound.get("axle_minimum")
        if wheel and 4 * wheel > limit:
            what = f"four times {self.mass(wheel)} is {said}"
            yield "wheel_minimum", what, "give what the rules ask of one wheel"
            self.sound["wheel_minimum"] = None
        if axles and sum(axles) > limit:
            what = f"both together are {said}"
            yield "axle_minimum", what, "give what the rules ask of each axle"
            self.sound["axle_minimum"] = None

    def most(self) -> Iterator[tuple[str, str, str]]:
        maximum, minimum = self.sound.get("maximum"), self.sound.get("minimum")
        power, each = self.sound.get("power"), self.sound.get("mass_per_power")
        if maximum is None:
            return
        if minimum and maximum < minimum:
            what = f"{self.mass(maximum)} is below the minimum, {self.mass(minimum)}"
            yield "maximum", what, "check both"
        if power and each and maximum < power * each:
            asked = f"power × mass_per_power, {self.mass(power * each)}"
            yield "maximum", f"{self.mass(maximum)} is below {asked}", "check all three"
