"""What a session was told: what it aims for, in which state, and how well the car is known."""

from typing import Any, Literal, NamedTuple, cast

import numpy as np

from balancer.car.conventions import CORNERS, Floats
from balancer.car.model import Item
from balancer.files.car_file import CarFile
from balancer.files.on_board import State
from balancer.files.states import RACE_TRIM, race_state, race_states, state_of
from balancer.log.entry import Entry
from balancer.planning.perches.goal import NOTHING_ASKED, Asked, Source, asked_for
from balancer.planning.session.belief import Sigmas

From = Literal["said", "log", "assumed"]

AS_IT_STANDS = "as it stands"
POORLY_KNOWN = Sigmas(0.15, 0.12, 0.20)


class Terms(NamedTuple):
    """What a session goes by; what nobody said is None, or not there, until it is `settled`.

    Attributes:
        words: What is on board on the pads.
        race: Whether it plans for race trim, and not for the car as it stands on the pads.
        poorly_known: Whether rates and ratios in the file are guesses.
        state, target: Where words, and what is wanted, are from.
        pads: (4,) or None, height of each pad above the lowest [m]; None: level.
        stands: (4,) or None, ride heights at the first weigh-in [m]; None: not measured.
        links: Whether drop links may be turned too.
    """

    asked: Asked = NOTHING_ASKED
    words: tuple[str, ...] | None = None
    race: bool | None = None
    poorly_known: bool = False
    state: From = "assumed"
    target: Source = "usual"
    pads: Floats | None = None
    stands: Floats | None = None
    links: bool | None = None

    @property
    def says(self) -> bool:
        """Whether anything is said."""
        asked = self.asked
        wanted = asked.targeted or asked.rise.any() or asked.keep
        loose = asked.tolerance is not None or asked.height_tolerance is not None
        told = self.words is not None or self.race is not None or self.poorly_known
        measured = self.pads is not None or self.stands is not None or self.links is not None
        return bool(wanted or loose or told or measured)

    @property
    def sigmas(self) -> Sigmas:
        """Uncertainties of the file values, where the log has no belief."""
        return POORLY_KNOWN if self.poorly_known else Sigmas()

    @property
    def aim(self) -> str:
        """The state it plans for, in a word."""
        return AS_IT_STANDS if self.race is False else RACE_TRIM

    def on_pads(self, file: CarFile) -> tuple[Item, ...]:
        """Find what is on board on the pads."""
        if self.words is None:
            return race_state(file).items
        return state_of(file, self.words, "--weighed-with").items

    def aimed_at(self, file: CarFile) -> dict[str, State]:
        """Find the states that it plans for, by name; at least one."""
        if self.race is False:
            return {AS_IT_STANDS: State(self.words or (), self.on_pads(file))}
        return race_states(file)


def settled(given: Terms, file: CarFile) -> Terms:
    """Fill in what nobody said: from the car file, else the usual."""
    asked, target = asked_for(file.car, given.asked)
    words, state = given.words, given.state
    if words is None:
        words, state = race_state(file).words, "assumed"
    race = given.race is not False
    return given._replace(asked=asked, words=words, race=race, state=state, target=target)


def overridden(told: Terms, given: Terms) -> Terms:
    """Put what is said now in the place of what a session was told.

    Args:
        told: Settled.
    """
    asked, new = told.asked, given.asked
    if new.targeted:
        asked = asked.wanting(new)
    for name in ("tolerance", "height_tolerance"):
        if getattr(new, name) is not None:
            asked = asked._replace(**{name: getattr(new, name)})
    if new.rise.any():
        asked = asked._replace(rise=new.rise)
    names = ("words", "race", "pads", "stands", "links")
    said: dict[str, Any] = {name: getattr(given, name) for name in names}
    return told._replace(
        asked=asked._replace(keep=new.keep or asked.keep),
        poorly_known=given.poorly_known or told.poorly_known,
        state=told.state if given.words is None else "said",
        target="said" if new.targeted else told.target,
        **{name: value for name, value in said.items() if value is not None},
    )


def terms_data(terms: Terms, cross: float | None) -> dict[str, Any]:
    """Give what the log says of the terms.

    Args:
        cross: Cross weight wanted, as a fraction; None where it is not known yet.
    """
    asked = terms.asked
    data = {
        "target_cross_pct": None if cross is None else 100 * cross,
        "tolerance_pct": None if asked.tolerance is None else 100 * asked.tolerance,
        "height_tolerance_mm": None
        if asked.height_tolerance is None
        else 1e3 * asked.height_tolerance,
        "equal": asked.equal,
        "target_loads_newton": None if asked.loads is None else asked.loads.tolist(),
        "target_loads_called": None if asked.loads is None else asked.called,
        "raise_mm": (1e3 * asked.rise).tolist() if asked.rise.any() else None,
        "keep": sorted(asked.keep) or None,
        "on_board": None if terms.words is None else list(terms.words),
        "state": terms.state,
        "target": terms.target,
        "aim": terms.aim,
        "poorly_known": terms.poorly_known,
        "links": terms.links,
        "pad_heights_mm": None if terms.pads is None else (1e3 * terms.pads).tolist(),
        "ride_heights_mm": None if terms.stands is None else (1e3 * terms.stands).tolist(),
    }
    return {key: value for key, value in data.items() if value is not None}


def target_of_file(file: CarFile) -> dict[str, Any]:
    """Give what the log says of the target that the car file had when a session began."""
    asked, _ = asked_for(file.car, NOTHING_ASKED)
    data = terms_data(Terms(asked), asked.cross)
    kept = ("target_cross_pct", "equal", "tolerance_pct", "height_tolerance_mm")
    return {
        key: round(value, 6) if isinstance(value, float) else value
        for key, value in data.items()
        if key in kept
    }


def terms_in(entry: Entry, last: Entry | None = None) -> Terms:
    """Read the terms of a session; what a damaged or older line lacks is left unsaid.

    Args:
        entry: Where the session begins, or where its options last changed.
        last: Its last weigh-in, for a line of before, which does not say what is on board.
    """
    data = entry.data
    words = _words(data.get("on_board")) if "on_board" in data else None
    if words is None and last is not None:
        words = _words(last.data.get("on_board"))
    cross, equal = _number(data, "target_cross_pct", 20, 80), data.get("equal")
    loads = _four(data.get("target_loads_newton"), 1, 1e5)
    tolerance = _number(data, "tolerance_pct", 0, 10)
    height = _number(data, "height_tolerance_mm", 0, 3000)
    rise, keep = _four(data.get("raise_mm"), -100, 100), _words(data.get("keep")) or ()
    equal = equal if equal in ("front", "rear") else None
    asked = Asked(
        cross=None if cross is None else cross / 100,
        equal=cast(Literal["front", "rear"] | None, equal),
        loads=None if loads is None or equal else np.array(loads),
        called=str(data.get("target_loads_called", "four loads"))[:80],
        tolerance=None if tolerance is None else tolerance / 100,
        height_tolerance=None if height is None else height / 1e3,
        rise=np.zeros(4) if rise is None else np.array(rise) / 1e3,
        keep=frozenset(keep) & frozenset(CORNERS),
    )
    if asked.once_weighed:
        asked = asked._replace(cross=None)
    # Lines of before knew of no other state than that on the pads.
    race = data.get("aim") == RACE_TRIM
    state: From = "assumed" if data.get("state", "assumed") == "assumed" else "log"
    poorly_known = data.get("poorly_known") is True
    pads, stands = _meters(data, "pad_heights_mm", -100), _meters(data, "ride_heights_mm", 10)
    links = data["links"] if isinstance(data.get("links"), bool) else None
    return Terms(asked, words, race, poorly_known, state, "log", pads, stands, links)


def _words(value: object) -> tuple[str, ...] | None:
    good = isinstance(value, list) and all(isinstance(word, str) for word in value)
    return tuple(cast(list[str], value)) if good else None


def _number(data: dict[str, Any], key: str, low: float, high: float) -> float | None:
    value = data.get(key)
    if not isinstance(value, int | float) or isinstance(value, bool):
        return None
    return float(value) if low <= value <= high else None


def _meters(data: dict[str, Any], key: str, low: float) -> Floats | None:
    heights = _four(data.get(key), low, 1500)
    return None if heights is None else np.array(heights) / 1e3


def _four(value: object, low: float, high: float) -> list[float] | None:
    if not isinstance(value, list) or len(value) != len(CORNERS):
        return None
    found = [_number({"one": each}, "one", low, high) for each in value]
    return None if None in found else cast(list[float], found)
