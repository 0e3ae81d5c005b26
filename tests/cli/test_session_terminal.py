"""A whole session at a terminal, as somebody types it beside the car."""

from __future__ import annotations

import io
import re
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pexpect
import pytest

from balancer.car.conventions import CORNERS, Floats
from balancer.car.linear import lift, load_change
from balancer.files.car_reader import read_car
from balancer.files.units import METRIC
from balancer.log.reader import effective, read_log
from tests.cli.test_processes import hears
from tests.cli.test_session import HATCH

PROMPT = "LF RF LR RR> "
LOG = "hatch.log.jsonl"


class Terminal:
    """A session at a pseudo-terminal of 80 columns, and all that was to be seen on it."""

    def __init__(self) -> None:
        self.seen, self.said = io.StringIO(), 0
        self.child = pexpect.spawn(
            sys.executable,
            ["-m", "balancer", "session", "hatch.toml", "--cross", "50"],
            encoding="utf-8",
            dimensions=(24, 80),
            timeout=20,
            preexec_fn=hears,
        )
        self.child.logfile_read = self.seen
        self.child.expect_exact(PROMPT)

    def say(self, line: str) -> str:
        """Type a line; give what came before the next prompt, without the line itself."""
        self.said += 1
        self.child.sendline(line)
        self.child.expect_exact(PROMPT)
        echo, _, answer = self.before.replace("\r\n", "\n").partition("\n")
        assert echo == line
        return answer

    @property
    def before(self) -> str:
        assert self.child.before is not None
        return self.child.before


@pytest.fixture
def terminal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Terminal]:
    (tmp_path / "hatch.toml").write_text(HATCH)
    monkeypatch.chdir(tmp_path)
    opened = Terminal()
    yield opened
    opened.child.close(force=True)


class OperatingPoint:
    """The car as it stands: its springs are softer than its file says."""

    def __init__(self) -> None:
        self.car = read_car("hatch.toml").car
        self.loads = np.array([302.0, 288.5, 231.0, 244.0])

    def turn(self, turns: Floats) -> None:
        moved = load_change(self.car, lift(self.car, self.car.perch_lead * turns))
        self.loads = self.loads + 0.9 * moved * METRIC.from_si(1.0, "load")

    def shown(self) -> list[str]:
        return [f"{round(2 * load) / 2:g}" for load in self.loads]


def asked_for(answer: str) -> Floats:
    """Read the turns that an answer asks for, as hands would make them."""
    quarters = {"¼": 0.25, "½": 0.5, "¾": 0.75, "": 0.0}
    turns = dict.fromkeys(CORNERS, 0.0)
    for pad, whole, part, way in re.findall(r"(\w\w): (\d*)([¼½¾]?) turns? (up|down)", answer):
        amount = float(whole or 0) + quarters[part]
        turns[pad] = amount if way == "up" else -amount
    return np.array([turns[pad] for pad in CORNERS])


def test_a_session_from_the_first_weigh_in_to_done(terminal: Terminal) -> None:
    operating_point = OperatingPoint()
    assert "RF reads 28.5, expected about 285.0 kg" in terminal.say("302 28.5 231 244")
    first = terminal.say("RF 288.5")
    assert first.startswith(
        "Weigh-in 1: cross weight (RF+LR): pads show 48.76 %; the car 48.76 % ± 0.05"
    )
    turns = asked_for(first)
    assert np.count_nonzero(turns) == 4

    operating_point.turn(turns)
    second = operating_point.shown()
    assert terminal.say(f"LF {second[0]}").strip() == "Still to read: RF LR RR"
    terminal.say(f"RF {second[1][:2]}")
    terminal.say(f"LR {second[2]}")
    slip = terminal.say(f"RR {second[3]}")
    assert slip.startswith("RF reads ")
    assert "say yes if it does" in slip.replace("\n", " ")
    told = terminal.say(f"RF {second[1]}")
    assert told.startswith("Weigh-in 2: cross weight (RF+LR): pads show 49.")

    assert "1 left, and LF −1, RF +1, LR +1, RR −1¼ turned since" in terminal.say("undo")
    assert terminal.say(" ".join(second)) == told
    assert terminal.say("yes").strip() == "yes: nothing was asked: give the four readings"

    heavier = [f"{float(one) * 1.05:.1f}" for one in second]
    assert terminal.say(" ".join(heavier)).startswith("The total has jumped by +53.")
    assert terminal.say("yes").startswith("Weigh-in 3: ")
    assert "2 left" in terminal.say("undo")
    assert terminal.say("note fuel was filled in").startswith("Noted as ")

    terminal.child.sendline("done")
    terminal.child.expect_exact("Session ended; the log has it all.")
    terminal.child.expect(pexpect.EOF)
    terminal.child.close()
    assert terminal.child.exitstatus == 0

    seen = terminal.seen.getvalue().replace("\r\n", "\n").splitlines()
    assert max(map(len, seen)) <= 80
    assert sum(line.startswith(PROMPT) for line in seen) == terminal.said + 1
    kinds = [entry.kind for entry in effective(read_log(LOG).entries)]
    assert [kind for kind in kinds if kind in ("weigh_in", "made", "note", "session")] == [
        "session", "weigh_in", "made", "weigh_in", "note", "session",
    ]  # fmt: skip


def test_control_c_breaks_off_and_the_next_goes_on(terminal: Terminal) -> None:
    terminal.say("302 288.5 231 244")
    terminal.child.sendintr()
    terminal.child.expect_exact("stopped")
    terminal.child.expect(pexpect.EOF)
    terminal.child.close()
    assert terminal.child.exitstatus == 130
    again = Terminal()
    opening = again.before
    again.child.sendeof()
    again.child.expect(pexpect.EOF)
    again.child.close()
    assert "going on with the session that was broken off, one weigh-in so far" in " ".join(
        opening.split()
    )
    assert again.child.exitstatus == 0
    assert all(len(line) <= 80 for line in again.seen.getvalue().splitlines())
