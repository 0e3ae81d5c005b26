"""Pictures of a sheet for one's own eyes: python -m tests.browser.look SHEET.html FOLDER."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

from tests.browser.chrome import Chrome, browser_path

PAPERS = {"A4": (210 / 25.4, 297 / 25.4), "Letter": (8.5, 11.0)}


def look(page: Path, folder: Path) -> None:
    """Write screenshots at three widths, light and dark, and the printed pages as PNG."""
    path = browser_path()
    assert path, "install chromium"
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as profile:
        chrome = Chrome(path, Path(profile))
        for width in (390, 768, 1280):
            for dark in (False, True):
                chrome.open(page, width, dark)
                name = f"{width}{'-dark' if dark else ''}.png"
                (folder / name).write_bytes(chrome.picture())
        for name, paper in PAPERS.items():
            chrome.open(page, 768)
            (folder / f"{name}.pdf").write_bytes(chrome.pdf(*paper))
            subprocess.run(
                ["pdftoppm", "-r", "80", "-png", f"{name}.pdf", name], cwd=folder, check=True
            )
        chrome.close()


if __name__ == "__main__":
    look(Path(sys.argv[1]), Path(sys.argv[2]))
