"""The car from above on its own page: as weighed, or with the perches turned. Needs no library."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from html import escape

from balancer.car.conventions import CORNERS
from balancer.files.car_file import CarFile
from balancer.perches.plan import PerchPlan
from balancer.report.cautions import turning_care
from balancer.report.perches import limit_texts
from balancer.report.pictures.plan_view import plan_view
from balancer.report.pictures.words import broken, fit, headed
from balancer.report.words import amount, percent, signed_turns, uncertainty
from balancer.weighing.weigh import WeighIn

_WIDTH, _MARGIN = 390.0, 14.0
_ROOM = _WIDTH - 2 * _MARGIN
_LARGE, _NORMAL, _SMALL = 15.0, 11.5, 10.0
_COLUMNS = (188.0, 251.0, 314.0, 376.0)
"""Where the numbers of the four corners end."""

# The blue and vermillion of Okabe and Ito, see report/pictures.py.
_LOOK = """<style>
text { font-family: "DejaVu Sans", Verdana, Arial, sans-serif; fill: #000000; }
.soft { fill: #595959; } .bold { font-weight: bold; }
.plan * { fill: none; stroke: #808080; } .plan text { fill: #000000; stroke: none; }
.plan .corner { font-size: 16px; } .plan .load { font-size: 25px; font-weight: bold; }
.plan .share { font-size: 16px; font-weight: bold; } .plan .key { font-size: 14px; }
.plan .body { fill: #f2f2f2; stroke-width: 1.5; } .plan .axle { stroke-width: 3; }
.plan .wheel { fill: #000000; stroke: none; }
.plan .cross { stroke: #0072B2; stroke-width: 3.5; stroke-dasharray: 11 6; }
.plan .center { stroke: #0072B2; stroke-width: 2.5; }
.plan .place { stroke: #595959; stroke-width: 1.2; stroke-dasharray: 2 3; }
.plan .ballast { fill: #D55E00; stroke: #000000; } .plan .lead { stroke: #D55E00; }
</style>"""


class _Page:
    """A page that grows downward as things are put on it."""

    def __init__(self) -> None:
        self.top = _MARGIN
        self.parts = [_LOOK]

    def words(
        self, text: str, size: float, kind: str = "", x: float = _MARGIN, anchor: str = "start"
    ) -> None:
        bold = "bold" in kind
        room = x - 130 if anchor == "end" else _WIDTH - _MARGIN - x
        text = escape(fit(text, room, size, bold))
        place = f'x="{x:g}" y="{self.top + 0.8 * size:.1f}" text-anchor="{anchor}"'
        self.parts.append(f'<text class="{kind}" font-size="{size:g}" {place}>{text}</text>')

    def prose(self, text: str, size: float = _NORMAL, kind: str = "") -> None:
        for line in broken(text, _ROOM, size):
            self.words(line, size, kind)
            self.top += 1.35 * size

    def row(self, name: str, cells: Sequence[str], size: float, kind: str = "") -> None:
        self.words(name, size, kind)
        for x, cell in zip(_COLUMNS, cells, strict=True):
            self.words(cell, size, kind, x, "end")
        self.top += 1.5 * size

    def inside(self, svg: str) -> None:
        found = re.search(r'viewBox="[\d.]+ [\d.]+ ([\d.]+) ([\d.]+)"', svg)
        assert found is not None
        wide, high = (float(one) for one in found.groups())
        scale = min(_ROOM / wide, 1.0)
        place = (
            f'x="{(_WIDTH - scale * wide) / 2:.1f}" y="{self.top:.1f}"'
            f' width="{scale * wide:.1f}" height="{scale * high:.1f}"'
        )
        self.parts.append(svg.replace("<svg ", f"<svg {place} ", 1))
        self.top += scale * high + 8

    def finish(self, title: str, told: str) -> str:
        height = self.top + _MARGIN
        paper = f'<rect width="{_WIDTH:g}" height="{height:.0f}" fill="#ffffff"/>'
        content = "\n".join([self.parts[0], paper, *self.parts[1:], "</svg>"])
        return headed(content, title, told, f"0 0 {_WIDTH:g} {height:.0f}")


def weigh_picture(file: CarFile, found: WeighIn) -> str:
    """Draw the car from above as it was weighed.

    Returns
    -------
    str
        SVG; the same input gives the same bytes.
    """
    units, shares, uncertainties = file.units, found.shares, found.uncertainties
    total = amount(shares.total, "load", units, unit=True)
    sure = uncertainty(units.from_si(uncertainties.total, "load"), 1)
    lines = [
        f"total {total} {sure}",
        f"front share {_share(shares.front, uncertainties.front)}",
        f"left share {_share(shares.left, uncertainties.left)}",
        f"cross weight (RF+LR) {_share(shares.cross, uncertainties.cross)}",
    ]
    page = _Page()
    _head(page, file, _about(found))
    page.prose(f"Loads in {units.labels['load']}", _SMALL, "soft")
    page.top += 4
    page.inside(plan_view(file.car, units, found.loads, shares))
    for line in lines:
        page.prose(line)
    page.top += 4
    page.prose("± is one standard uncertainty.", _SMALL, "soft")
    loads = ", ".join(
        f"{pad} {amount(load, 'load', units, unit=True)}"
        for pad, load in zip(CORNERS, found.loads, strict=True)
    )
    told = "; ".join([*_about(found), loads, *lines])
    return page.finish(f"{file.car.name}: as weighed", f"{told}.")


def perches_picture(file: CarFile, weighed: WeighIn, plan: PerchPlan) -> str:
    """Draw the car from above as it stands once the perches are turned, and what to turn.

    Returns
    -------
    str
        SVG; the same input gives the same bytes.
    """
    units, best, goal = file.units, plan.best, plan.goal
    load, length = units.labels["load"], units.labels["length"]
    now, then = percent(weighed.shares.cross), percent(best.shares.cross)
    wanted = f"wanted {percent(goal.cross)} ± {100 * goal.tolerance:g}"
    limits = [f"{text}." for text in limit_texts(plan, units)]
    if limits:
        limits.insert(0, "Not all that was asked can be reached:")
    page = _Page()
    _head(page, file, _about(weighed))
    if best.corners:
        page.prose(
            f"Once turned: cross weight (RF+LR) {then}, now {now}; {wanted}. Loads in {load}"
        )
    else:
        page.prose(f"Nothing to turn: cross weight (RF+LR) {now}; {wanted}. Loads in {load}")
    page.top += 4
    page.inside(plan_view(file.car, units, best.loads, best.shares))
    page.top += 4
    page.row("", CORNERS, _NORMAL, "bold")
    rows = [
        (_moved(file), [signed_turns(one) for one in best.turns], _LARGE, "bold"),
        (f"now, {load}", [amount(one, "load", units) for one in weighed.loads], _NORMAL, ""),
        (f"then, {load}", [amount(one, "load", units) for one in best.loads], _NORMAL, ""),
        (
            f"height, {length}",
            [amount(one, "length", units, sign=True) for one in best.height_change],
            _NORMAL,
            "",
        ),
    ]
    for row in rows:
        page.row(*row)
    page.top += 4
    for line in limits:
        page.prose(line)
    if best.corners:
        page.top += 4
        page.prose(" ".join(turning_care(file.car).split()), _SMALL, "soft")
    told = [f"Cross weight (RF+LR) now {now}, then {then}, {wanted}", *_told(rows)]
    return page.finish(f"{file.car.name}: perch turns", " ".join([f"{'; '.join(told)}.", *limits]))


def _moved(file: CarFile) -> str:
    solid = file.car.solid[file.car.adjustable]
    if solid.any():
        return "spacers, + in" if solid.all() else "turn, spacer"
    return "turns, + up"


def _told(rows: Iterable[tuple[str, list[str], float, str]]) -> list[str]:
    return [
        f"{name}: " + ", ".join(f"{pad} {cell}" for pad, cell in zip(CORNERS, cells, strict=True))
        for name, cells, _, _ in rows
    ]


def _head(page: _Page, file: CarFile, about: Sequence[str]) -> None:
    page.words(file.car.name, _LARGE, "bold")
    page.top += 1.45 * _LARGE
    for line in about:
        page.words(line, _NORMAL, "soft")
        page.top += 1.35 * _NORMAL
    page.top += 4


def _about(found: WeighIn) -> list[str]:
    """Say how often, when and with what on board it was weighed, and the note."""
    readings = found.readings
    times = "weighed once" if found.repeats == 1 else f"weighed {found.repeats} times"
    on_board = "" if readings.on_board is None else ", ".join(readings.on_board) or "nothing"
    parts = [times, readings.date, f"on board: {on_board}" if on_board else ""]
    return ["; ".join(part for part in parts if part), *([readings.note] if readings.note else [])]


def _share(share: float, sure: float) -> str:
    return f"{percent(share, 2)} {uncertainty(100 * sure, 2)}"
