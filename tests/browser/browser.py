"""Chromium as Debian or the user installed it, driven by Playwright."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

from playwright.sync_api import Browser, Page, PdfMargins, Playwright

FLAGS = (
    "--no-sandbox",  # Chromium has none for root, as which CI runs
    "--disable-gpu",
    "--disable-quic",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
)
PAPERS = {"A4": ("210mm", "297mm"), "Letter": ("8.5in", "11in")}


def browser_path() -> str | None:
    """Find Chromium; CHROMIUM names another one."""
    names = (os.environ.get("CHROMIUM", ""), "chromium", "chromium-browser", "google-chrome")
    return next((path for name in names if name and (path := shutil.which(name))), None)


def launched(playwright: Playwright, path: str) -> Browser:
    """Start that Chromium, without a window."""
    return playwright.chromium.launch(executable_path=path, args=FLAGS)


def show(page: Page, sheet: Path, width: int, dark: bool = False) -> None:
    """Show a file at a width, light or dark."""
    page.set_viewport_size({"width": width, "height": 900})
    page.emulate_media(color_scheme="dark" if dark else "light")
    page.goto(sheet.resolve().as_uri())


def printed(page: Page, paper: str) -> bytes:
    """Print the page as the browser's own dialog does: the style sheet has the last word."""
    width, height = PAPERS[paper]
    margin = PdfMargins(top="1cm", right="1cm", bottom="1cm", left="1cm")
    return page.pdf(width=width, height=height, margin=margin, prefer_css_page_size=True)
