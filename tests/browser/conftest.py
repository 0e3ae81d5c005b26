"""One browser for all tests here, and the sheets that they look at."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from tests.browser.browser import browser_path, launched
from tests.browser.pages import SHEETS

REQUIRED = os.environ.get("BROWSER_TESTS") == "required"
"""Whether a browser that is missing is a failure, as in CI, and not a reason to skip."""


def missing(what: str, way_out: str) -> None:
    """Skip for want of a program, or fail where it was to be there."""
    text = f"{what}: {way_out}"
    if REQUIRED:
        pytest.fail(text, pytrace=False)
    pytest.skip(text)


# By module, not by session: while it lasts, an event loop runs in this thread.
@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    path = browser_path()
    if path is None:
        missing("no Chromium", "apt-get install chromium fonts-dejavu-core, or set CHROMIUM")
    assert path
    with sync_playwright() as playwright, launched(playwright, path) as started:
        yield started


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    with browser.new_page() as opened:
        yield opened


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
