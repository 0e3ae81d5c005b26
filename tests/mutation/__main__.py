"""Put slips into a module one by one, and see whether its tests notice.

    .venv/bin/python -m tests.mutation car.linear --sample 80

Tests are collected once; every mutant is tried in a process split off from there, with only those
tests that run the function it is in, the quickest first. tests/mutation/modules.toml says which
tests belong to which module, and which mutants are known to live, with the reason.
"""

from __future__ import annotations

import argparse
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest

from tests.mutation.mutants import Mutant, mutants, sample
from tests.mutation.trial import Trial, Verdict

HERE = Path(__file__).parent
ROOT = HERE.parent.parent
ALWAYS = [
    *("-p", "no:randomly", "-p", "no:cacheprovider", "-p", "no:benchmark", "--no-header"),
    *("-o", "addopts=--doctest-modules"),
]


def main() -> int:
    """Try the mutants of one module; 1 when one lives of which nothing is known."""
    asked = _asked()
    known: dict[str, Any] = tomllib.loads((HERE / "modules.toml").read_text(encoding="utf-8"))
    about = known.get(asked.module, {})
    path = (ROOT / "balancer").joinpath(*asked.module.split(".")).with_suffix(".py")
    every = mutants(path)
    drawn = sample(every, asked.sample or len(every), asked.seed)
    trial = Trial(f"balancer.{asked.module}", path, drawn, asked.workers)
    tests = asked.tests or about.get("tests", [])
    pytest.main([*ALWAYS, str(path), *tests], plugins=[trial])
    source = path.read_text(encoding="utf-8")
    for line in sorted({one["was"] for one in about.get("live", []) if one["was"] not in source}):
        print(f"GONE   {line}")
    return _told(asked.module, len(every), trial.verdicts, about.get("live", []))


def _asked() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    parser.add_argument("module", help="such as car.linear")
    parser.add_argument("tests", nargs="*", help="test files, instead of those in modules.toml")
    parser.add_argument("--sample", type=int, default=0, help="how many mutants to draw; 0: all")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=2)
    return parser.parse_args()


def _told(
    module: str, every: int, verdicts: list[tuple[Mutant, Verdict]], live: list[dict[str, Any]]
) -> int:
    """Print what became of the mutants."""
    reasons = {(one["was"], one["now"]): one for one in live}
    killed, equivalent, said, holes = 0, 0, 0, 0
    for mutant, verdict in verdicts:
        entry = reasons.get((mutant.was, mutant.now))
        if verdict != "survived":
            killed += 1
        elif entry is None:
            holes += 1
            print(f"LIVES  {mutant}")
        else:
            equivalent += entry["equivalent"]
            said += not entry["equivalent"]
    told = len(verdicts) - equivalent
    share = 100 * killed / told if told else 100.0
    print(
        f"{module}: {len(verdicts)} of {every} mutants, {killed} killed, {equivalent} equivalent, "
        f"{said} live with a reason, {holes} live without: {share:.1f} % of those that count"
    )
    return int(holes > 0)


if __name__ == "__main__":
    sys.exit(main())
