"""What a session goes by, told: its first lines, and where it differs from what it was told."""

from collections.abc import Iterator
from itertools import compress
from typing import Any

from balancer.car.corner import LINKS
from balancer.files.car_file import CarFile
from balancer.files.on_board import in_words
from balancer.files.states import RACE_TRIM, race_state
from balancer.files.units import Units
from balancer.log.entry import Entry
from balancer.log.terms import Terms, target_of_file
from balancer.planning.perches.goal import NOTHING_ASKED, Aim, PerchGoal, asked_for
from balancer.report.words import opening
from balancer.report.words.json_parts import by_corner
from balancer.report.words.numbers import amount, amounts
from balancer.report.words.prose import by_corner_words, wrapped


def differences(told: Terms, now: Terms, file: CarFile) -> Iterator[str]:
    """Say what a session goes by now, and what it was told before, where they differ."""
    for new, old in zip(_in_words(now, file), _in_words(told, file), strict=True):
        if new != old:
            yield f"{new} instead of {old}"


def _in_words(terms: Terms, file: CarFile) -> Iterator[str]:
    asked, units = terms.asked, file.units
    yield opening.wanted_words(asked)
    points, heights = opening.tolerance_words(asked, units)
    yield f"{points} points"
    yield heights
    rises = (amount(float(rise), "length", units, sign=True) for rise in asked.rise)
    yield f"heights changed by {' '.join(rises)} {units.labels['length']}"
    yield f"{', '.join(sorted(asked.keep)) or 'no corner'} kept"
    yield in_words(terms.on_pads(file), units)
    yield f"planned for {'the car as it stands' if terms.race is False else RACE_TRIM}"
    yield pads_words(terms, units)
    yield "drop links turned too" if terms.links else "drop links left alone"
    yield "a poorly known car" if terms.poorly_known else "a well known car"


def pads_words(terms: Terms, units: Units) -> str:
    """Say how high the pads stand."""
    if terms.pads is None or not terms.pads.any():
        return "level pads"
    heights = by_corner_words(amounts(terms.pads, "length", units))
    return f"pads that stand {heights} {units.labels['length']} above the lowest"


HELP_LINE = "Type LF RF LR RR, or help for the words it knows."


def opening_text(
    file: CarFile, terms: Terms, told: Entry | None, goal: PerchGoal, begin: Entry | None = None
) -> str:
    """Say which car it is, how it stands on the pads, and what it is to reach in which state.

    Args:
        told: The line of the log that says what it goes by, if it goes on.
        begin: The line where it began then.
    """
    aimed = _aimed(file, terms, told, goal)
    # As it stands is what was said here: no word that it is not race trim.
    aim = opening.aim_line(file, aimed, race_state(file).items)
    uneven = terms.pads is not None and terms.pads.any()
    said = pads_words(terms, file.units)
    pads = [wrapped(f"On {said}: what that does is taken off.")] if uneven else []
    other, options = other_target(file, terms, begin)
    if other:
        aim += "\n" + wrapped(f"{other}; for that start it with {' '.join(options)}.")
    state = opening.state_line(file, _aboard(file, terms, told))
    if links := links_words(file, terms):
        state = wrapped(f"{' '.join(state.split())} {links}")
    return "\n".join([state, aim, *pads, HELP_LINE])


def links_words(file: CarFile, terms: Terms) -> str:
    """Say which drop links may be turned too; empty where none is to be."""
    if not terms.links:
        return ""
    named = [f"left {LINKS[axle]}" for axle, link in enumerate(file.car.links) if link.usable]
    if not named:
        return "No drop link can be turned: no bar is connected by one with link_lead."
    return f"Drop links may be turned too: {' and '.join(named)}."


def other_target(file: CarFile, terms: Terms, begin: Entry | None) -> tuple[str, list[str]]:
    """Say that the car file has come to want something else since a session began.

    Args:
        begin: Where it began; None for a new one.

    Returns:
        And the options that take it; empty where the session goes by what the file says now.
    """
    if begin is None or begin.data.get("file_target") in (None, target_of_file(file)):
        return "", []
    asked, _ = asked_for(file.car, NOTHING_ASKED)
    cross, points, give = asked.cross, asked.tolerance, asked.height_tolerance
    height = file.units.from_si(give or 0.0, "length")
    options = (
        f"--equal-{asked.equal}s" if cross is None else f"--cross {100 * cross:g}",
        f"--tolerance {100 * (points or 0.0):g}",
        f"--height-tolerance {height:.4g}",
    )
    each = [
        (opening.wanted_words(one), *opening.tolerance_words(one, file.units))
        for one in (asked, terms.asked)
    ]
    off = [new != old for new, old in zip(*each, strict=True)]
    if not any(off):
        return "", []
    new, old = (", ".join(compress(words, off)) for words in each)
    said = f"The car file says {new} now; this session goes on with {old}"
    return said, list(compress(options, off))


def _aimed(file: CarFile, terms: Terms, told: Entry | None, goal: PerchGoal) -> opening.Aimed:
    trims = terms.aimed_at(file)
    state = "" if terms.race is False else opening.trims_named(list(trims))
    return opening.Aimed(_aim(terms, told, goal), state, next(iter(trims.values())).items)


def terms_json(file: CarFile, terms: Terms, told: Entry | None, goal: PerchGoal) -> dict[str, Any]:
    """Give what a session goes by, under the names of the contract."""
    asked = terms.asked
    trims = terms.aimed_at(file)
    first, *_ = trims.values()
    target = opening.target_json(_aimed(file, terms, told, goal), first.items, file.units)
    # Equal wheels and wanted loads come to a cross weight once the car is weighed.
    if terms.asked.once_weighed and told is None:
        target["cross_pct"] = None
    return {
        "car": file.car.name,
        "state": opening.state_json(_aboard(file, terms, told), file.units),
        "pad_heights": None if terms.pads is None else by_corner(terms.pads, "length", file.units),
        "target": {
            **target,
            "equal": asked.equal,
            "keep": sorted(asked.keep),
            "links": terms.links is True,
            "aim": terms.aim,
        },
        "trims": {name: list(state.words) for name, state in trims.items()},
    }


def _aim(terms: Terms, told: Entry | None, goal: PerchGoal) -> Aim:
    words = "cross weight"
    if terms.asked.once_weighed:
        asked = opening.wanted_words(terms.asked)
        words = asked if told is None else f"{asked}, so {words}"
    return Aim(goal, words, terms.target)


def _aboard(file: CarFile, terms: Terms, told: Entry | None) -> opening.Aboard:
    from_log = terms.state == "log" and told is not None
    entry, day = (told.number, f"{told.wall:%Y-%m-%d}") if from_log and told else (0, "")
    return opening.Aboard(terms.on_pads(file), terms.state, entry, day)


def opening_sentences(
    file: CarFile, terms: Terms, told: Entry | None, goal: PerchGoal, begin: Entry | None = None
) -> list[str]:
    """Say how a car that is named already stands on the pads, and what it is to reach."""
    said = opening.opening_words(file, _aboard(file, terms, told), _aimed(file, terms, told, goal))
    other, _ = other_target(file, terms, begin)
    said = [*said, *filter(None, [links_words(file, terms)])]
    return [*said, f"{other}; end it to begin one that takes that."] if other else said
