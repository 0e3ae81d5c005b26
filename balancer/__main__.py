"""Start-up of the command line, also for `python -m balancer`."""

import gc

# The process is short and keeps what it makes: collecting garbage while modules load would be a
# tenth of the time that `balancer weigh` takes.
gc.disable()

from balancer.cli import main  # noqa: E402

if __name__ == "__main__":
    main()
