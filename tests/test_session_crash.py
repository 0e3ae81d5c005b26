"""A session killed at any moment: what was answered is in the log, and the next goes on from there.

The log's own kills, in the middle of a line, are in test_log_crash.py; here it is a whole session,
whose answers take several lines of the log each.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest

from balancer.cli.session import command, terms_given
from balancer.files.car_reader import read_car
from balancer.jobs.at_the_pads import AtThePads
from balancer.log.reader import effective, log_path, read_log
from balancer.log.writer import open_log
from tests.cli.test_session import HATCH
from tests.cli.test_session_links import BARRED
from tests.seeds import seeds

KILLS = range(int(os.environ["KILLS"])) if "KILLS" in os.environ else seeds(18, 9)
"""By each signal; `KILLS=100 pytest tests/test_session_crash.py` takes a while and kills 400."""

TOLD_KILLS = range(int(os.environ["KILLS"])) if "KILLS" in os.environ else seeds(24, 8)
"""Of sessions that were told by options what to go by."""

SIGNALS = [signal.SIGKILL, signal.SIGTERM, signal.SIGHUP, signal.SIGINT]
SCRIPT = (
    "302 288.5 231 244",
    "again 302.5 288.5 231 243.5",
    "again 302 289 231 244",
    "made LF=-0.75 RF=0.75 LR=1 RR=-1",
    "made LF=-1 RF=1 LR=1 RR=-1",
    "296 294.5 237 238.5",
    "again 296 294.5 237.5 238.5",
    "undo",
    "296 294.5 237 238",
    "295.5 295 237.5 237.5",
    "undo",
    "undo",
    "undo",
    "undo",
    "302 288.5 231 244",
    "297 293.5 236 239",
    "again 297 293.5 236 239.5",
)


class State(NamedTuple):
    """What a session has to know: readings, turns between them, and those since the last."""

    weigh_ins: tuple[tuple[tuple[float, ...], ...], ...]
    between: tuple[tuple[float, ...], ...]
    since: tuple[float, ...]


def state_of(pads: AtThePads) -> State:
    session = pads.session
    count = len(session.weigh_ins)
    since = session.made[-1] if count and len(session.made) == count else pads.record.lines.due
    rows = [np.round(one.readings.repeats, 6).tolist() for one in session.weigh_ins]
    return State(
        tuple(tuple(map(tuple, one)) for one in rows),
        tuple(tuple(one.tolist()) for one in session.made[: max(count - 1, 0)]),
        (0.0,) * 4 if since is None else tuple(since.tolist()),
    )


def sit(car: Path, *options: str) -> Iterator[AtThePads]:
    """Sit down in this process; the log is let go of when this is closed."""
    file = read_car(str(car))
    given = command.make_context("session", [str(car), *options]).params
    with open_log(log_path(file.path)) as log:
        now = datetime.now().astimezone()
        yield AtThePads(file, terms_given(file, given), log, now)


@pytest.fixture(autouse=True)
def heard() -> Iterator[None]:
    """Let what is started hear the signals, though a shell has us ignore some.

    What is ignored here is ignored there too, from its first moment on; what is caught is not.
    """
    before = {one: signal.getsignal(one) for one in SIGNALS if one != signal.SIGKILL}
    ignored = [one for one, now in before.items() if now is signal.SIG_IGN]
    for one in ignored:
        signal.signal(one, lambda number, frame: None)
    yield
    for one in ignored:
        signal.signal(one, signal.SIG_IGN)


@pytest.fixture
def car(tmp_path: Path) -> Path:
    (tmp_path / "hatch.toml").write_text(HATCH)
    return tmp_path / "hatch.toml"


@pytest.fixture
def states(tmp_path: Path, car: Path) -> list[State]:
    """Give the state after each line, from none to all, of a session that nobody kills."""
    whole = tmp_path / "whole.toml"
    shutil.copy(car, whole)
    for pads in sit(whole):
        found = [state_of(pads)]
        for line in SCRIPT:
            assert pads.hear(line)
            found.append(state_of(pads))
        assert len(set(found)) >= 12
    return found


def killed(car: Path, how: signal.Signals, answers: int, wait: float, *options: str) -> int:
    """Run the script, kill it so long [s] after so many answers; give how many there were.

    With options it is not killed before it has said what it goes by.
    """
    words = [sys.executable, "-m", "balancer", "session", str(car), "--json", *options]
    pipe = subprocess.PIPE
    with subprocess.Popen(words, stdin=pipe, stdout=pipe, stderr=subprocess.DEVNULL) as process:
        assert process.stdin
        assert process.stdout
        process.stdin.write("".join(f"{line}\n" for line in SCRIPT).encode())
        process.stdin.flush()
        opening = process.stdout.readline() if answers or options else b""
        heard = b"".join(process.stdout.readline() for _ in range(answers))
        time.sleep(wait)
        process.send_signal(how)
        told = (opening + heard + process.stdout.read()).split(b"\n")[1:-1]
    assert all("error" not in json.loads(answer) for answer in told)
    return len(told)


def one_kill(car: Path, how: signal.Signals, seed: int, states: list[State]) -> int:
    own = car.with_name(f"hatch{seed}.toml")
    shutil.copy(car, own)
    answers = seed % len(SCRIPT)
    # Before the first answer there is half a second of start-up to be killed in.
    wait = random.Random(seed).uniform(0, 0.04 if answers else 0.8)
    answered = killed(own, how, answers, wait)
    # A line more may have been heard, whose answer was never given.
    for pads in sit(own):
        assert state_of(pads) in states[answered : answered + 2], (seed, answered)
        assert pads.resumed == bool(pads.session.weigh_ins)
        entries = effective(pads.record.writer.entries)
        assert not pads.record.writer.damaged
        turns = [one.data["turns"] for one in entries if one.kind == "made"]
        count = sum(one.kind == "weigh_in" for one in entries)
        # Turns said anew, or undone, must not be there twice.
        assert len(turns) <= count
        left = next(
            (
                number
                for number in (answered, answered + 1)
                if states[number : number + 1] == [state_of(pads)]
            ),
            0,
        )
        for line in SCRIPT[left:]:
            pads.hear(line)
        assert state_of(pads) == states[-1], (seed, answered)
    raw = read_log(log_path(str(own))).entries
    assert sum(one.kind == "weigh_in" for one in raw) >= sum(
        line[:5] not in ("undo", "made ") for line in SCRIPT
    )
    return answered


TOLD = (
    ("--cross", "50.8", "--tolerance", "0.3", "--weighed-with", "driver", "--keep", "LF"),
    ("--equal-fronts", "--height-tolerance", "3", "--weighed-with", "driver, fuel=20"),
    ("--weighed-with", "fuel", "--as-it-stands", "--raise", "front=1.5", "--keep", "RR"),
    ("--loads", "295", "295", "238", "238", "--poorly-known", "--tolerance", "0.1"),
    ("--links", "--cross", "51", "--keep", "LF", "--keep", "RF"),
)
ABOARD = """
[[on_board]]
name = "driver"
mass = 78
aft = 1300
left = 340
up = 400

[[on_board]]
name = "fuel"
mass = 30
aft = 2300
left = 0
up = 350
"""


@pytest.mark.parametrize("how", SIGNALS)
def test_killed_at_any_moment_it_goes_on_from_its_last_answer(
    how: signal.Signals, car: Path, states: list[State]
) -> None:
    with ThreadPoolExecutor(4) as pool:
        found = list(pool.map(lambda seed: one_kill(car, how, seed, states), KILLS))
    print(f"{how.name}: {len(KILLS)} kills, after {sorted(found)} answers, nothing lost")
    # The kills hit early, late and in between, or they would prove little. How many different
    # moments they hit is the machine's doing: where it is busy, several answers come at once.
    assert {min(3 * answered // len(SCRIPT), 2) for answered in found} == {0, 1, 2}
    assert sum(answered < len(SCRIPT) for answered in found) > len(KILLS) // 2


def ended(pads: AtThePads, lines: Sequence[str]) -> str:
    """Type lines; give the plan after them, and what the session goes by."""
    for line in lines:
        pads.hear(line)
    target = pads.opening()["target"]
    # Where this is from differs, and whether it was known when the session was sat down to.
    goes_by = {key: target[key] for key in target if key not in ("from", "cross_pct")}
    told = json.dumps([goes_by, pads.hear("plan")], sort_keys=True)
    return told.replace('"from": "said"', '"from": "log"')


def told_car(told: Sequence[str]) -> str:
    return BARRED if "--links" in told else HATCH + ABOARD


def test_killed_it_goes_on_by_the_options_it_was_told_without_being_told_again(car: Path) -> None:
    """Whatever the moment, it ends at the plan of the one that nobody killed."""
    wholes, states = [], []
    for number, told in enumerate(TOLD):
        own = car.with_name(f"whole{number}.toml")
        own.write_text(told_car(told))
        for pads in sit(own, *told):
            states.append([state_of(pads), *(typed(pads, line) for line in SCRIPT)])
            wholes.append(ended(pads, []))
    assert len({json.loads(whole)[1]["text"] for whole in wholes}) == len(TOLD)
    assert json.loads(wholes[-1])[1]["link_turns"]["front"]

    def kill(seed: int) -> int:
        own, number = car.with_name(f"hatch{seed}.toml"), seed % len(TOLD)
        own.write_text(told_car(TOLD[number]))
        rng = random.Random(seed)
        count, wait = rng.randrange(len(SCRIPT)), rng.uniform(0, 0.04)
        how = SIGNALS[seed // len(TOLD) % len(SIGNALS)]
        answered = killed(own, how, count, wait, *TOLD[number])
        for pads in sit(own):
            near = states[number][answered : answered + 2]
            assert state_of(pads) in near, (seed, answered)
            left = answered + near.index(state_of(pads))
            # Readings that were asked about are in no log, as the session says: typed again.
            while left and states[number][left - 1] == states[number][left]:
                left -= 1
            assert ended(pads, SCRIPT[left:]) == wholes[number], (seed, answered)
        return answered

    with ThreadPoolExecutor(4) as pool:
        found = list(pool.map(kill, TOLD_KILLS))
    print(f"told by options: {len(found)} kills, after {sorted(found)} answers, the same plan")
    assert len(set(found)) > 2


def typed(pads: AtThePads, line: str) -> State:
    """Type a line, and give what the session knows then."""
    assert pads.hear(line)
    return state_of(pads)


def test_a_target_that_the_car_file_has_come_to_say_is_told_and_how_to_take_it(car: Path) -> None:
    target = "\n[target]\ncross_pct = {}\ntolerance = {}\n"

    def gone_on(options: str = "", line: str = "plan") -> str:
        for pads in sit(car, *options.split()):
            pads.hear(line)
            return " ".join(str(pads.opening()["text"]).split())
        raise AssertionError

    car.write_text(HATCH + target.format(50.5, 0.2))
    assert "The car file" not in gone_on("--keep LF", SCRIPT[0])
    assert "The car file" not in gone_on()
    car.write_text(HATCH + target.format(51, 0.2))
    told = (
        "Aims for 50.5 % cross weight ± 0.2 as it stands on the pads; target from the log."
        " The car file says 51.0 % cross weight now; this session goes on with 50.5 % cross"
        " weight; for that start it with --cross 51."
    )
    assert told in gone_on()
    car.write_text(HATCH + target.format(51, 0.3))
    # Whatever else is said, what the file says is still not what is gone by.
    assert "with --cross 51 --tolerance 0.3." in gone_on("--keep RF")
    assert "The car file" not in gone_on("--cross 51 --tolerance 0.3")
    car.write_text(HATCH + '\n[target]\nequal = "front"\nheight_tolerance = 2\n')
    told = gone_on("--cross 50.5")
    assert "now; this session goes on with 50.5 % cross weight, ± 0.3, heights ± 1.5 mm;" in told
    assert "with --equal-fronts --tolerance 0.2 --height-tolerance 2." in told
