"""Ctrl-C: heard wherever the process is, and told in a word."""

from __future__ import annotations

import signal
import sys
from collections.abc import Callable
from types import FrameType

Handler = Callable[[int, FrameType | None], None]


class Stop:
    """Handles SIGINT: the first is raised, so that all is put in order; the next ends at once.

    While a module loads the first ends at once too: some print what is raised there, and nothing
    that was acknowledged hangs on the module.

    Attributes:
        heard: True from the first on. Extension modules may swallow what is raised, or make
            another error of it: then this is what is left of it.
    """

    def __init__(self, leave: Handler) -> None:
        self.heard, self._leave = False, leave

    def __call__(self, number: int, frame: FrameType | None) -> None:
        """Raise KeyboardInterrupt where the process is."""
        if self.heard or _loading(frame):
            self._leave(number, frame)
        self.heard = True
        raise KeyboardInterrupt


def _loading(frame: FrameType | None) -> bool:
    while frame and frame.f_code.co_filename != "<frozen importlib._bootstrap>":
        frame = frame.f_back
    return frame is not None


def quiet(unraisable: sys.UnraisableHookArgs) -> None:
    """Say nothing of a Ctrl-C that was raised where nothing may be raised: it is heard later."""
    if not isinstance(unraisable.exc_value, KeyboardInterrupt):
        sys.__unraisablehook__(unraisable)


def was_stopped() -> bool:
    """Say whether Ctrl-C was heard, whatever has become of it."""
    handler = signal.getsignal(signal.SIGINT)
    return isinstance(handler, Stop) and handler.heard
