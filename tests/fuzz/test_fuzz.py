"""The command line against thousands of damaged inputs, and the judge against what it must see."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

import click
import pytest

from balancer.cli.commands import COMMANDS
from tests.conftest import ROOT
from tests.fuzz.inputs import COUPE, KINDS, Edit, Plan, made, planned, sound_files
from tests.fuzz.judging import judge
from tests.fuzz.running import Ran
from tests.fuzz.toml_text import toml_text
from tests.fuzz.words import SERVES, command_named

COUNT = os.environ.get("FUZZ_COUNT", "300")
SEED = os.environ.get("FUZZ_SEED", "1")
"""The same in every run, so that a change is judged by what it changes; others on demand."""


def test_nothing_is_found() -> None:
    words = [sys.executable, "-m", "tests.fuzz", "--count", COUNT, "--seed", SEED]
    # Whether the machine is slow or a command, tests/benchmarks can tell; here hangs count.
    env = {**os.environ, "FUZZ_SLOW": "10"}
    ran = subprocess.run(words, cwd=ROOT, env=env, capture_output=True, text=True, check=False)
    print(ran.stdout)
    assert ran.returncode == 0, ran.stdout[-20_000:] + ran.stderr[-5_000:]
    assert f"{COUNT} inputs" in ran.stdout


def _some() -> str:
    return repr([made(planned(5, number), {})[1:] for number in range(60)])


def test_a_seed_and_a_number_make_the_same_input_in_any_process() -> None:
    line = "from tests.fuzz.test_fuzz import _some; print(_some())"
    env = {**os.environ, "PYTHONHASHSEED": "1234"}
    words = [sys.executable, "-c", line]
    ran = subprocess.run(words, cwd=ROOT, env=env, capture_output=True, text=True, check=True)
    assert ran.stdout == _some() + "\n"
    assert planned(5, 1) != planned(6, 1)


def test_every_option_of_every_command_is_drawn() -> None:
    plans = [planned(1, number) for number in range(12000)]
    drawn = {
        (plan.words[0][0], word.split("=")[0]) for plan in plans for word in sum(plan.words, ())
    }
    options = {
        (name, param.opts[-1])
        for name in COMMANDS
        if name != SERVES
        for param in command_named(name).params
        if isinstance(param, click.Option)
    }
    assert options <= drawn
    assert {plan.kind for plan in plans} == set(KINDS)


def test_sound_files_are_written_back_as_they_are() -> None:
    for name, content in sound_files().items():
        tree = tomllib.loads(content.decode())
        assert tomllib.loads(toml_text(tree)) == tree, name


SOUND = Ran(
    made(Plan("options", COUPE, (("perches", "coupe.toml", "302", "288.5", "231", "244"),)), {}),
    0, b"reached\n", b"note: all is well\n", "", 0.1, 20.0, {}, (),
)  # fmt: skip
AS_JSON = SOUND._replace(case=SOUND.case._replace(words=("perches", "coupe.toml", "--json")))
SESSION = SOUND._replace(case=SOUND.case._replace(words=("session", "coupe.toml")))
PLACELESS = b"coupe.toml: front.track: 3 is wrong: write it\n"


def test_what_is_sound_is_passed() -> None:
    assert judge(SOUND) == []
    told = b"coupe.toml:7: front.track: 3 mm is out of reason: expected 500 to 2600 mm\n"
    assert judge(SOUND._replace(status=2, out=b"", err=told)) == []
    assert judge(AS_JSON._replace(status=1, out=b'{"status": "closest"}\n')) == []
    told = b"note: still working out the turns, Ctrl-C stops\n"
    assert judge(SOUND._replace(megabytes=600.0, err=told)) == []
    wrapped = (
        b"note: going on with the session that was broken off, 3 weigh-ins so far; the\n"
        b"target is another one now\n"
    )
    full = b"output: can't be written (No space left on device): make room\n"
    assert judge(SESSION._replace(status=2, out=b"", err=wrapped + full)) == []
    at_ascii = SOUND.case._replace(
        words=("ballast", "coupe.toml", "--book", "1½"),
        plan=SOUND.case.plan._replace(encoding="ascii"),
    )
    told = b"1 1/2: no such file: check the name and the folder\n"
    assert judge(SOUND._replace(case=at_ascii, status=2, out=b"", err=told)) == []


@pytest.mark.parametrize(
    ("sort", "ran"),
    [
        ("traceback", SOUND._replace(status=70, trace="ValueError: no")),
        ("warning", SOUND._replace(status=70, trace="RuntimeWarning: overflow")),
        ("memory", SOUND._replace(status=70, trace="MemoryError")),
        ("memory", SOUND._replace(megabytes=600.0)),
        ("hang", SOUND._replace(status=-24)),
        ("hang", SOUND._replace(status=-14)),
        ("slow", SESSION._replace(seconds=12.0)),
        ("status", SOUND._replace(status=3)),
        ("status", SOUND._replace(status=-11)),
        ("status", SOUND._replace(status=1, out=b"")),
        ("status", AS_JSON._replace(status=0, out=b'{"status": "closest"}\n')),
        ("status", AS_JSON._replace(status=1, out=b'{"status": "reached"}\n')),
        ("status", SESSION._replace(status=1)),
        ("silence", SOUND._replace(out=b"")),
        ("silence", SOUND._replace(status=2, err=b"")),
        ("nan", SOUND._replace(out=b"total nan kg")),
        ("nan", SOUND._replace(err="note: ±inf".encode())),
        ("json", AS_JSON._replace(out=b'{"status": "reached", "total": NaN}\n')),
        ("json", AS_JSON._replace(out=b"reached\n")),
        ("control", SOUND._replace(out=b"\x1b[31mred\n")),
        ("control", SOUND._replace(err="note: \u202e\n".encode())),
        ("flood", SOUND._replace(err=b"note: x\n" * 500)),
        ("no place", SOUND._replace(status=2, err=b"the car would tip over\n")),
        ("no place", SOUND._replace(status=2, err=b"somewhere: is wrong: mend it\n")),
        ("no place", SOUND._replace(status=2, err=PLACELESS)),
        ("no place", SOUND._replace(status=2, err=b"note: x\nthe car would tip over\n")),
        ("lost", SOUND._replace(files={"coupe.toml": None})),
        ("lost", SOUND._replace(files={"coupe.toml": b"<svg>"})),
        ("left behind", SOUND._replace(new=("x.svg.12.part",))),
    ],
)
def test_the_judge_sees(sort: str, ran: Ran) -> None:
    assert sort in {finding.sort for finding in judge(ran)}


def _planted(sort: str) -> None:
    """Run a command that does something wrong, and print what the judge says of it."""
    from balancer.cli import check
    from tests.fuzz import running

    def wrong(*_: object, **__: object) -> object:
        if sort == "hang":
            while True:
                pass
        if sort == "memory":
            return bytearray(2 * 10**9)
        if sort == "status":
            os._exit(3)
        raise KeyError(sort)

    vars(check)["read_car"] = wrong
    running.SECONDS = 1
    with tempfile.TemporaryDirectory() as folder:
        case = made(Plan("options", COUPE, (("check", "coupe.toml"),)), {})
        print(*sorted({one.sort for one in judge(running.run(case, Path(folder) / "shop"))}))


@pytest.mark.parametrize("sort", ["traceback", "hang", "memory", "status"])
def test_what_a_process_does_wrong_is_seen(sort: str) -> None:
    line = f"from tests.fuzz.test_fuzz import _planted; _planted({sort!r})"
    words = [sys.executable, "-c", line]
    ran = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=True)
    assert sort in ran.stdout.split()


def test_a_parts_book_may_have_one_part_more() -> None:
    book = b"[[part]]\nname = 'one'\n"
    case = made(Plan("parts", COUPE, (("part", "parts.toml", "two", "5"),)), {})
    case = case._replace(files={"parts.toml": book})
    for more, sound in ((b"\n[[part]]\nname = 'two'\n", True), (b"note = ''\n", False)):
        ran = SOUND._replace(case=case, files={"parts.toml": book + more})
        assert (judge(ran) == []) == sound


def test_a_log_may_grow_but_not_lose() -> None:
    edit = Edit("coupe.log.jsonl", "log", "1")
    plan = Plan("log", COUPE, (("log", "coupe.toml"),), (edit,))
    case = made(plan, {})._replace(files={"coupe.log.jsonl": b"one\ntwo\n"})
    grown = SOUND._replace(case=case, files={"coupe.log.jsonl": b"one\ntwo\nthree\n"})
    lost = SOUND._replace(case=case, files={"coupe.log.jsonl": b"one\nthree\n"})
    assert [judge(ran) == [] for ran in (grown, lost)] == [True, False]
