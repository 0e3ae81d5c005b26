"""A perch plan in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from balancer.car.conventions import CORNERS
from balancer.files.car_file import CarFile
from balancer.files.counting import TURN, Count, shared
from balancer.files.units import Units
from balancer.planning.perches.plan import PerchPlan
from balancer.planning.perches.posed import UNSTATED_TRAVEL
from balancer.planning.perches.question import PerchMoves
from balancer.report.perches.corners import aside_lines, bar_lines, warnings_of
from balancer.report.perches.limits import heights_off, limit_texts
from balancer.report.perches.moves import (
    counts_of,
    fewest_name,
    per_turn_table,
    places_turned,
    travel_unstated,
    turn_lines,
)
from balancer.report.words.cautions import turning_care
from balancer.report.words.floor import HERE, cross_apart
from balancer.report.words.numbers import amount, amounts, number, percent, uncertainty
from balancer.report.words.prose import by_corner_words, care_of, lines_of, listed, paragraphs
from balancer.report.words.tables import table
from balancer.report.words.turns import signed_number, turned_corners, turns
from balancer.weighing.weigh import WeighIn

if TYPE_CHECKING:
    from balancer.planning.perches.bar_links import BarFit


def perches_text(
    file: CarFile, weighed: WeighIn, plan: PerchPlan, bars: Sequence[BarFit] = (), trims: str = ""
) -> str:
    """Tell a perch plan in at most 80 columns.

    Args:
        bars: How the anti-roll bars go on in race trim after these turns.
    """
    units, best = file.units, plan.best
    return paragraphs(
        lines_of(_asked(file, weighed, plan)),
        lines_of([*care_of(weighed.loads, "before the turns"), *warnings_of(plan)]),
        verdict(plan, file),
        "\n".join(turn_lines(best, file)),
        _before_and_after(weighed, best, units) if best.corners else "",
        trims,
        lines_of(filter(None, (why_corners(plan, file), why_these(plan), fewest_line(plan, file)))),
        _others(plan, file),
        lines_of([proof_line(plan)]),
        per_turn_table(plan.per_turn, file),
        lines_of(aside_lines(file, weighed.loads, plan)),
        lines_of(bar_lines(bars, file, bool(best.corners)), "  "),
        lines_of(_remarks(file, weighed, plan)) if best.corners else "",
        turning_care(file.car) if best.corners else "",
    )


def _asked(file: CarFile, weighed: WeighIn, plan: PerchPlan) -> Iterator[str]:
    units, goal = file.units, plan.goal
    now = f"{percent(weighed.shares.cross)} {cross_apart(weighed)}"
    heights = "as they are"
    if goal.rise.any():
        heights = by_corner_words(amounts(goal.rise, "length", units, sign=True))
    give = amount(goal.height_tolerance, "length", units, unit=True)
    yield f"Cross weight (RF+LR) is {now}; heights wanted {heights} ± {give}."


def verdict(plan: PerchPlan, file: CarFile) -> str:
    """Say what keeps a plan from what was wanted; nothing of one that turns and gets there."""
    if plan.status == "reached":
        return "" if plan.best.corners else "Nothing to turn: it is there already."
    best = "The closest there is:" if plan.nothing_closer else "The closest found:"
    words = {
        "closest": f"No allowed turns reach this (proved). {best}",
        "gave_up": "The solver stopped without a proof. The closest it found:",
    }
    return "\n".join([words[plan.status], *listed(limit_texts(plan, file)).splitlines()])


def _before_and_after(weighed: WeighIn, moves: PerchMoves, units: Units) -> str:
    load, length = units.labels["load"], units.labels["length"]
    was, cross = weighed.shares.cross, moves.shares.cross
    change = amounts(moves.loads - weighed.loads, "load", units, sign=True)
    return table(
        [
            ["", *CORNERS, "cross"],
            [f"now, {load}", *amounts(weighed.loads, "load", units), percent(was)],
            [f"then, {load}", *amounts(moves.loads, "load", units), percent(cross)],
            ["change", *change, f"{number(100 * (cross - was), 1, sign=True)}  "],
            [f"height, {length}", *amounts(moves.height_change, "length", units, sign=True), ""],
        ]
    )


_MEETS = {
    (True, True): "both", (True, False): "cross", (False, True): "heights",
    (False, False): "neither",
}  # fmt: skip


def fewest_line(plan: PerchPlan, file: CarFile, named: bool = False) -> str:
    """Say what the fewest turns save and what they cost; empty where none are fewer.

    Args:
        named: Whether to say which they are.
    """
    fewest = plan.fewest_turns
    if fewest is None:
        return ""
    count = counted_in_all(plan, file)
    much = [turns(moves.turns_in_all, count) for moves in (fewest, plan.best)]
    price = " instead of ".join(much) + (count.word and f" {count.word}")
    which = turned_corners(fewest.every_turn, file.counts()) if named else ""
    if which:
        price += f" ({which})"
    lands = f"{'lands' if fewest.corners else 'stays'} at {percent(fewest.shares.cross, 2)}"
    return f"{fewest_name(plan).capitalize()}: {price}, {lands}."


def why_corners(plan: PerchPlan, file: CarFile) -> str:
    """Say why more corners are turned than would do; empty where they are not."""
    way, best = plan.fewer_corners, plan.best
    if way is None:
        return ""
    why = "to be surer to land in tolerance"
    if way.corners < plan.as_near:
        off = list(_nearer(best, way, plan, file.units))
        if not off:
            return ""
        why = f"to land nearer the middle: {', '.join(off)}"
    places = places_turned(best)
    return f"{places[0].upper()}{places[1:]} rather than {places_turned(way) or 'none'}, {why}."


def why_these(plan: PerchPlan) -> str:
    """Say that turns were taken for what they tell; empty where they were not."""
    return "Of ways as good, this one tells more about the car." if plan.tells_more else ""


def _nearer(best: PerchMoves, fewer: PerchMoves, plan: PerchPlan, units: Units) -> Iterator[str]:
    """Say how far off either lands, where the best is nearer by what is shown."""
    now, then = (number(100 * _cross_off(one, plan), 2) for one in (best, fewer))
    if float(now) < float(then):
        yield f"{now} points off, not {then}"
    now, then = (amount(heights_off(one, plan), "length", units) for one in (best, fewer))
    if float(now) < float(then):
        yield f"heights {now} {units.labels['length']} off, not {then}"


def _cross_off(moves: PerchMoves, plan: PerchPlan) -> float:
    """Give how far the cross weight lands from the one wanted, in the state where that is most."""
    there = [moves.shares.cross - plan.goal.cross]
    others = zip(moves.others, plan.goal.others, strict=True)
    return max(map(abs, [*there, *(one.shares.cross - trim.cross for one, trim in others)]))


def counted_in_all(plan: PerchPlan, file: CarFile) -> Count:
    """Give what all ways of a plan count everywhere: turns where they count several things."""
    ways = [plan.best, *plan.alternatives]
    each = [
        count
        for moves in ways
        for count, turn in zip(counts_of(moves, file), moves.turns, strict=True)
        if turn
    ]
    links = any(moves.link_turns is not None and moves.link_turns.any() for moves in ways)
    return shared([*each, *[TURN] * links])


def _others(plan: PerchPlan, file: CarFile) -> str:
    if not plan.alternatives:
        return ""
    units, count = file.units, counted_in_all(plan, file)
    off = f"off, {units.labels['length']}"
    rows = [["Other ways", *CORNERS, count.many, "cross", off, "meets"]]
    for moves in plan.alternatives:
        name = places_turned(moves) or "none"
        if moves is plan.fewest_turns and " and " not in name:
            name += f", {fewest_name(plan).partition(' ')[0]}"
        each = (signed_number(turn, count) for turn in moves.turns)
        row = [name, *each, turns(moves.turns_in_all, count)]
        row += [percent(moves.shares.cross), amount(heights_off(moves, plan), "length", units)]
        rows.append([*row, _MEETS[moves.cross_met, moves.heights_met]])
    return table(rows, indent="")


def unsure_by(plan: PerchPlan, file: CarFile) -> str:
    """Say to how much of what is counted the scales know what to turn."""
    count = counted_in_all(plan, file)
    return f"{plan.turns_uncertainty * count.in_a_turn:.2f} {count.many}"


def proof_line(plan: PerchPlan) -> str:
    """Say of each way whether it is proved that none on as many corners is better."""
    if not (plan.alternatives or plan.best.corners):
        return ""
    if all(one.proved for one in (plan.best, *plan.alternatives)):
        return "Proved of each way: no allowed turns on as many corners do better."
    names = [places_turned(one) for one in plan.alternatives if not one.proved]
    names = [*(["the turns to make"] if not plan.best.proved else []), *names]
    return f"Best found, not proved the best on as many corners: {'; '.join(names)}."


def _remarks(file: CarFile, weighed: WeighIn, plan: PerchPlan) -> Iterator[str]:
    change, sure = abs(weighed.shares.cross - plan.goal.cross), weighed.repeatable.cross
    if change < 2 * sure:
        yield (
            f"The change wanted, {100 * change:.2f} points, is smaller than these scales can see"
            f" for sure, {200 * sure:.2f}: weigh several times before turning anything."
        )
    else:
        yield (
            f"The scales know the cross weight {uncertainty(100 * sure, 1)} points {HERE}:"
            f" {unsure_by(plan, file)} at one corner."
        )
    if corners := travel_unstated(file.car):
        yield (
            f"The file does not say what perch travel is left at {corners}: up to"
            f" {UNSTATED_TRAVEL:g} turns are assumed."
        )
