"""Pictures of a sheet for one's own eyes: python -m tests.browser.look SHEET.html FOLDER."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from tests.browser.browser import PAPERS, browser_path, launched, printed, show


def look(page: Page, sheet: Path, folder: Path) -> None:
    """Write screenshots at three widths, light and dark, and the printed pages as PNG."""
    for width in (390, 768, 1280):
        for dark in (False, True):
            show(page, sheet, width, dark)
            name = f"{width}{'-dark' if dark else ''}.png"
            page.screenshot(path=folder / name, full_page=True)
    for name in PAPERS:
        show(page, sheet, 768)
        (folder / f"{name}.pdf").write_bytes(printed(page, name))
        subprocess.run(
            ["pdftoppm", "-r", "80", "-png", f"{name}.pdf", name], cwd=folder, check=True
        )


if __name__ == "__main__":
    found = browser_path()
    assert found, "install chromium"
    into = Path(sys.argv[2])
    into.mkdir(parents=True, exist_ok=True)
    with sync_playwright() as playwright, launched(playwright, found) as browser:
        look(browser.new_page(), Path(sys.argv[1]), into)
