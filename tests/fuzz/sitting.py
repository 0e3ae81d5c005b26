"""What somebody at the pads types, by and large."""

from __future__ import annotations

from random import Random

from tests.fuzz.damage import TEXTS

CORNERS = ("LF", "RF", "LR", "RR")
_SPELLINGS = ("{:g}", "{:.1f}", "{:.2f}", "{:g}kg", "{:g} kg", "{:g}lb", "+{:g}", "{:e}", "{:.0f}.")
_TURNS = (
    "1", "-1", "0.5", "-0.75", "1/2", "1½", "−½", "0", "3", "-6", "25", "1e3", "nan", "1/0", "",
)  # fmt: skip


def a_line(rng: Random, loads: tuple[float, ...]) -> str:
    """Make one line; most are as they should be."""
    sort = rng.random()
    if sort < 0.4:
        return _weigh_in(rng, loads)
    if sort < 0.5:
        return f"{rng.choice(CORNERS)} {_spelled(rng, rng.choice(loads))}"
    if sort < 0.56:
        return f"again {_weigh_in(rng, loads)}" if rng.random() < 0.7 else "again"
    if sort < 0.66:
        return "made " + " ".join(
            f"{corner}={rng.choice(_TURNS)}" for corner in rng.sample(CORNERS, rng.randrange(5))
        )
    if sort < 0.93:
        words = (
            "yes",
            "yes",
            "undo",
            "undo",
            "help",
            "done",
            "",
            "no",
            "YES",
            "undo undo",
            "note x",
            "plan",
            "made nothing",
            "made LF 3/4 down, RR 1/2 up",
            "made rf 1 up",
            "made LR=1 front link=-1",
            "made left rear link: 1/2 turn longer",
            "links",
            "links off",
            "aboard driver",
            "aboard driver, fuel=8",
            "aboard race trim",
            "aboard none",
            "aboard nobody",
        )
        return rng.choice(words)
    return _garbage(rng)


def _weigh_in(rng: Random, loads: tuple[float, ...]) -> str:
    spread = rng.choice((0.002, 0.002, 0.01, 0.05, 0.5))
    words = [_spelled(rng, load * rng.uniform(1 - spread, 1 + spread)) for load in loads]
    if rng.random() < 0.08:
        words[rng.randrange(4)] = rng.choice(
            ("0", "-5", "29.4", "3000", "1e9", "nan", "1e400", "x")
        )
    if rng.random() < 0.04:
        words = words[: rng.randrange(4)]
    return rng.choice((" ", " ", " ", " ", "  ", "\t", ",", ", ")).join(words)


def _spelled(rng: Random, value: float) -> str:
    plain = rng.random() < 0.85
    return ("{:.1f}" if plain else rng.choice(_SPELLINGS)).format(value)


def _garbage(rng: Random) -> str:
    text = rng.choice(TEXTS).replace("\n", " ")
    return rng.choice(
        (text, f"note {text}", f"made LF={text}", f"LF {text}", text * 50, "?", "quit")
    )
