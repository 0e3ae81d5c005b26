"""What a shell offers for a word that is being typed: names out of the files that are named."""

import os
from collections.abc import Callable, Iterable, Iterator
from typing import Any

import click
from click.shell_completion import CompletionItem

from balancer.car.conventions import CORNERS
from balancer.car.errors import BalancerError
from balancer.cli.options.numbers import ByCorner, Corner, Names, System
from balancer.files.units import SYSTEMS
from balancer.report.guide.pages import TOPICS

Offer = Callable[[dict[str, Any]], Iterable[str]]

_FILES = frozenset({"FILE", "CAR", "BOOK", "READINGS", "READINGS READINGS…", "LIFTS", "[FOLDER]"})
_GROUPS = (*CORNERS, "front", "rear", "all")


def completing(command: click.Command) -> click.Command:
    """Have the parameters of a command offer what they may be."""
    for param in command.params:
        offer = _offer(param)
        if offer is not None:
            param.shell_complete = _completer(offer)  # type: ignore[method-assign,assignment]
        elif _is_file(param):
            param.shell_complete = _some_file  # type: ignore[method-assign]
    return command


def _offer(param: click.Parameter) -> Offer | None:
    """Find what a parameter takes names of."""
    if isinstance(param.type, Names):
        return _on_board
    if isinstance(param.type, System):
        return lambda given: SYSTEMS
    if isinstance(param.type, Corner):
        return lambda given: CORNERS
    if isinstance(param.type, ByCorner):
        return lambda given: [f"{group}=" for group in _GROUPS]
    if param.name == "topic":
        return lambda given: TOPICS
    if "--variant" in param.opts:
        return lambda given: _book(given)["variant"]
    if {"--off", "--on", "--against"} & set(param.opts):
        return lambda given: _book(given)["part"]
    return None


def _is_file(param: click.Parameter) -> bool:
    return param.metavar in _FILES or bool({"--output", "--svg"} & set(param.opts))


def _some_file(ctx: click.Context, incomplete: str) -> list[CompletionItem]:
    return [CompletionItem(incomplete, type="file")]


def _completer(offer: Offer) -> Callable[[click.Context, str], list[CompletionItem]]:
    def complete(ctx: click.Context, incomplete: str) -> list[CompletionItem]:
        before, comma, last = incomplete.rpartition(",")
        said = before.split(",")
        offered = (word for word in offer(ctx.params) if word.partition("=")[0] not in said)
        begun = (word for word in offered if word.lower().startswith(last.lower()))
        return [CompletionItem(f"{before}{comma}{word}") for word in begun]

    return complete


def _on_board(given: dict[str, Any]) -> Iterator[str]:
    """Give what may be on board of the car that was named, and its race trims."""
    from balancer.files.car_reader import read_car

    try:
        car = read_car(str(given.get("car") or _first_toml())).car
    except BalancerError:
        return
    for item in car.on_board:
        yield f"{item.name}=" if item.density else item.name
    yield from (trim.name for trim in car.race_trims)
    yield "none"


def _first_toml() -> str:
    """Find the car file among the words so far: click lays none out before an option is whole."""
    words = os.environ.get("COMP_WORDS", "").replace("\n", " ").split()
    return next((word.strip("'\"") for word in words if word.strip("'\"").endswith(".toml")), "")


def _book(given: dict[str, Any]) -> dict[str, list[str]]:
    """Give the names in the parts book that was named, whatever else is in it."""
    from balancer.files.format.toml_text import read_toml

    try:
        data = read_toml(str(given.get("book"))).data
    except BalancerError:
        data = {}
    return {
        table: [str(entry["name"]) for entry in data.get(table, []) if "name" in entry]
        for table in ("part", "variant")
    }
