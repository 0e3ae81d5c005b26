"""What the README shows is what the program prints. `python -m tests.test_readme` rewrites it."""

from __future__ import annotations

import contextlib
import io
import os
import re
import shlex
import shutil
import sys
import tempfile
from datetime import datetime
from pathlib import Path

import pytest

from balancer.cli import main
from balancer.cli.session import PROMPT
from balancer.files.car_reader import read_car
from balancer.files.format.keys import (
    AXLE_FIELDS,
    BODY_FIELDS,
    CAR_FIELDS,
    CLASS_FIELDS,
    ITEM_FIELDS,
    PIECE_FIELDS,
    PLACE_FIELDS,
    RACE_TRIM_FIELDS,
    SCALES_FIELDS,
    TARGET_FIELDS,
)
from balancer.files.format.schema_paths import nested
from balancer.files.format.value_types import Field
from balancer.files.units import METRIC, US
from balancer.jobs.at_the_pads import AtThePads
from balancer.log.reader import log_path
from balancer.log.terms import Terms
from balancer.log.writer import open_log
from tests.conftest import ROOT

README = ROOT / "README.md"
GUIDE = sorted((ROOT / "balancer" / "report" / "guide").glob("*.md"))
SHEETS = [README, ROOT / "examples" / "README.md", *GUIDE]
_CONSOLE = re.compile(r"```console\n\$ (balancer .*)\n((?:.*\n)*?)```")
_SESSION = re.compile(r"```session\n\$ balancer session (\S+)\n((?:.*\n)*?)```")
_KEYS = re.compile(r"(<!-- keys -->).*?(<!-- end of keys -->)", re.DOTALL)
_PYTHON = re.compile(r"```python\n((?:.*\n)*?)```\n\n```\n((?:.*\n)*?)```")


def run(command: str) -> str:
    """Give what a command of the README prints, without its exit status."""
    out = io.StringIO()
    words = command.split()
    before = sys.argv
    sys.argv = words
    try:
        with contextlib.redirect_stdout(out), pytest.raises(SystemExit):
            main()
    finally:
        sys.argv = before
    return out.getvalue()


def run_session(car: str, shown: str) -> str:
    """Give what a session answers to each line that is shown behind a prompt."""
    said = [line[len(PROMPT) :] for line in shown.splitlines() if line.startswith(PROMPT)]
    with tempfile.TemporaryDirectory() as folder:
        file = read_car(shutil.copy(ROOT / car, folder))
        with open_log(log_path(file.path)) as log:
            now = datetime.now().astimezone()
            pads = AtThePads(file, Terms(), log, now)
            heard = [f"{PROMPT}{line}\n{answer(pads, line)}\n" for line in said]
            return "".join([f"{pads.opening()['text']}\n", *heard])


def answer(pads: AtThePads, line: str) -> str:
    told = pads.hear(line)
    assert told is not None
    return str(told["text"])


def run_python(code: str) -> str:
    """Give what a Python example prints."""
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        exec(compile(code, "README.md", "exec"), {})
    return out.getvalue()


TABLES = {
    "At the top": {
        key: field for key, field in CAR_FIELDS.items() if "dict" not in str(field.schema)
    },
    "`[front]` and `[rear]`; `[LF]` `[RF]` `[LR]` `[RR]` take those of one corner": AXLE_FIELDS,
    "`[body]`": BODY_FIELDS,
    "`[scales]`": SCALES_FIELDS,
    "`[[on_board]]`": ITEM_FIELDS,
    "`[target]`": TARGET_FIELDS,
    "`[class]`": CLASS_FIELDS,
    "`[[race_trim]]`": RACE_TRIM_FIELDS,
    "`[[place]]`": PLACE_FIELDS,
    "`[[piece]]`": PIECE_FIELDS,
}


def key_tables() -> str:
    """Set out every key of the car file, from the table that the files are held against."""
    parts = []
    for title, fields in TABLES.items():
        rows = [
            f"| `{key}`{', needed' if field.required else ''} | {_cell(field)} |"
            for key, field in fields.items()
        ]
        parts.append("\n".join([f"### {title}", "", "| key | meaning |", "| --- | --- |", *rows]))
    return "\n\n".join(parts)


def _cell(field: Field) -> str:
    """Give the meaning of a key, and its units where it has some."""
    kinds = {one.get("metadata", {}).get("dimension") for one in nested(field.schema)}
    labels = {
        METRIC.labels[kind]: US.labels[kind] for kind in kinds if kind not in (None, "number")
    }
    units = ", ".join(f"{metric} or {us}" for metric, us in sorted(labels.items()))
    meaning = field.meaning[:1].upper() + field.meaning[1:]
    return (meaning + (f" [{units}]" if units else "")).replace("|", "\\|")


def renewed(text: str) -> str:
    """Put what is printed today in the place of what is shown."""
    text = _KEYS.sub(lambda m: f"{m[1]}\n\n{key_tables()}\n\n{m[2]}", text)
    text = _CONSOLE.sub(lambda m: f"```console\n$ {m[1]}\n{run(m[1])}```", text)
    text = _SESSION.sub(
        lambda m: f"```session\n$ balancer session {m[1]}\n{run_session(m[1], m[2])}```", text
    )
    return _PYTHON.sub(lambda m: f"```python\n{m[1]}```\n\n```\n{run_python(m[1])}```", text)


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda path: path.parent.name + "/" + path.name)
def test_shown_output_is_what_is_printed(sheet: Path) -> None:
    shown = sheet.read_text(encoding="utf-8")
    assert _CONSOLE.search(shown) or sheet in GUIDE
    assert renewed(shown) == shown


_INLINE = re.compile(r"`(balancer\s[^`|]+)`")


def typed(sheets: list[Path]) -> list[str]:
    """Give the commands within sentences that name what they are for, not just what they are."""
    found = [
        " ".join(command.split())
        for sheet in sheets
        for command in _INLINE.findall(sheet.read_text(encoding="utf-8"))
    ]
    # CAR, LF and the like stand for something; one word alone is the name of a command.
    named = [line for line in found if not re.search(r"\b[A-Z]{2,}\b|[\[…]", line)]
    return list(dict.fromkeys(line for line in named if len(line.split()) > 2))


def test_every_command_in_a_sentence_runs_as_typed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copytree(ROOT / "examples", tmp_path / "examples")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "stdin", io.StringIO(""))
    lines = typed([README, *GUIDE])
    assert len(lines) >= 6
    for line in lines:
        monkeypatch.setattr(sys, "argv", shlex.split(line))
        with contextlib.redirect_stdout(io.StringIO()), pytest.raises(SystemExit) as ended:
            main()
        assert ended.value.code == 0, line


def test_the_first_page_is_one_page() -> None:
    assert len(README.read_text(encoding="utf-8").split()) <= 1200


def test_shown_output_fits_the_terminal() -> None:
    for sheet in SHEETS:
        for block in _CONSOLE.finditer(sheet.read_text(encoding="utf-8")):
            assert max(map(len, block[2].splitlines())) <= 80, block[1]


def test_ci_runs_the_readme_test_command() -> None:
    commands = re.findall(r"^\$ (python3 -m venv .*)$", README.read_text(encoding="utf-8"), re.M)
    assert len(commands) == 2
    assert commands[1] in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


if __name__ == "__main__":
    os.chdir(ROOT)
    for path in SHEETS:
        path.write_text(renewed(path.read_text(encoding="utf-8")), encoding="utf-8")
