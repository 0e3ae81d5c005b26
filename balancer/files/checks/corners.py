"""Keys of real corners that contradict or need each other."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from balancer.errors import Fault
from balancer.files.checks.car import AXLES, Sound, corner_value, is_solid
from balancer.files.format.faults import meant
from balancer.files.format.keys import AXLE_FIELDS, CORNER_FIELDS, NONLINEAR_KEYS
from balancer.files.format.toml_text import Key

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
        if is_solid(sound.data, axle):
            yield from _without_springs(sound, axle)
            continue
        for corner in corners:
            for key, what, way_out in _of_corner(_Keys(sound, corner)):
                place = corner_value(sound.data, corner, key)[1]
                if (*place, what) not in said:
                    said.add((*place, what))
                    yield Fault(sound.place(place), what, way_out)
    for axle in AXLES:
        table = sound.data.get(axle)
        if isinstance(table, dict):
            yield from _of_bar(sound, axle, table)


def _without_springs(sound: Sound, axle: str) -> Iterator[Fault]:
    """Find keys of springs and shocks on an axle that has none."""
    tables = {name: sound.data.get(name) for name in (axle, *AXLES[axle])}
    given = [
        (name, key)
        for name, table in tables.items()
        if isinstance(table, dict)
        for key in table
        if key in _SPRUNG
    ]
    if given:
        keys = ", ".join(dict.fromkeys(key for _, key in given))
        what = "given, but there is no spring_rate and no motion_ratio"
        yield Fault(sound.place(given[0]), what, f"give both; an unsprung axle does without {keys}")


def _keys_in(sound: Sound, name: str) -> set[str]:
    """Give the keys of a table, and those that are meant by what is misspelled there."""
    table = sound.data.get(name)
    given = set(table) if isinstance(table, dict) else set()
    known = list(AXLE_FIELDS)
    return given | {close for key in given.difference(known) if (close := meant(key, known))}


class _Keys:
    """The values of one corner."""

    def __init__(self, sound: Sound, corner: str) -> None:
        self.sound, self.corner = sound, corner

    def __call__(self, key: str) -> Any:
        place = corner_value(self.sound.data, self.corner, key)[1]
        return self.sound.get(*place)

    def has(self, key: str) -> bool:
        """Say whether a key is given, if only misspelled: then that will be mended first."""
        axle = "front" if self.corner in AXLES["front"] else "rear"
        return any(key in _keys_in(self.sound, name) for name in (self.corner, axle))


def _of_corner(keys: _Keys) -> Iterator[tuple[str, str, str]]:
    for one, other in (
        ("tender_rate", "tender_travel"),
        ("tender_travel", "tender_rate"),
        ("bump_stop", "bump_stop_rate"),
        ("bump_stop_rate", "bump_stop"),
        ("mount_step", "mount_lead"),
        ("mount_travel", "mount_lead"),
    ):
        if keys.has(one) and not keys.has(other):
            yield one, f"given without {other}", f"give {other} too"
    if keys.has("bump_stop") and not keys.has("shock_travel") and not keys.has("preload"):
        yield "bump_stop", "nothing says where the shock stands", "give shock_travel or preload"
    if keys("shock_travel") == 0 and not keys.has("preload"):
        yield (
            "shock_travel",
            "it is topped out, so its load does not tell the spring's force",
            "give preload: the spring's compression at full droop, as it stands",
        )
    if keys("shock_travel") == 0 and keys("preload") == 0:
        yield (
            "preload",
            "without preload its shock is not topped out, yet shock_travel is 0",
            "give the spring's compression at full droop, or leave out shock_travel",
        )
    if keys("bump_stop") == 0:
        yield "bump_stop", "touched at full droop", "give the shock travel at which it is touched"


def _of_bar(sound: Sound, axle: str, table: dict[str, Any]) -> Iterator[Fault]:
    given = _keys_in(sound, axle)
    links = [key for key in table if key == "bar_connected" or key.startswith("link_")]
    if links and not ("anti_roll_bar" in given and table.get("anti_roll_bar") != 0):
        said = "anti_roll_bar is 0" if "anti_roll_bar" in given else "there is no anti_roll_bar"
        what = f"given, but {said}"
        way_out = "give its rate, also where it is off on the pads: bar_connected = false"
        yield Fault(sound.place((axle, links[0])), what, way_out)
    for key in ("link_step", "link_travel"):
        if key in table and "link_lead" not in given:
            yield Fault(sound.place((axle, key)), "given without link_lead", "give link_lead too")
