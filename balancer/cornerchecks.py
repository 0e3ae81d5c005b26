"""Keys of real corners that contradict or need each other."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from balancer.car import CORNERS
from balancer.crosschecks import AXLES, Sound, corner_value
from balancer.errors import Fault
from balancer.toml_file import Key


def corner_faults(sound: Sound) -> Iterator[Fault]:
    """Find what each key of a corner or a bar alone can't tell.

    Parameters
    ----------
    sound : Sound

    Returns
    -------
    iterator of Fault

    Examples
    --------
    >>> from balancer.toml_file import TomlFile
    >>> axle = {"spring_rate": 60, "motion_ratio": 0.7, "bump_stop": 40}
    >>> file = TomlFile("a.toml", {"front": axle, "rear": {}}, "")
    >>> print(*corner_faults(Sound(file, [])), sep="\\n")
    a.toml: front.bump_stop: given without bump_stop_rate: give bump_stop_rate too
    a.toml: front.bump_stop: nothing says where the shock stands: give shock_travel or preload
    """
    said: set[Key] = set()
    for corner in CORNERS:
        for key, what, way_out in _of_corner(_Keys(sound, corner)):
            place = corner_value(sound.data, corner, key)[1]
            if (*place, what) not in said:
                said.add((*place, what))
                yield Fault(sound.place(place), what, way_out)
    for axle in AXLES:
        table = sound.data.get(axle)
        if isinstance(table, dict):
            yield from _of_bar(sound, axle, table)


class _Keys:
    """The values of one corner."""

    def __init__(self, sound: Sound, corner: str) -> None:
        self.sound, self.corner = sound, corner

    def __call__(self, key: str) -> Any:
        place = corner_value(self.sound.data, self.corner, key)[1]
        return self.sound.get(*place)

    def has(self, key: str) -> bool:
        return corner_value(self.sound.data, self.corner, key)[0] is not None


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
        yield "preload", "a shock can't be topped out without preload", "measure it again"
    if keys("bump_stop") == 0:
        yield "bump_stop", "touched at full droop", "give the shock travel at which it is touched"


def _of_bar(sound: Sound, axle: str, table: dict[str, Any]) -> Iterator[Fault]:
    links = [key for key in table if key == "bar_connected" or key.startswith("link_")]
    if links and not sound.get(axle, "anti_roll_bar"):
        what = "given, but there is no anti_roll_bar"
        way_out = "give its rate, also where it is off on the pads: bar_connected = false"
        yield Fault(sound.place((axle, links[0])), what, way_out)
    for key in ("link_step", "link_travel"):
        if key in table and "link_lead" not in table:
            yield Fault(sound.place((axle, key)), "given without link_lead", "give link_lead too")
