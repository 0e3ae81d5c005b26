"""How far apart a car comes to rest, in words: what to do about it, and what may cause it."""

from balancer.planning.session.session import Session
from balancer.planning.session.step import Step
from balancer.report.words.floor import HERE
from balancer.report.words.numbers import chance, number
from balancer.report.words.prose import wrapped

NOTABLE = 0.001
"""Settling from which on it is told [1]."""

ONCE = "One settling can't tell whether it binds: roll it, bounce it, weigh again to be surer."

CAUSES = "friction in shocks or bushings, tires that hold it sideways, or pads that lean"


def settling_lines(step: Step, told: bool = False) -> list[str]:
    """Say how far apart a car comes to rest, where that is much, and what may cause it.

    Args:
        told: Whether the causes are told already.
    """
    if step.settling < NOTABLE:
        return []
    points = number(100 * step.settling, 2)
    text = f"It seems to come to rest some {points} points apart each time it settles"
    return [wrapped(f"{text}." if told else f"{text}: {CAUSES}.")]


def settle_again_lines() -> list[str]:
    """Ask for another weigh-in with nothing turned."""
    text = (
        "Turn nothing yet: roll it, bounce it and weigh again (say again LF RF LR RR). That tells"
        " more than a turn."
    )
    return [wrapped(text)]


def sure_words(step: Step) -> str:
    """Say how sure a stop is, in brackets; nothing where sureness is not what it is about."""
    if step.stop == "in_tolerance":
        return f" {HERE} ({chance(step.confidence)} sure)"
    if step.stop == "below_its_settling":
        return f" ({chance(step.confidence)} sure to be in tolerance)"
    return ""


def disbelief_lines(session: Session, step: Step) -> list[str]:
    """Say when what was turned can't have led to the last readings, and what may have."""
    last = len(session.weigh_ins) - 1
    if last not in step.disbelieved:
        return []
    if not session.made[last - 1].any():
        text = (
            f"Nothing was turned and yet it reads otherwise ({CAUSES}): only this weigh-in counts."
        )
        return [wrapped(text)]
    text = f"Unlike the turns: {CAUSES}; or they were not made as planned. Nothing is learned."
    return [wrapped(text if step.stop else f"{text} The plan is for the car as it now reads.")]
