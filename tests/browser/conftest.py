"""One browser for all tests here, and the sheets that they look at."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.browser.chrome import Chrome, browser_path
from tests.browser.pages import SHEETS

REQUIRED = os.environ.get("BROWSER_TESTS") == "required"
"""Whether a browser that is missing is a failure, as in CI, and not a reason to skip."""


def missing(what: str, way_out: str) -> None:
    """Skip for want of a program, or fail where it was to be there."""
    text = f"{what}: {way_out}"
    if REQUIRED:
        pytest.fail(text, pytrace=False)
    pytest.skip(text)


@pytest.fixture(scope="session")
def chrome(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Chrome]:
    path = browser_path()
    if path is None:
        missing("no Chromium", "apt-get install chromium fonts-dejavu-core, or set CHROMIUM")
    assert path
    browser = Chrome(path, tmp_path_factory.mktemp("profile"))
    yield browser
    browser.close()


@pytest.fixture(scope="session")
def axe() -> str:
    path = os.environ.get("AXE_CORE", "")
    if not os.path.isfile(path):
        missing(
            "no axe-core", "npm install axe-core, then AXE_CORE=node_modules/axe-core/axe.min.js"
        )
    return Path(path).read_text(encoding="utf-8")


@pytest.fixture(scope="session")
def sheets(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Write every sheet once."""
    folder = tmp_path_factory.mktemp("sheets")
    written = {}
    for name, sheet in SHEETS.items():
        inside = folder / name
        inside.mkdir()
        written[name] = inside / "sheet.html"
        written[name].write_text(sheet(inside), encoding="utf-8")
    return written
