"""Files are written whole or not at all, over nothing else; and any terminal gets its numbers."""

from __future__ import annotations

import csv
import io
import os
import re
import resource
import signal
import stat
import subprocess
import sys
from itertools import pairwise
from pathlib import Path
from typing import TextIO

import pytest

from balancer.car.errors import InputError
from balancer.cli import main
from balancer.cli.options.results import write_svg
from balancer.files.writing import cell, create_file
from balancer.report.words.tables import showable
from tests.cli.conftest import Run

LOADS = "302 288.5 231 244"
WRITERS = {
    "picture.svg": f"perches coupe.toml {LOADS} --svg picture.svg",
    "page.html": f"sheet coupe.toml {LOADS} --output page.html",
}
LOST = "is there already and is no"


@pytest.mark.parametrize("name", WRITERS)
@pytest.mark.parametrize("content", ["name = 'x'\n", '{"log": 1}\n', "\x00\xff"])
def test_nothing_of_another_kind_is_replaced(
    name: str, content: str, run: Run, garage: Path
) -> None:
    Path(name).write_text(content)
    ran = run(WRITERS[name])
    assert ran.status == 2
    assert f"{name}: {LOST} {name[:-4].rstrip('.')}" in ran.err
    assert Path(name).read_text() == content


@pytest.mark.parametrize("name", WRITERS)
def test_a_link_is_followed_to_its_kind_alone(name: str, run: Run, garage: Path) -> None:
    car = Path("coupe.toml").read_bytes()
    Path(name).symlink_to("coupe.toml")
    ran = run(WRITERS[name])
    assert ran.status == 2
    assert f"{name}: is a link to coupe.toml, no {name.split('.')[0]}: give another name" in ran.err
    assert Path("coupe.toml").read_bytes() == car
    Path(name).unlink()
    Path("notes", name).write_text("")
    Path(name).symlink_to(Path("notes", name))
    assert run(WRITERS[name]).status == 0
    assert Path(name).is_symlink()
    assert Path("notes", name).stat().st_size > 1000


@pytest.mark.parametrize("name", WRITERS)
def test_devices_and_folders_are_no_files(name: str, run: Run, garage: Path) -> None:
    Path(name).symlink_to("/dev/full")
    assert "is a link to full, no" in run(WRITERS[name]).err
    Path(name).unlink()
    for make, remove in ((os.mkdir, os.rmdir), (os.mkfifo, os.unlink)):
        make(name)
        assert (
            f"{name}: is no file that can be replaced: give another name" in run(WRITERS[name]).err
        )
        remove(name)
    assert stat.S_ISCHR(os.stat("/dev/full").st_mode)


@pytest.mark.parametrize("name", WRITERS)
def test_what_is_written_again_keeps_its_mode(name: str, run: Run, garage: Path) -> None:
    assert run(WRITERS[name]).status == 0
    Path(name).chmod(0o640)
    was = Path(name).read_bytes()
    assert run(WRITERS[name]).status == 0
    assert (stat.S_IMODE(Path(name).stat().st_mode), Path(name).read_bytes()) == (0o640, was)


def small() -> None:
    """Let files of a process grow to 4 kB, as on a disk that is nearly full."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))


@pytest.mark.parametrize("name", WRITERS)
def test_a_full_disk_leaves_the_old_file(name: str, run: Run, garage: Path) -> None:
    assert run(WRITERS[name]).status == 0
    old = Path(name).read_bytes() + b"<!-- mine -->"
    Path(name).write_bytes(old)
    listed = sorted(os.listdir())
    ran = subprocess.run(
        [sys.executable, "-m", "balancer", *WRITERS[name].split()],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        preexec_fn=small,
        check=False,
    )
    said = f"{name}: can't be written (File too large): free some space\n"
    # A busy machine takes longer, and says so first.
    told = [line for line in ran.stderr.decode().splitlines(True) if "note: still" not in line]
    assert (ran.returncode, told) == (2, [said])
    assert Path(name).read_bytes() == old
    assert sorted(os.listdir()) == listed


def test_a_folder_that_takes_nothing_is_said() -> None:
    with pytest.raises(InputError, match=r"car\.svg: can't be written \(.*\): check the folder"):
        write_svg("/proc/self/car.svg", "<svg/>", as_json=True)
    with pytest.raises(InputError, match=r"t\.csv: can't be written \(.*\): check the folder"):
        create_file("/proc/self/t.csv", lambda file: file.write("1"))


def test_a_new_file_that_can_not_be_finished_is_none(tmp_path: Path) -> None:
    def write(file: TextIO) -> None:
        file.write("half of it")
        raise OSError(28, "No space left on device")

    path = tmp_path / "car.toml"
    with pytest.raises(InputError, match=r"can't be written .No space left on device.: free some"):
        create_file(str(path), write)
    assert not path.exists()


def test_a_table_without_a_name_is_said(run: Run, garage: Path) -> None:
    assert run("log", "coupe.toml", "--csv", "") == (
        2,
        "",
        "--csv: is blank: name the file: log.csv\n",
    )


def test_no_cell_is_taken_for_a_formula(run: Run, garage: Path) -> None:
    notes = ["=1+1", "+cmd|' /C calc'!A0", "-2+3", "@SUM(A1)", "\t=1", " =1", "＝1", "-2.5", "wet"]
    spelled = ["'=1+1", "'+cmd|' /C calc'!A0", "'-2+3", "'@SUM(A1)", "'\\t=1", "' =1", "'＝1"]
    assert [cell(one) for one in notes] == [*spelled, "-2.5", "wet"]
    car = Path("coupe.toml").read_text().replace('name = "driver"', 'name = "@driver"')
    Path("coupe.toml").write_text(car.replace('"driver"', '"@driver"'))
    session = subprocess.run(
        [sys.executable, "-m", "balancer", "session", "coupe.toml"],
        input=f"{LOADS}\n".encode(),
        capture_output=True,
        check=False,
    )
    assert session.returncode == 0, session.stderr
    assert run("log coupe.toml --csv t.csv").status == 0
    with open("t.csv", encoding="utf-8", newline="") as file:
        (row,) = csv.DictReader(file)
    assert row["on_board"].startswith("'@driver")
    assert float(row["LF"]) == 302


COMMANDS = (
    "check coupe.toml",
    f"weigh coupe.toml {LOADS}",
    f"perches coupe.toml {LOADS}",
    f"perches real.toml {LOADS}",
    f"perches roadster.toml {LOADS} --raise front=0.1",
    f"ballast coupe.toml {LOADS} --weighed-with none",
    f"trim coupe.toml {LOADS} --to none",
    f"prep coupe.toml {LOADS} --weighed-with none",
    "weigh coupe.toml 1½x 1 2 3",
    "--help",
    "trim --help",
)


def told(line: str, encoding: str, monkeypatch: pytest.MonkeyPatch) -> tuple[int, list[str]]:
    """Run a command whose output and errors go to a terminal of this encoding."""
    raw = {"stdout": io.BytesIO(), "stderr": io.BytesIO()}
    with monkeypatch.context() as patched:
        patched.setattr(sys, "argv", ["balancer", *line.split()])
        for name in raw:
            patched.setattr(sys, name, io.TextIOWrapper(raw[name], encoding=encoding))
        with pytest.raises(SystemExit) as ended:
            main()
        texts = [one.getvalue().decode(encoding) for one in raw.values()]
    assert isinstance(ended.value.code, int)
    return ended.value.code, texts


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp437"])
@pytest.mark.parametrize("command", COMMANDS)
def test_any_terminal_gets_every_number_right(
    command: str, encoding: str, garage: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    status, plain = told(command, encoding, monkeypatch)
    same, whole = told(command, "utf-8", monkeypatch)
    assert status == same
    for one, other in zip(plain, whole, strict=True):
        assert one.split() == showable(other, encoding).split()
    assert "?" not in plain[0]
    assert max(map(len, plain[0].splitlines()), default=0) <= 80
    assert columns(plain[0]) == columns(whole[0])


def columns(text: str) -> int:
    """Count lines of the four corners whose numbers end where the names above them end."""
    lines, count = text.splitlines(), 0
    for head, row in pairwise(lines):
        ends = [found.end() for found in re.finditer(r"(?<!\S)(LF|RF|LR|RR)(?!\S)", head)]
        if len(ends) == 4:
            count += all(len(row) >= end and row[end - 1] != " " for end in ends)
    return count


@pytest.mark.parametrize("name", WRITERS)
def test_files_are_the_same_whatever_the_terminal(
    name: str, garage: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = set()
    for encoding in ("ascii", "utf-8"):
        assert told(WRITERS[name], encoding, monkeypatch)[0] == 0
        found.add(Path(name).read_bytes())
    assert len(found) == 1
