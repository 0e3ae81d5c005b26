"""Run a campaign, or one of its inputs again."""

from __future__ import annotations

import os

if __name__ == "__main__":
    # Before numpy is loaded: what is forked must have one thread.
    os.environ |= {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}

import argparse
import shlex
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator, Mapping
from pathlib import Path

from tests.fuzz.inputs import Case, Plan, made, planned
from tests.fuzz.judging import Finding, judge
from tests.fuzz.running import Ran, load_everything, run, sound_logs

Logs = Mapping[str, bytes]


def main() -> None:
    """Read the options, run, report; exit status 1 if anything was found."""
    options = _options()
    with tempfile.TemporaryDirectory(prefix="fuzz-") as folder:
        load_everything()
        shop = Path(folder) / "shop"
        logs = sound_logs(shop)
        if options.only:
            seed, number = map(int, options.only.split(":"))
            sys.exit(_again(planned(seed, number), logs, shop, options.keep))
        sys.exit(_campaign(options, logs, shop))


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser("python -m tests.fuzz", description=__doc__)
    parser.add_argument("--count", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--from", dest="start", type=int, default=0)
    parser.add_argument("--seconds", type=float, default=float("inf"), help="stop after so long")
    parser.add_argument("--most", type=int, default=3, help="of each finding, told in full")
    parser.add_argument("--only", metavar="SEED:NUMBER", help="one input again, shrunk")
    parser.add_argument("--keep", metavar="FOLDER", help="with --only: its files go here")
    return parser.parse_args()


def _campaign(options: argparse.Namespace, logs: Logs, shop: Path) -> int:
    began, kinds, statuses = time.monotonic(), Counter[str](), Counter[str]()
    found: Counter[tuple[str, str]] = Counter()
    slowest: tuple[float, int] = (0.0, 0)
    for number in range(options.start, options.start + options.count):
        if time.monotonic() - began > options.seconds:
            print(f"stopped after {options.seconds:g} s, before input {number}")
            break
        ran = run(made(planned(options.seed, number), logs), shop)
        kinds[ran.case.plan.kind] += 1
        statuses[f"{ran.case.plan.kind} {ran.status}"] += 1
        slowest = max(slowest, (ran.seconds, number))
        if number % 500 == 499:
            print(
                f"{number + 1} after {time.monotonic() - began:.0f} s", file=sys.stderr, flush=True
            )
        for finding in judge(ran):
            key = finding.sort, finding.place
            found[key] += 1
            if found[key] <= options.most:
                _tell(finding, options.seed, number, ran.case)
    _summary(kinds, statuses, found, slowest, time.monotonic() - began)
    return 1 if found else 0


def _tell(finding: Finding, seed: int, number: int, case: Case) -> None:
    print(f"== {finding.sort}: {finding.place}")
    print(f"   python -m tests.fuzz --only {seed}:{number}")
    print(f"   balancer {shlex.join(case.words)[:300]}")
    print("   " + finding.seen.strip()[-1200:].replace("\n", "\n   "), flush=True)


def _summary(
    kinds: Counter[str], statuses: Counter[str], found: Counter[tuple[str, str]],
    slowest: tuple[float, int], seconds: float,
) -> None:  # fmt: skip
    worst = f"the slowest {slowest[0]:.1f} s ({slowest[1]})"
    print(f"{sum(kinds.values())} inputs in {seconds:.0f} s, {worst}")
    for kind, count in sorted(kinds.items()):
        ended = {key.split()[1]: n for key, n in statuses.items() if key.split()[0] == kind}
        print(f"  {kind:9} {count:6}  by status: {dict(sorted(ended.items()))}")
    for (sort, place), count in found.most_common():
        print(f"{count:6} × {sort}: {place}")
    print("nothing found" if not found else f"{len(found)} findings")


def _again(plan: Plan, logs: Logs, shop: Path, keep: str | None) -> int:
    ran = run(made(plan, logs), shop)
    found = judge(ran)
    if found:
        plan, ran = _shrunk(plan, found[0], logs, shop)
    _show(plan, ran)
    if keep:
        for name, content in ran.case.files.items():
            Path(keep).mkdir(parents=True, exist_ok=True)
            (Path(keep) / name).write_bytes(content)
    for finding in judge(ran):
        print(f"== {finding.sort}: {finding.place}\n{finding.seen}")
    return 1 if found else 0


def _shrunk(plan: Plan, finding: Finding, logs: Logs, shop: Path) -> tuple[Plan, Ran]:
    """Leave out whatever the finding does not need."""
    ran = run(made(plan, logs), shop)
    smaller = True
    while smaller:
        smaller = False
        for one in _smaller(plan):
            again = run(made(one, logs), shop)
            if any(finding[:2] == other[:2] for other in judge(again)):
                plan, ran, smaller = one, again, True
                break
    return plan, ran


def _smaller(plan: Plan) -> Iterator[Plan]:
    for nth in range(len(plan.edits)):
        yield plan._replace(edits=plan.edits[:nth] + plan.edits[nth + 1 :])
    for nth in range(1, len(plan.words)):
        yield plan._replace(words=plan.words[:nth] + plan.words[nth + 1 :])
    for nth in range(len(plan.lines)):
        yield plan._replace(lines=plan.lines[:nth] + plan.lines[nth + 1 :])
    plain = plan._replace(encoding="utf-8", zone="UTC", stdin="lines", stdout="file")
    if plain != plan:
        yield plain


def _show(plan: Plan, ran: Ran) -> None:
    print(f"balancer {shlex.join(ran.case.words)}")
    print(f"{plan.kind}, {plan.encoding}, TZ={plan.zone}, stdin {plan.stdin}, stdout {plan.stdout}")
    for name in dict.fromkeys(edit.file for edit in plan.edits):
        print(f"-- {name}\n{ran.case.files[name].decode('utf-8', 'backslashreplace')[:6000]}")
    for line in plan.lines:
        print(f"> {line[:300]}")
    print(f"-- status {ran.status}, {ran.seconds:.1f} s, {ran.megabytes:.0f} MB, new {ran.new}")
    print((ran.out[:3000] + b"\n" + ran.err[:3000]).decode("utf-8", "backslashreplace"))


if __name__ == "__main__":
    main()
