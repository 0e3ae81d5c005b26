"""`balancer torsion`."""

import os
from collections.abc import Iterator, Sequence

import click
import numpy as np

from balancer.car.conventions import CORNERS, Floats
from balancer.car.corner import LINKS
from balancer.car.errors import Fault, InputError
from balancer.cli.options.files import car_of, missing_for, note, readings_beside
from balancer.cli.options.numbers import CAR, PERCENT, Number, faults_of
from balancer.cli.options.results import JSON, Result
from balancer.files.car_file import CarFile, operating_faults
from balancer.files.format.numbers import Amount
from balancer.files.units import METRIC
from balancer.log.commands import understood
from balancer.planning.session.chassis_stiffness import RATES_UNCERTAINTY, applied_warp, torsion
from balancer.report.weighing.torsion import torsion_json, torsion_text
from balancer.report.words.opening import aboard_in
from balancer.weighing.weigh import Readings, weigh


@click.command("torsion")
@CAR
@click.argument("files", nargs=-1, metavar="BEFORE AFTER…")
@click.option(
    "--made", "said", multiple=True, metavar="LF=2", help="Turned between them.  May be repeated."
)
@click.option(
    "--rates-trusted",
    "trusted",
    type=Number(0, 50, PERCENT),
    metavar="PCT",
    help="Uncertainty of springs and tires together.  [3]",
)
@JSON
@click.pass_context
def command(
    ctx: click.Context,
    car: str,
    files: tuple[str, ...],
    said: tuple[str, ...],
    trusted: Amount | None,
    as_json: bool,
) -> int:
    """Find how stiff the chassis is in torsion, from two weigh-ins.

    Weigh, turn perches by a known amount that twists the car (LF and RR up, RF and
    LR down tells most), weigh again with all else the same. BEFORE and AFTER are
    readings files, or weigh-ins of the log as log:12. More sets of turns and
    weigh-ins may follow: then one --made each, as --made "LF=2 RR=2". Exit status
    1 when they can't tell a stiffness.

    \b
    Example:
      balancer torsion examples/coupe.toml examples/weigh_in.toml \\
          examples/weigh_in_turned.toml --made LF=3 --made RF=-3 \\
          --made LR=-3 --made RR=3
    """
    faults = faults_of(ctx)
    file = car_of(car, faults)
    faults += missing_for("torsion", file)
    if len(files) < 2:
        faults.append(Fault("BEFORE AFTER", f"got {len(files)}", "give two readings files or more"))
    read = [each for path in files if (each := readings_beside(file, path, faults))]
    before = len(faults)
    made = _sets(said, len(files), file, faults)
    if file is not None:
        faults += _not_turned(file, made, len(faults) > before)
    faults += _aboard(read)
    if faults or file is None:
        raise InputError(dict.fromkeys(faults))
    if any((each.pad_heights != read[0].pad_heights).any() for each in read):
        note("pad heights differ, and are taken off with what the file says of the car")
    note(*file.notes)
    rates = RATES_UNCERTAINTY if trusted is None else trusted.value / 100
    with operating_faults(file):
        stiffness = torsion(file.car, [weigh(file.car, each) for each in read], made, rates)
    names = [os.path.basename(path) for path in files]
    return Result(
        lambda: torsion_text(file, names, aboard_in(file, read[0]), made, stiffness, rates),
        lambda: torsion_json(file, stiffness),
        stiffness.status in ("found", "at_least"),
    ).show(as_json)


def _sets(
    said: Sequence[str], weighed: int, file: CarFile | None, faults: list[Fault]
) -> list[Floats]:
    """Read the turns; before one re-weigh all that is said is one set."""
    if not said:
        faults.append(Fault("--made", "is missing", "say what was turned: --made LF=2 --made RR=2"))
        return []
    sets = [" ".join(said)] if weighed <= 2 else list(said)
    if weighed > 2 and len(sets) != weighed - 1:
        what = f"got {len(sets)} for {weighed - 1} sets of turns"
        faults.append(Fault("--made", what, 'give one a re-weigh: --made "LF=2 RR=2"'))
    made = []
    for text in sets:
        try:
            counts = {} if file is None else {"counts": file.counts()}
            turns = understood(f"made {text}", METRIC, **counts).values
            made.append(np.array([turns.get(corner, 0.0) for corner in CORNERS]))
            links = [name for name in LINKS if name in turns]
            faults += [
                Fault(f"--made {name}", "is no perch", "turn perches alone") for name in links
            ]
        except InputError as error:
            faults += [fault._replace(where=f"--{fault.where}") for fault in error.faults]
    return made


def _not_turned(file: CarFile, made: Sequence[Floats], faulted: bool) -> Iterator[Fault]:
    """Find turns where there is no perch, and those that don't twist the car."""
    for corner, fixed, *turns in zip(CORNERS, ~file.car.adjustable, *made, strict=True):
        if fixed and any(turns):
            yield Fault(f"--made {corner}", "has no threaded perch", "give its perch_lead")
            faulted = True
    twists = (
        np.abs(np.cumsum([applied_warp(file.car, each) for each in made])) if made else np.zeros(0)
    )
    if not faulted and not (twists > 1e-9).any():
        way_out = "turn one corner, or LF and RR up and RF and LR down"
        yield Fault("--made", "does not twist the car, so it tells nothing", way_out)


def _aboard(read: Sequence[Readings]) -> Iterator[Fault]:
    states = {each.on_board for each in read if each.on_board is not None}
    if len(states) > 1:
        words = " and ".join(sorted(", ".join(names) or "nothing" for names in states))
        yield Fault("on_board", f"is not the same: {words}", "weigh with the same on board")
