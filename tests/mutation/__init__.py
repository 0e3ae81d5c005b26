"""Slips put into the package, to see whether the tests notice."""

import os

# One process a mutant, so one thread a process.
for threads in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
    os.environ.setdefault(threads, "1")
