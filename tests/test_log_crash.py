"""The log against what happens in a garage: power cut, program killed, disk full, two at once.

An entry counts as said when `append` has returned. None of those may ever be lost, whatever
happens afterward, and the log must always read.
"""

from __future__ import annotations

import errno
import os
import random
import subprocess
import sys
import textwrap
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from balancer.car.errors import InputError
from balancer.log.entry import Entry, entry_in, json_object, line_of
from balancer.log.reader import LogError, LogRead, read_log
from balancer.log.writer import open_log
from tests.conftest import ROOT

AT = "2026-06-13T14:30:00+02:00"
BUSY = "coupe.log.jsonl: another session or note has it open: close that one first"

folder_may_stay = settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=100
)


@pytest.fixture
def path(tmp_path: Path) -> str:
    return str(tmp_path / "coupe.log.jsonl")


def good_log() -> tuple[bytes, ...]:
    """Seven lines of all sorts, with letters of two to four bytes in them."""
    entries = [
        Entry(1, AT, "session", {"cross": 50.0}),
        Entry(2, AT, "weigh_in", {"readings": [[302, 288.5, 231, 244]], "on_board": ["driver"]}),
        Entry(3, AT, "plan", {"turns": {"LF": -0.75}}),
        Entry(4, AT, "made", {"turns": {"LF": -0.75, "RR": 0.5}}),
        Entry(5, AT, "note", {"text": 'naß, 湿った, 🌧 \\ " {}', "about": 2}),
        Entry(6, AT, "undo", {"undoes": 4}),
        Entry(7, AT, "belief", {"mean": [0.1, -0.2, 0.0]}),
    ]
    return tuple(line_of(entry, entry.number) for entry in entries)


def test_cut_at_every_byte_nothing_whole_is_lost(path: str) -> None:
    lines, numbers = good_log()[3:6], [4, 5, 6]
    content = b"".join(lines)
    ends = [sum(map(len, lines[:count])) for count in range(len(lines) + 1)]
    for cut in range(len(content) + 1):
        Path(path).write_bytes(content[:cut])
        aside = Path(f"{path}.torn")
        aside.unlink(missing_ok=True)
        # A line that lacks nothing but its line break is whole.
        whole = sum(cut >= end - 1 for end in ends[1:])
        torn = content[ends[whole] : cut]
        read = read_log(path)
        assert [entry.number for entry in read.entries] == numbers[:whole], cut
        assert len(read.damaged) == bool(torn), cut
        with open_log(path) as log:
            assert log.entries == read.entries
            assert bool(log.set_aside) == bool(torn)
            assert (
                log.append("note", {"text": "next"}).number
                == (numbers[whole - 1] if whole else 0) + 1
            )
        assert aside.exists() == bool(torn)
        if torn:
            assert aside.read_bytes() == torn + b"\n"
        after = read_log(path)
        assert not after.damaged
        assert after.entries[:-1] == read.entries
        assert Path(path).read_bytes().startswith(content[: ends[whole]])


def test_what_is_torn_off_twice_is_kept_twice(path: str) -> None:
    for torn in (b'{"v": 1, "n"', b"\0\0\0\0"):
        with open(path, "ab") as file:
            file.write(torn)
        with open_log(path) as log:
            assert log.set_aside == (
                f"coupe.log.jsonl: its last line had broken off: {len(torn)} bytes of it are set"
                " aside in coupe.log.jsonl.torn"
            )
            log.append("note", {"text": "next"})
    assert Path(f"{path}.torn").read_bytes() == b'{"v": 1, "n"\n\0\0\0\0\n'
    assert [entry.number for entry in read_log(path).entries] == [1, 2]


@folder_may_stay
@given(st.data())
def test_a_line_of_anything_costs_itself_alone(path: str, data: st.DataObject) -> None:
    lines = list(good_log())
    junk = data.draw(st.binary(max_size=60).filter(lambda raw: b"\n" not in raw and raw.strip()))
    lines.insert(data.draw(st.integers(0, len(lines))), junk + b"\n")
    Path(path).write_bytes(b"".join(lines))
    read = read_log(path)
    assert [entry.number for entry in read.entries] == [1, 2, 3, 4, 5, 6, 7]
    assert [one.line for one in read.damaged] == [lines.index(junk + b"\n") + 1]
    with open_log(path) as log:
        assert log.append("note", {"text": "next"}) in read_log(path).entries


@folder_may_stay
@given(st.binary(max_size=400))
@example(b"\xff\xfe\n")
@example(b"[" * 100_000)
@example(b'{"v":1,"n":' + b"9" * 5000 + b"}\n")
@example(b'{"a":' * 5000 + b"1" + b"}" * 5000)
def test_any_bytes_can_be_read_and_written_after(path: str, content: bytes) -> None:
    Path(path).write_bytes(content)
    assert read_log(path).entries == ()
    with open_log(path) as log:
        entry = log.append("note", {"text": "next"})
    assert read_log(path).entries == (entry,)


@folder_may_stay
@given(st.lists(st.integers(1, 12), max_size=12), st.integers(1, 3))
def test_numbers_out_of_order_never_cost_what_comes_after(
    path: str, numbers: list[int], more: int
) -> None:
    Path(path).write_bytes(
        b"".join(line_of(Entry(n, AT, "note", {"text": "x"}), 1) for n in numbers)
    )
    read = read_log(path)
    kept = [entry.number for entry in read.entries]
    assert kept == sorted(set(kept))
    assert len(kept) + len(read.damaged) == len(numbers)
    with open_log(path) as log:
        new = [log.append("note", {"text": "y"}) for _ in range(more)]
    assert read_log(path).entries == (*read.entries, *new)


def test_one_wrong_number_costs_one_line(path: str) -> None:
    numbers = [1, 2, 90, 4, 5, 5, 6]
    Path(path).write_bytes(
        b"".join(line_of(Entry(n, AT, "note", {"text": "x"}), 1) for n in numbers)
    )
    read = read_log(path)
    assert [entry.number for entry in read.entries] == [1, 2, 4, 5, 6]
    assert {(one.line, one.text) for one in read.damaged} >= {
        (3, "its number, 90, is out of order")
    }


def test_the_number_of_a_line_that_can_not_be_read_is_not_given_again(path: str) -> None:
    first, second, *_ = good_log()
    Path(path).write_bytes(first + second + b"coffee\n")
    with open_log(path) as log:
        assert log.append("note", {"text": "next"}).number == 4


def test_a_huge_line_is_skipped(path: str) -> None:
    first, second, *_ = good_log()
    Path(path).write_bytes(first + b'{"text": "' + b"x" * 3_000_000 + b'"}\n' + second)
    read = read_log(path)
    assert [entry.number for entry in read.entries] == [1, 2]
    assert [(one.line, one.text) for one in read.damaged] == [(2, "is longer than 1 MB")]


def test_a_huge_torn_line_is_set_aside_whole(path: str) -> None:
    first, torn = good_log()[0], b"x" * 3_000_000
    Path(path).write_bytes(first + torn)
    with open_log(path) as log:
        assert log.append("note", {"text": "next"}).number == 2
    assert Path(f"{path}.torn").read_bytes() == torn + b"\n"
    assert read_log(path).damaged == ()


values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters()),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=10,
)  # fmt: skip


@folder_may_stay
@given(st.dictionaries(st.text(), values, max_size=4))
def test_what_is_said_is_read_back(path: str, data: dict[str, Any]) -> None:
    with open_log(path) as log:
        said = log.append("belief", data)
    assert said.data == data
    assert read_log(path).entries[-1] == said


@pytest.mark.parametrize("text", ["\udcff", "\u2028", "\x00", "\r\n", "é", "\\udcff"])
def test_strange_letters_come_back(path: str, text: str) -> None:
    with open_log(path) as log:
        log.append("note", {"text": text})
    (entry,) = read_log(path).entries
    assert entry.data["text"] == text
    assert Path(path).read_bytes().count(b"\n") == 1


@pytest.mark.parametrize(
    ("kind", "data"),
    [
        ("made", {}),
        ("made", {"turns": {"FL": 1}}),
        ("made", {"turns": {"LF": "1"}}),
        ("made", {"turns": {"LF": float("nan")}}),
        ("note", {}),
        ("note", {"text": "x" * 1_000_000}),
        ("undo", {"undoes": 0}),
        ("undo", {"undoes": True}),
        ("weight", {}),
    ],
)
def test_what_could_not_be_read_back_is_not_written(path: str, kind: Any, data: Any) -> None:
    with open_log(path) as log:
        with pytest.raises(ValueError, match=r"."):
            log.append(kind, data)
        assert log.append("note", {"text": "next"}).number == 1
    assert read_log(path).damaged == ()


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"v": 2}, "is of version 2, which a newer balancer wrote: install that"),
        ({"v": "1"}, "its version is not known"),
        ({"v": True}, "its version is not known"),
        ({"n": 0}, "its number is not one"),
        ({"n": 1.0}, "its number is not one"),
        ({"n": 10**9}, "its number is not one"),
        ({"at": "2026-06-13T14:30:00"}, "its time is not ISO 8601 with an offset"),
        ({"at": 20260613}, "its time is not ISO 8601 with an offset"),
        ({"kind": []}, "its kind is not known"),
        ({"data": []}, "its data is not an object of ours"),
        ({"kind": "made", "data": {"turns": {"LF": 1e9}}}, "made: turns are not CORNER: number"),
        ({"kind": "plan", "data": {"turns": [1]}}, "plan: turns are not CORNER: number"),
        ({"data": {"text": "x", "about": "2"}}, "note: is about no number"),
    ],
)
def test_damage_is_said(changes: dict[str, Any], said: str) -> None:
    whole = {"v": 1, "n": 1, "at": AT, "kind": "note", "data": {"text": "wet"}}
    assert entry_in(whole, 1) == Entry(1, AT, "note", {"text": "wet"})
    assert entry_in({**whole, **changes}, 1) == said


@pytest.mark.parametrize("key", ["v", "n", "at", "kind", "data"])
def test_a_missing_key_is_said(key: str) -> None:
    whole = {"v": 1, "n": 1, "at": AT, "kind": "note", "data": {"text": "wet"}}
    del whole[key]
    assert entry_in(whole, 1) == f"lacks {key}"


def test_json_that_is_none_is_said() -> None:
    assert json_object(b'{"x": NaN}') == json_object(b'{"x": 1e999}') == "is not JSON"
    assert json_object(b"[1]") == "is not a JSON object"
    assert json_object(b'"\xff"') == "is not UTF-8 text"
    assert json_object("\ufeff{}\r\n".encode()) == {}


def test_on_the_disk_before_it_is_said(path: str, monkeypatch: pytest.MonkeyPatch) -> None:
    synced: list[tuple[str, bytes]] = []
    real, folder = os.fsync, os.path.dirname(path)

    def watch(descriptor: int) -> None:
        real(descriptor)
        here = os.fstat(descriptor)
        candidates = [name for name in (folder, path, f"{path}.torn") if os.path.exists(name)]
        (name,) = [name for name in candidates if os.path.samestat(here, os.stat(name))]
        synced.append((name, Path(path).read_bytes()))

    monkeypatch.setattr(os, "fsync", watch)
    with open_log(path) as log:
        assert synced == [(folder, b"")]
        log.append("note", {"text": "first"})
        assert synced[1:] == [(path, Path(path).read_bytes())]
    with open(path, "ab") as file:
        file.write(b"torn")
    synced.clear()
    with open_log(path):
        # The folder; the copy while the log still has it; the folder for the copy; the log cut.
        assert [name for name, _ in synced] == [folder, f"{path}.torn", folder, path]
        assert [content.endswith(b"torn") for _, content in synced] == [True, True, True, False]


# What the system refuses


def refusing(
    monkeypatch: pytest.MonkeyPatch, name: str, number: int, after: int = 0
) -> Callable[[], None]:
    """Make a function of os fail; writes get some bytes through first. Gives what ends it."""
    real = getattr(os, name)

    def refuse(descriptor: int, *rest: Any) -> Any:
        if after and name == "write":
            real(descriptor, bytes(rest[0])[:after])
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, name, refuse)
    return lambda: monkeypatch.setattr(os, name, real)


@pytest.mark.parametrize(
    ("name", "number", "said"),
    [
        ("write", errno.ENOSPC, "No space left on device): nothing was lost, free some space"),
        ("write", errno.EIO, "Input/output error): nothing was lost, check the disk"),
        ("fsync", errno.EIO, "Input/output error): nothing was lost"),
    ],
)
def test_a_refused_write_leaves_the_log_as_it_was(
    path: str, monkeypatch: pytest.MonkeyPatch, name: str, number: int, said: str
) -> None:
    with open_log(path) as log:
        first = log.append("note", {"text": "first"})
        before = Path(path).read_bytes()
        allow = refusing(monkeypatch, name, number, after=20)
        if name == "fsync":
            # The cut is synced too, and may be refused as well: what counts is what is there.
            with pytest.raises(LogError, match=r"can't be written \(Input/output error\)"):
                log.append("note", {"text": "second"})
        else:
            with pytest.raises(LogError) as caught:
                log.append("note", {"text": "second"})
            assert str(caught.value) == (
                f"coupe.log.jsonl: can't be written ({said} and say it again"
            )
            assert caught.value.exit_status == 2
        assert Path(path).read_bytes() == before
        assert log.entries == (first,)
        allow()
        second = log.append("note", {"text": "second"})
    assert read_log(path) == LogRead((first, second), ())


def test_a_half_line_that_can_not_be_cut_is_said_and_cut_later(
    path: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    with open_log(path) as log:
        first = log.append("note", {"text": "first"})
        allow_write = refusing(monkeypatch, "write", errno.ENOSPC, after=20)
        allow_cut = refusing(monkeypatch, "ftruncate", errno.EIO)
        with pytest.raises(LogError) as caught:
            log.append("note", {"text": "second"})
        assert str(caught.value) == (
            "coupe.log.jsonl: can't be written (No space left on device), nor the half line taken"
            " out (Input/output error): what was saved before is not lost, free some space and"
            " begin the session again"
        )
        assert read_log(path).entries == (first,)
        allow_write()
        with pytest.raises(LogError, match="Input/output error"):
            log.append("note", {"text": "second"})
        allow_cut()
        second = log.append("note", {"text": "second"})
    assert read_log(path) == LogRead((first, second), ())


def test_stopped_while_it_is_saved(path: str, monkeypatch: pytest.MonkeyPatch) -> None:
    real = os.fsync

    def stop(descriptor: int) -> None:
        monkeypatch.setattr(os, "fsync", real)
        raise KeyboardInterrupt

    with open_log(path) as log:
        monkeypatch.setattr(os, "fsync", stop)
        with pytest.raises(KeyboardInterrupt):
            log.append("note", {"text": "first"})
        assert Path(path).read_bytes() == b""
        assert log.append("note", {"text": "again"}).number == 1


@pytest.mark.parametrize("how", ["moved", "replaced", "longer", "shorter"])
def test_a_log_that_others_changed_is_not_written_to(path: str, how: str) -> None:
    with open_log(path) as log:
        log.append("note", {"text": "first"})
        if how in ("moved", "replaced"):
            os.rename(path, f"{path}.old")
        if how == "replaced":
            Path(path).write_bytes(Path(f"{path}.old").read_bytes())
        if how == "longer":
            with open(path, "a") as file:
                file.write("no line break")
        if how == "shorter":
            os.truncate(path, 0)
        with pytest.raises(LogError) as caught:
            log.append("note", {"text": "second"})
        assert str(caught.value) == (
            "coupe.log.jsonl: was changed by another program: nothing was written, end this"
            " session and begin another"
        )


def test_places_where_no_log_can_be(tmp_path: Path) -> None:
    (tmp_path / "coupe.log.jsonl").mkdir()
    for use in (read_log, lambda path: open_log(path).__enter__()):
        with pytest.raises(InputError, match=r"^coupe.log.jsonl: is not a file: move it away"):
            use(str(tmp_path / "coupe.log.jsonl"))
    with (
        pytest.raises(LogError, match="No such file or directory"),
        open_log(str(tmp_path / "no" / "coupe.log.jsonl")),
    ):
        pytest.fail("opened")
    assert not (tmp_path / "no").exists()


# Other processes


def start(script: str, *args: str, before: tuple[str, ...] = ()) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [*before, sys.executable, "-c", textwrap.dedent(script), *args],
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def finish(process: subprocess.Popen[str]) -> str:
    out, err = process.communicate(timeout=80)
    assert (process.returncode, err) == (0, "")
    return out


HOLD = """
    import sys
    from balancer.log.writer import open_log
    with open_log(sys.argv[1]) as log:
        log.append("note", {"text": "mine"})
        print("open", flush=True)
        sys.stdin.read()
        log.append("note", {"text": "mine too"})
"""


def test_a_second_session_is_told(path: str) -> None:
    first = start(HOLD, path)
    assert first.stdout
    assert first.stdout.readline() == "open\n"
    with pytest.raises(InputError) as caught, open_log(path):
        pytest.fail("opened")
    assert str(caught.value) == BUSY
    finish(first)
    with open_log(path) as log:
        assert [entry.data["text"] for entry in log.entries] == ["mine", "mine too"]


def test_also_in_one_process(path: str) -> None:
    with open_log(path), pytest.raises(InputError) as caught, open_log(path):
        pytest.fail("opened")
    assert str(caught.value) == BUSY
    with open_log(path) as log:
        assert log.entries == ()


def test_the_lock_of_a_killed_session_is_gone(path: str) -> None:
    first = start(HOLD, path)
    assert first.stdout
    assert first.stdout.readline() == "open\n"
    first.kill()
    first.communicate()
    with open_log(path) as log:
        assert log.append("note", {"text": "next"}).number == 2


CROWD = """
    import sys, time
    from balancer.car.errors import InputError
    from balancer.log.writer import open_log
    turns = 0
    while turns < 5:
        try:
            with open_log(sys.argv[1]) as log:
                for step in range(4):
                    log.append("note", {"text": f"{sys.argv[2]} {turns} {step} " + "x" * 9000})
            turns += 1
        except InputError as error:
            assert "another session or note has it open" in str(error), error
        time.sleep(0.001)
"""


def test_nothing_interleaves(path: str) -> None:
    for process in [start(CROWD, path, str(who)) for who in range(4)]:
        finish(process)
    read = read_log(path)
    assert read.damaged == ()
    assert [entry.number for entry in read.entries] == list(range(1, 81))
    said = [tuple(entry.data["text"].split()[:3]) for entry in read.entries]
    assert len(set(said)) == 80
    for place in range(0, 80, 4):
        who, turn, _ = said[place]
        assert said[place : place + 4] == [(who, turn, str(step)) for step in range(4)]


KILL = """
    import os, random, signal, sys, time
    import filelock
    from balancer.log.reader import read_log
    from balancer.log.writer import open_log

    folder, seed, moments = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
    chance = random.Random(seed)
    said, torn, idle, total = {}, 0, 0, 0
    for moment in range(moments):
        if moment % 15 == 0:
            path, said = os.path.join(folder, f"car{moment}.log.jsonl"), {}
        sizes = [chance.choice((0, 50, 5_000, 300_000)) for _ in range(400)]
        wait, when = chance.expovariate(1 / 0.02), chance.choice(("anywhere", "while open"))
        reading, writing = os.pipe()
        child = os.fork()
        if not child:
            os.close(reading)
            with open_log(path) as log:
                os.write(writing, b"open\\n")
                for size in sizes:
                    entry = log.append("note", {"text": f"{moment} " + "x" * size})
                    os.write(writing, f"{entry.number} {size}\\n".encode())
            os._exit(0)
        os.close(writing)
        with os.fdopen(reading) as pipe:
            heard = [pipe.readline()] if when == "while open" else []
            time.sleep(wait)
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)
            heard += pipe.readlines()
        idle += heard == []
        for line in heard[1:]:
            number, size = map(int, line.split())
            total += 1
            assert number not in said, (seed, moment, number)
            said[number] = f"{moment} " + "x" * size
        read = read_log(path)
        kept = {entry.number: entry.data["text"] for entry in read.entries}
        lost = [number for number in said if kept.get(number) != said[number]]
        assert not lost, (seed, moment, lost)
        # One entry of each killed writer may be there without having been said.
        assert len(read.damaged) <= 1, (seed, moment, read.damaged)
        if read.damaged:
            torn += 1
            assert read.damaged[0].text == "broke off while it was written", (seed, moment)
    with open_log(path) as log:
        log.append("note", {"text": "alive"})
    assert not read_log(path).damaged
    print(moments, torn, idle, total)
"""


def test_killed_at_300_moments_nothing_said_is_lost(tmp_path: Path) -> None:
    seed = random.SystemRandom().randrange(10**9)
    print(f"seed {seed}")
    counts = finish(start(KILL, str(tmp_path), str(seed), "300")).split()
    moments, torn, idle, said = map(int, counts)
    print(f"{moments} kills, {torn} in the middle of a line, {idle} before the log was open")
    assert moments == 300
    assert idle < 150
    assert said > 300


FULL = """
    import os, resource, sys
    from balancer.log.reader import LogError, read_log
    from balancer.log.writer import open_log

    folder, way = sys.argv[1:]
    path, junk = os.path.join(folder, "coupe.log.jsonl"), os.path.join(folder, "junk")
    if way == "limit":
        resource.setrlimit(resource.RLIMIT_FSIZE, (60_000, resource.RLIM_INFINITY))
    else:
        with open(junk, "wb") as file:
            file.write(b"x" * 100_000)
    with open_log(path) as log:
        said = []
        for number in range(1000):
            before = open(path, "rb").read()
            try:
                said.append(log.append("note", {"text": f"{number} " + "x" * 700}))
            except LogError as error:
                print(error)
                break
        assert open(path, "rb").read() == before
        assert read_log(path) == (tuple(said), ()), "the log has changed"
        try:
            log.append("note", {"text": "x" * 700})
        except LogError as error:
            print(error)
        if way == "limit":
            resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY,) * 2)
        else:
            os.unlink(junk)
        said.append(log.append("note", {"text": "said again"}))
    assert read_log(path) == (tuple(said), ())
    print(len(said))
"""
MOUNT = 'mount -t tmpfs -o size=200k none "$0" && exec "$@"'
"""Run in a mount namespace of its own, so that no other process ever sees the small disk."""


def small_disk(folder: Path) -> tuple[str, ...]:
    """Give what to put before a command so that the folder is a small disk; nothing: can't be."""
    for how in ("-m", "-rm"):
        before = ("unshare", how, "sh", "-c", MOUNT, str(folder))
        try:
            subprocess.run([*before, "true"], check=True, capture_output=True)
        except (OSError, subprocess.CalledProcessError):
            continue
        return before
    return ()


@pytest.mark.parametrize("disk", ["small", "limited"])
def test_disk_full(tmp_path: Path, disk: str) -> None:
    before = small_disk(tmp_path) if disk == "small" else ()
    process = start(FULL, str(tmp_path), "disk" if before else "limit", before=before)
    first, second, count = finish(process).splitlines()
    reason, todo = ("No space left on device", "free some space") if before else (
        "File too large", "check the disk",
    )  # fmt: skip
    end = f"nothing was lost, {todo} and say it again"
    assert first == second == f"coupe.log.jsonl: can't be written ({reason}): {end}"
    assert int(count) > 20
