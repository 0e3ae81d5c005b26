"""Keys of real corners that contradict or need each other."""

from collections.abc import Iterator

from balancer.car.errors import Fault
from balancer.files.checks.sound import AXLE_OF, AXLES, Sound, corner_value, given_keys, is_unsprung
from balancer.files.format.keys import CORNER_FIELDS, NONLINEAR_KEYS
from balancer.files.format.value_types import Key

_NEEDS = (
    ("tender_rate", "tender_travel"),
    ("tender_travel", "tender_rate"),
    ("bump_stop_rate", "bump_stop"),
    ("bump_stop_force", "bump_stop"),
    ("mount_step", "mount_lead"),
    ("mount_travel", "mount_lead"),
)
"""Keys that say nothing without another."""

_ONE_OF_TWO = (
    "give one: link_misfit is the gap with one end of the link undone, link_twist what the bar is"
    " twisted by with nothing undone"
)

_SPRUNG = NONLINEAR_KEYS & CORNER_FIELDS.keys()
"""Keys that mean nothing where there are no springs."""


def corner_faults(sound: Sound) -> Iterator[Fault]:
    """Find what each key of a corner or a bar alone can't tell.

    Examples:
        >>> from balancer.files.format.toml_text import TomlFile
        >>> axle = {"spring_rate": 60, "motion_ratio": 0.7, "bump_stop": 40}
        >>> file = TomlFile("a.toml", {"front": axle, "rear": {}}, "")
        >>> print(*corner_faults(Sound(file, [])), sep="\\n")
        a.toml: front.bump_stop: given without bump_stop_rate: give bump_stop_rate too
        a.toml: front.bump_stop: nothing says where the shock stands: give shock_travel or preload
    """
    said: set[Key] = set()
    for axle, corners in AXLES.items():
        if is_unsprung(sound.data, axle):
            yield from _without_springs(sound, axle)
            continue
        for corner in corners:
            for key, what, way_out in _of_corner(_Keys(sound, corner)):
                place = corner_value(sound.data, corner, key)[1]
                if (*place, what) not in said:
                    said.add((*place, what))
                    yield sound.fault(place, what, way_out)
    for axle in AXLES:
        yield from _of_bar(sound, axle)


def _without_springs(sound: Sound, axle: str) -> Iterator[Fault]:
    """Find keys of springs and shocks on an axle that has none."""
    tables = (axle, *AXLES[axle])
    given = [(name, key) for name in tables for key in sound.table(name) if key in _SPRUNG]
    if given:
        keys = ", ".join(dict.fromkeys(key for _, key in given))
        what = "given, but there is no spring_rate and no motion_ratio"
        yield sound.fault(given[0], what, f"give both; an unsprung axle does without {keys}")


class _Keys:
    def __init__(self, sound: Sound, corner: str) -> None:
        self.sound, self.corner = sound, corner
        # A key that is misspelled is given: that will be mended first.
        self.given = given_keys(sound.data, corner, AXLE_OF[corner])

    def get(self, key: str) -> object:
        return self.sound.get(*corner_value(self.sound.data, self.corner, key)[1])


def _of_corner(keys: _Keys) -> Iterator[tuple[str, str, str]]:
    given, fully_out = keys.given, keys.get("shock_travel") == 0
    for key, other in _NEEDS:
        if key in given and other not in given:
            yield key, f"given without {other}", f"give {other} too"
    yield from _of_curves(keys)
    if "bump_stop" in given and not {"shock_travel", "preload"} & given:
        yield "bump_stop", "nothing says where the shock stands", "give shock_travel or preload"
    if fully_out and "preload" not in given:
        what = "it is topped out, so its load does not tell the spring's force"
        yield (
            "shock_travel",
            what,
            "give preload: the spring's compression at full droop, as it stands",
        )
    if fully_out and keys.get("preload") == 0:
        what = "without preload its shock is not topped out, yet shock_travel is 0"
        way_out = "give the spring's compression at full droop, or leave out shock_travel"
        yield "preload", what, way_out
    if keys.get("bump_stop") == 0:
        yield "bump_stop", "touched at full droop", "give the shock travel at which it is touched"


def _of_curves(keys: _Keys) -> Iterator[tuple[str, str, str]]:
    """Find ramps without rows, and bump stops said in no way or in two."""
    ways = [key for key in ("bump_stop_rate", "bump_stop_force") if key in keys.given]
    if "bump_stop" in keys.given and not ways:
        yield "bump_stop", "given without bump_stop_rate", "give bump_stop_rate too"
    if len(ways) == 2:
        yield ways[1], f"given beside {ways[0]}", "give one: rates, or points of force"
    for ramp, rate in (("spring_ramp", "spring_rate"), ("bump_stop_ramp", "bump_stop_rate")):
        known = keys.get(rate)
        if keys.get(ramp) and (rate not in keys.given or isinstance(known, int | float)):
            yield ramp, f"given, but {rate} has no rows", f"give {rate} in rows, or leave it out"


def _of_bar(sound: Sound, axle: str) -> Iterator[Fault]:
    table, given = sound.table(axle), given_keys(sound.data, axle)
    links = [key for key in table if key == "bar_connected" or key.startswith("link_")]
    if links and not ("anti_roll_bar" in given and table.get("anti_roll_bar") != 0):
        said = "anti_roll_bar is 0" if "anti_roll_bar" in given else "there is no anti_roll_bar"
        way_out = "give its rate, also where it is off on the pads: bar_connected = false"
        yield sound.fault((axle, links[0]), f"given, but {said}", way_out)
    off = table.get("bar_connected") is False
    if "link_twist" in table and ("link_misfit" in table or off):
        what = "given, but the bar is off" if off else "given beside link_misfit"
        way_out = "give link_misfit alone: the gap at a link with one end undone"
        yield sound.fault((axle, "link_twist"), what, way_out if off else _ONE_OF_TWO)
    for key in ("link_step", "link_travel"):
        if key in table and "link_lead" not in given:
            yield sound.fault((axle, key), "given without link_lead", "give link_lead too")
