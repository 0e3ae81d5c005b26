"""Pictures in a browser: all words whole and none over another, in the font that is there."""

from __future__ import annotations

import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from playwright.sync_api import Page

from tests.browser.test_sheet import found, shown
from tests.cli.conftest import GARAGE
from tests.cli.test_pictures import ALL, diary


@pytest.fixture(scope="module")
def pictures(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Draw every picture once, each into a page of its own."""
    folder = tmp_path_factory.mktemp("pictures") / "garage"
    shutil.copytree(GARAGE, folder)
    (folder / "fueled.toml").replace(folder / "coupe.toml")
    (folder / "coupe.log.jsonl").write_text(diary(), encoding="utf-8")
    for name, command in ALL.items():
        words = [sys.executable, "-m", "balancer", *shlex.split(command), "--svg", f"{name}.svg"]
        subprocess.run(words, cwd=folder, capture_output=True)
        svg = (folder / f"{name}.svg").read_text(encoding="utf-8")
        head = '<!doctype html><html lang="en"><meta charset="utf-8"><title>picture</title>'
        page = f'{head}<body style="margin: 0">{svg}</body></html>'
        (folder / f"{name}.html").write_text(page, encoding="utf-8")
    return folder


@pytest.mark.parametrize("name", ALL)
def test_all_words_show(page: Page, pictures: Path, name: str) -> None:
    shown(page, pictures / f"{name}.html", 390, dark=False)
    assert page.evaluate("measured.count") > 15
    assert page.evaluate("measured.wide") <= 390
    assert found(page, "clipped") == []
    assert found(page, "overlapping") == []
