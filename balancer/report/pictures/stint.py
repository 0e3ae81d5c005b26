"""A stint as a picture: cross weight from the full tank to reserve."""

from balancer.files.car_file import CarFile
from balancer.files.on_board import in_words
from balancer.planning.perches.goal import PerchGoal
from balancer.report.pictures.chart import Chart, Wanted, captioned, chart, marks, span
from balancer.report.pictures.page import MARGIN, ROOM, Page
from balancer.report.pictures.svg import BLUE, Look
from balancer.report.weighing.trim import volumes_left
from balancer.report.words.numbers import number, percent
from balancer.weighing.load_states import Stint

_CROSS = Look(BLUE, 2.2, shape="circle", size=5.5)


def stint_picture(file: CarFile, stint: Stint, fluid: str, goal: PerchGoal) -> str:
    """Draw the cross weight along a stint."""
    cross = goal.cross
    label = file.units.labels["volume"]
    left = volumes_left(file, stint, fluid)
    shares = [100 * trim.shares.cross for trim in stint.trims]
    page = Page()
    start = in_words(stint.trims[0].on_board, file.units)
    page.head(file.car.name, f"Cross weight (RF+LR) as {fluid} is used, from {start}")
    captioned(page, "cross weight, %")
    wanted = Wanted(100 * cross, 100 * goal.tolerance)
    axes = _draw(page, left, shares, stint.worst, wanted)
    axes.caption_below(f"{fluid} left, {label}")
    page.key([("cross weight", _CROSS), *wanted.key()])
    page.top += 4
    worst = f"{number(left[stint.worst], 1)} {label}"
    page.prose(f"Farthest from {percent(cross)}: {number(shares[stint.worst], 2)} % at {worst}.")
    told = "; ".join(
        f"{number(volume, 1)} {label} left: {number(share, 2)} %"
        for volume, share in zip(left, shares, strict=True)
    )
    return page.finish(
        f"{file.car.name}: cross weight along a stint",
        f"Cross weight (RF+LR), wanted {percent(cross)}. {told}.",
    )


def _draw(page: Page, left: list[float], shares: list[float], worst: int, wanted: Wanted) -> Chart:
    tall = span([*shares, *wanted.ends], 0.8, 0.12)
    axes = chart(page, 210, (left[0], left[-1]), tall, MARGIN + 32, ROOM - 40)
    wanted.draw(axes)
    axes.axis_below(marks(left[-1], left[0], 6))
    axes.axis_left(marks(*tall, 6))
    axes.line(zip(left, shares, strict=True), _CROSS)
    for pair in zip(left, shares, strict=True):
        axes.mark(*pair, _CROSS)
    _label(axes, left, shares, worst)
    return axes


def _label(axes: Chart, left: list[float], shares: list[float], worst: int) -> None:
    """Write values at both ends, on the side that the line leaves free, and at the worst."""
    last = len(shares) - 1
    rises = shares[last] >= shares[0]
    ends = [(0, "left", not rises), (last, "right", rises)]
    if worst not in (0, last):
        ends.append((worst, "center", shares[worst] >= shares[0]))
    for index, anchor, above in ends:
        x, y = axes.at(left[index], shares[index])
        x += 5 if anchor == "left" else 0
        text = f"{number(shares[index], 2)} %"
        axes.page.label(text, x, y + (-12 if above else 12), anchor=anchor)
