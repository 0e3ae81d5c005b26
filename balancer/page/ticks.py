"""Boxes that stay ticked: kept beside the log, whole or not at all."""

import json
import os
from pathlib import Path

from balancer.files.writing import put
from balancer.log.reader import log_path
from balancer.log.writer import locked

PATIENCE = 2.0
"""How long to wait for others that write [s]."""

_MOST = 400
"""Characters of a box."""


def ticks_path(car_path: str) -> str:
    """Give the path of what is ticked for a car: beside its log.

    >>> ticks_path("cars/coupe.toml")
    'cars/coupe.ticks.json'
    """
    return f"{car_path.removesuffix('.toml')}.ticks.json"


def ticked(car_path: str) -> frozenset[str]:
    """Read which boxes are ticked; what can't be read is none."""
    try:
        text = Path(ticks_path(car_path)).read_text(encoding="utf-8")
        return frozenset(str(box) for box in json.loads(text)["ticked"])
    except (OSError, ValueError, TypeError, KeyError, RecursionError):
        return frozenset()


def tick(car_path: str, box: str, on: bool) -> None:
    """Tick a box, or take the tick out; twice is as good as once."""
    with locked(log_path(car_path), PATIENCE):
        now = ticked(car_path)
        _keep(car_path, now | {box[:_MOST]} if on else now - {box})


def untick_all(car_path: str) -> None:
    """Begin anew, for the next event."""
    with locked(log_path(car_path), PATIENCE):
        _keep(car_path, frozenset())


def _keep(car_path: str, boxes: frozenset[str]) -> None:
    path = ticks_path(car_path)
    if boxes or os.path.exists(path):
        put(path, json.dumps({"ticked": sorted(boxes)}, ensure_ascii=False) + "\n")
