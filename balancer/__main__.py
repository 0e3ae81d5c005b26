"""Start-up of the command line, also for `python -m balancer`."""

# Of what is loaded before Ctrl-C is heard nothing takes time: these are all built in.
import _signal as signal  # type: ignore[import-not-found]
import gc
import os
import sys

TYPE_CHECKING = False
if TYPE_CHECKING:
    from types import FrameType

# The process is short and keeps what it makes: collecting garbage while modules load would be a
# tenth of the time that `balancer weigh` takes.
gc.disable()

# What is solved here is small: a second thread of OpenBLAS would do nothing but look for work, for
# as long as another tenth of that time.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def _leave(number: int, frame: "FrameType | None") -> None:
    """End at once: while modules load there is nothing to put in order."""
    try:
        os.write(2, b"stopped\n")
    finally:
        os._exit(130)


# A job in the background ignores Ctrl-C, and goes on doing so.
_HEARD = signal.getsignal(signal.SIGINT) is signal.default_int_handler
if _HEARD:
    signal.signal(signal.SIGINT, _leave)

from balancer.cli import main as run  # noqa: E402
from balancer.cli.terminal.stopping import Stop, quiet  # noqa: E402


def main() -> None:
    """Run the command line of this process, which hears Ctrl-C from its first moment on."""
    try:
        if _HEARD:
            signal.signal(signal.SIGINT, Stop(_leave))
            sys.unraisablehook = quiet
        run()
    except KeyboardInterrupt:
        # Heard before the command line listens, or when it no longer does.
        _leave(signal.SIGINT, None)
    finally:
        if _HEARD:
            signal.signal(signal.SIGINT, signal.SIG_IGN)
        # All is said and saved: what is left is to take the process down, and all that it made goes
        # with it: without this the interpreter would look through all of it first.
        gc.freeze()


if __name__ == "__main__":
    main()
