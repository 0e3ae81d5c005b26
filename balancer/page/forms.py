"""What was typed into forms, to what a session hears; faults go to the field they are of."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from balancer.car.conventions import CORNERS, Floats
from balancer.car.corner import LINKS
from balancer.car.errors import Fault, InputError, refuse
from balancer.files.car_file import CarFile
from balancer.files.counting import LINK_TURN, Count
from balancer.files.format.numbers import Amount, parse
from balancer.files.on_board import State
from balancer.files.states import state_of
from balancer.files.units import Dimension
from balancer.log.terms import Terms
from balancer.planning.perches.goal import Asked

_NAME = re.compile(r"[A-Za-z0-9_-]{16,64}")
_DECIMALS = re.compile(r"\s*[+\-−]?\d+,\d{1,2}(\s*[a-zA-Z%]*)?\s*")
_MASS = ("kg", "lb", "lbs")


class Form(NamedTuple):
    """The fields of a form; of two of one name the last counts, but for boxes."""

    fields: Mapping[str, str]
    boxes: frozenset[tuple[str, str]]

    @classmethod
    def of(cls, sent: list[tuple[str, str]]) -> Form:
        """Take what was sent."""
        return cls(dict(sent), frozenset(sent))

    def get(self, name: str) -> str:
        """Give what is in a field, without blanks around it; empty where there is none."""
        return self.fields.get(name, "").strip()[:_LONGEST]

    def ticked(self, name: str) -> bool:
        """Say whether a box is ticked."""
        return (name, "1") in self.boxes

    @property
    def act(self) -> str:
        """The name of the act; faults where there is none that could be ours."""
        name = self.get("act")
        if not _NAME.fullmatch(name):
            raise InputError.one("form", "lacks its number", "open the page again")
        return name

    @property
    def seen(self) -> int:
        """The last entry that was seen."""
        seen = self.get("seen")
        return int(seen) if re.fullmatch(r"[0-9]{1,12}", seen) else 0


_LONGEST = 4000
_HIGHEST = 0.1
"""Of a pad above the lowest [m]."""


def typed(text: str) -> str:
    """Take a decimal comma, as keypads of half the world have it, for a point.

    What could be thousands is left for its fault to be told.

    >>> typed("302,5"), typed("1,005")
    ('302.5', '1,005')
    """
    return text.replace(",", ".") if _DECIMALS.fullmatch(text) else text


def number_of(form: Form, name: str, where: str, suffixes: tuple[str, ...]) -> Amount | Fault:
    """Read the number in a field."""
    text = form.get(name)
    if not text:
        return Fault(where, "is empty", "type its number")
    return parse(typed(text), where, suffixes)


def readings_line(form: Form) -> str:
    """Give the four readings as a line of a session.

    Raises:
        InputError: With a fault for each field.
    """
    read = [number_of(form, pad, pad, _MASS) for pad in CORNERS]
    refuse(each for each in read if isinstance(each, Fault))
    words = [f"{one.value!r}{one.suffix}" for one in read if isinstance(one, Amount)]
    return " ".join([*(["again"] if form.ticked("again") else []), *words])


def turns_line(form: Form, file: CarFile) -> str:
    """Give the turns that were made as a line of a session; an empty field is none.

    Raises:
        InputError: With a fault for each field.
    """
    counts = (*file.counts(), LINK_TURN, LINK_TURN)
    each = zip((*CORNERS, *LINKS), counts, strict=True)
    read = [_turned(form, place, count) for place, count in each]
    refuse(each for each in read if isinstance(each, Fault))
    return f"made {', '.join(str(each) for each in read if each) or 'nothing'}"


def _turned(form: Form, pad: str, count: Count) -> str | Fault:
    field = pad.replace(" ", "-")
    text, way = form.get(f"much-{field}"), form.get(f"way-{field}")
    if not text:
        return ""
    read = parse(typed(text), pad, count.words, f"{count.many} like 1.5")
    if isinstance(read, Fault):
        return read
    if read.value < 0:
        return Fault(pad, f"{text} is negative", f"say {' or '.join(count.ways)} below it")
    if not read.value:
        return ""
    if way not in count.ways:
        return Fault(pad, f"{' or '.join(count.ways)}?", "pick one")
    return f"{pad} {read.value!r} {read.suffix} {way}"


def aboard_of(form: Form, file: CarFile) -> State:
    """Find what is said to be on the pads.

    Raises:
        InputError: With every amount that can't be.
    """
    words = []
    for index, item in enumerate(file.car.on_board):
        if form.ticked(f"on-{index}"):
            amount = typed(form.get(f"amount-{index}"))
            words.append(f"{item.name}={amount}" if amount else item.name)
    return state_of(file, words, "On board")


def terms_of(form: Form, file: CarFile, now: Terms) -> Terms:
    """Find what a session is to go by from now on, where that is not what it goes by.

    Args:
        now: What it goes by.

    Raises:
        InputError: With every number that can't be.
    """
    faults: list[Fault] = []
    asked = Asked(
        cross=_changed(form, "cross", "Cross weight", (20, 80), now.asked.cross, faults),
        tolerance=_changed(form, "tolerance", "Within", (0.01, 10), now.asked.tolerance, faults),
    )
    pads = _pads(form, file, faults)
    refuse(faults)
    race = {"race": True, "stands": False}.get(form.get("aim"))
    # A box that was not shown is not one that was left empty.
    links = form.ticked("links") if form.get("links-shown") else now.links is True
    return Terms(
        asked,
        race=None if race == (now.race is not False) else race,
        poorly_known=form.ticked("poorly") and not now.poorly_known,
        pads=None if _same(pads, now.pads) else pads,
        links=None if links == (now.links is True) else links,
    )


def _pads(form: Form, file: CarFile, faults: list[Fault]) -> Floats | None:
    """Read how high each pad stands above the lowest [m]; None where nobody says it."""
    if not any(form.get(f"height-{pad}") for pad in CORNERS):
        return None
    read = [number_of(form, f"height-{pad}", f"Height at {pad}", ("mm", "in")) for pad in CORNERS]
    wrong = [each for each in read if isinstance(each, Fault)]
    heights = np.array([one.to_si(file.units, "length") for one in read if isinstance(one, Amount)])
    if not wrong and (heights.min() < 0 or heights.max() > _HIGHEST):
        most = f"{file.units.from_si(_HIGHEST, 'length'):.3g} {file.units.labels['length']}"
        wrong.append(Fault("Heights of the pads", "are out of reason", f"expected 0 to {most}"))
    faults += wrong
    return None if wrong else heights


def _same(pads: Floats | None, now: Floats | None) -> bool:
    return pads is None or (now is not None and np.allclose(pads, now, atol=1e-6))


def _changed(
    form: Form, name: str, where: str, span: tuple[float, float], now: float | None,
    faults: list[Fault],
) -> float | None:  # fmt: skip
    if not form.get(name):
        return None
    read = number_of(form, name, where, ("%",))
    if isinstance(read, Fault):
        faults.append(read)
        return None
    if not span[0] <= read.value <= span[1]:
        expected = f"expected {span[0]:g} to {span[1]:g}"
        faults.append(Fault(where, f"{read.value:g} is out of reason", expected))
        return None
    share = read.value / 100
    return None if now is not None and abs(share - now) < 1e-9 else share


def shown(value: float, file: CarFile, dimension: Dimension) -> str:
    """Write a number in the units of the file for a field."""
    return f"{file.units.from_si(value, dimension):.6g}"
