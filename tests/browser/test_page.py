"""The page beside the car in a browser: a whole session, whatever happens to phone and server."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from tests.conftest import ROOT
from tests.page.server import Server, serving

ALL = bool(os.environ.get("ALL_SEEDS"))
WIDTHS = (390, 768, 1280)
WAYS = pytest.mark.parametrize(
    ("width", "scripts"),
    [(width, scripts) for width in WIDTHS for scripts in (True, False)] if ALL
    else [(390, True), (1280, False)],
)  # fmt: skip
FIRST, SECOND = ("302", "288,5", "231", "244"), ("295.5", "295", "237.5", "237.5")
CORNERS = ("LF", "RF", "LR", "RR")
SMALL = """() => [...document.querySelectorAll(
  "button, a, summary, select, textarea, input:not([type=hidden])")]
  .filter((one) => one.checkVisibility() && !one.classList.contains("skip"))
  .map((one) => [one, (one.closest("label") ?? one).getBoundingClientRect()])
  .filter(([one, box]) => box.width < 44 || box.height < 44)
  .map(([one, box]) => `${one.outerHTML.slice(0, 80)} ${box.width} x ${box.height}`)"""
"""What is pressed and smaller than a thumb; of a box its label is pressed too."""

KILLED = "net::ERR_"
"""What a browser says of a line to a server that was killed."""

WIDE = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name in ("coupe.toml", "parts.toml", "roadster_us.toml", "roadster_us.log.jsonl"):
        shutil.copy(ROOT / "examples" / name, tmp_path / name)
    return tmp_path


@contextmanager
def phone(
    browser: Browser, width: int = 390, scripts: bool = True, known: str = "status of 4(09|22)"
) -> Iterator[Page]:
    """A page of a browser of its own; what it complains about fails, unless it is known."""
    context = browser.new_context(
        viewport={"width": width, "height": 844}, java_script_enabled=scripts
    )
    context.set_default_timeout(15_000)
    complaints: list[str] = []
    page = context.new_page()
    page.on("console", lambda message: complaints.append(message.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    yield page
    assert [text for text in complaints if not re.search(known, text)] == []
    context.close()


def lines(folder: Path) -> list[dict[str, Any]]:
    log = folder / "coupe.log.jsonl"
    text = log.read_text(encoding="utf-8") if log.exists() else ""
    return [json.loads(line) for line in text.splitlines()]


def kinds(folder: Path) -> list[str]:
    return [line["kind"] for line in lines(folder)]


def fill(page: Page, readings: tuple[str, ...]) -> None:
    for corner, text in zip(CORNERS, readings, strict=True):
        page.fill(f"#pad-{corner}", text)


def press(page: Page, label: str) -> None:
    page.get_by_role("button", name=label, exact=True).click()


def words(page: Page) -> str:
    return " ".join(page.locator("main").inner_text().split())


def sit_down(page: Page, server: Server) -> None:
    page.goto(f"{server.address}/car/coupe/session")


@WAYS
def test_a_whole_session(browser: Browser, folder: Path, width: int, scripts: bool) -> None:
    with serving(folder) as server, phone(browser, width, scripts, f"{KILLED}|of 422") as page:
        page.goto(server.address)
        page.get_by_role("link", name=re.compile("Heron Lane coupe")).click()
        page.get_by_role("link", name="Session at the pads").click()
        fill(page, ("302", "", "231", "244"))
        press(page, "Weigh in")
        assert "RF: is empty" in words(page)
        page.fill("#pad-RF", FIRST[1])
        press(page, "Weigh in")
        assert "1¼" in words(page)
        assert page.locator(".turns .arrow").count() == 4
        page.reload()
        press(page, "Done: turned as shown")
        press(page, "Take back what was turned")
        press(page, "Done: turned as shown")
        # The reload of a phone that was locked while somebody typed.
        fill(page, ("30", *SECOND[1:]))
        if scripts:
            page.reload()
            assert page.input_value("#pad-LF") == "30"
        server.kill()
        with serving(folder, port=server.port):
            press(page, "Weigh in")
            assert "LF reads 30.0, expected about" in words(page)
            assert page.input_value("#pad-RR") == SECOND[3]
            page.fill("#pad-LF", SECOND[0])
            before = len(lines(folder))
            press(page, "Mended: weigh in")
            assert "Stop here: it is in tolerance" in words(page)
            page.reload()
            assert kinds(folder)[before:] == ["weigh_in", "belief", "plan"]
            press(page, "End the session")
            assert "Read the four pads" in words(page)
    assert [kind for kind in kinds(folder) if kind not in ("belief", "plan")] == [
        "session", "weigh_in", "made", "undo", "made", "weigh_in", "session",
    ]  # fmt: skip


def test_two_phones(browser: Browser, folder: Path) -> None:
    with serving(folder) as server, phone(browser) as one, phone(browser) as other:
        sit_down(one, server)
        sit_down(other, server)
        fill(one, FIRST)
        fill(other, ("302.5", *FIRST[1:]))
        press(one, "Weigh in")
        # It is told before anything is pressed, where scripts run.
        other.get_by_role("link", name="Show it").wait_for()
        press(other, "Weigh in")
        assert "Nothing of yours was entered" in words(other)
        assert "weigh-in, 1065.5 kg" in words(other)
        press(other, "Done: turned as shown")
        assert kinds(folder) == ["session", "weigh_in", "plan", "made"]
        press(one, "Done: turned as shown")
        assert "Nothing of yours was entered" in words(one)
        assert kinds(folder) == ["session", "weigh_in", "plan", "made"]


def test_a_double_press_enters_once(browser: Browser, folder: Path) -> None:
    for scripts in (True, False) if ALL else (False,):
        with serving(folder) as server, phone(browser, scripts=scripts) as page:
            sit_down(page, server)
            fill(page, FIRST)
            page.get_by_role("button", name="Weigh in", exact=True).dblclick()
            page.get_by_role("button", name="Done: turned as shown").wait_for()
            assert kinds(folder) == ["session", "weigh_in", "plan"]
            (folder / "coupe.log.jsonl").unlink()


def test_a_terminal_goes_on_from_the_page_and_back(browser: Browser, folder: Path) -> None:
    car = str(folder / "coupe.toml")
    with serving(folder) as server, phone(browser) as page:
        sit_down(page, server)
        fill(page, FIRST)
        press(page, "Weigh in")
        terminal = subprocess.Popen(
            [sys.executable, "-m", "balancer", "session", car, "--json"],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT,
        )  # fmt: skip
        assert terminal.stdin
        assert terminal.stdout
        assert json.loads(terminal.stdout.readline())["resumed"]
        press(page, "Done: turned as shown")
        assert "another session or note has it open" in words(page)
        terminal.stdin.write("made LF=-1 RF=1 LR=1.25 RR=-1.25\n")
        terminal.stdin.flush()
        assert "made" in json.loads(terminal.stdout.readline())
        terminal.send_signal(signal.SIGKILL)
        terminal.communicate()
        sit_down(page, server)
        assert "Turned: LF −1, RF +1, LR +1¼, RR −1¼." in words(page)
        fill(page, SECOND)
        press(page, "Weigh in")
        assert "Stop here" in words(page)
    ran = subprocess.run(
        [sys.executable, "-m", "balancer", "session", car, "--json"],
        input="", capture_output=True, text=True, cwd=ROOT, check=True,
    )  # fmt: skip
    opening = json.loads(ran.stdout.splitlines()[0])
    assert opening["resumed"]
    assert "2 weigh-ins so far" in opening["note"]


def test_only_keys(browser: Browser, folder: Path) -> None:
    def go_to(page: Page, selector: str) -> None:
        for _ in range(60):
            page.keyboard.press("Tab")
            if page.evaluate("(what) => document.activeElement.matches(what)", selector):
                outline = "getComputedStyle(document.activeElement).outlineStyle"
                assert page.evaluate(outline) == "solid"
                return
        raise AssertionError(f"no way to {selector}")

    with serving(folder) as server, phone(browser) as page:
        sit_down(page, server)
        for corner, text in zip(CORNERS, FIRST, strict=True):
            go_to(page, f"#pad-{corner}")
            page.keyboard.type(text)
        page.keyboard.press("Enter")
        page.get_by_text("I turned something else").wait_for()
        go_to(page, "a.button")
        page.keyboard.press("Enter")
        page.get_by_text("That is what was turned").wait_for()
        go_to(page, "#much-LF")
        page.keyboard.type("3/4")
        go_to(page, "[name=way-LF]")
        page.keyboard.press("ArrowDown")
        page.keyboard.press("Enter")
        page.get_by_text("Turned: LF −¾.").wait_for()
    assert lines(folder)[-1]["data"]["turns"] == {"LF": -0.75}


def test_boxes_stay_ticked_and_the_car_file_is_saved_whole(browser: Browser, folder: Path) -> None:
    box = "nothing binds or touches at full droop and full bump"
    with serving(folder) as server, phone(browser, 390, False, f"{KILLED}|status of 422") as page:
        sit_down(page, server)
        fill(page, FIRST)
        press(page, "Weigh in")
        page.goto(f"{server.address}/car/coupe/prep")
        press(page, box)
        server.kill()
        with serving(folder, port=server.port):
            page.reload()
            pressed = page.get_by_role("button", name=box, exact=True)
            assert pressed.get_attribute("aria-pressed") == "true"
            pressed.click()
            assert pressed.get_attribute("aria-pressed") == "false"
            page.goto(f"{server.address}/car/coupe/file")
            before = page.input_value("#text")
            page.fill("#text", before.replace("track = 1450", "trak = 1450"))
            press(page, "Save it if it is whole")
            assert "Line 8 trak = 1450" in words(page)
            assert "did you mean track?" in words(page)
            assert (folder / "coupe.toml").read_text(encoding="utf-8") == before
            page.fill("#text", before.replace("track = 1450", "track = 1452"))
            press(page, "Save it if it is whole")
            assert "Saved." in words(page)
    assert "track = 1452" in (folder / "coupe.toml").read_text(encoding="utf-8")
    assert (folder / "coupe.toml.bak").read_text(encoding="utf-8") == before


def test_one_phone_comes_in_by_the_address_of_the_terminal(browser: Browser, folder: Path) -> None:
    with serving(folder, "--lan", "--address", "127.0.0.1") as server:
        address = re.search(r"http://\S+/enter/\S+", server.told)
        assert address
        assert server.told.count("█") > 100
        # A browser asks for an icon before it is known.
        with phone(browser, scripts=False, known="status of 403") as page:
            page.goto(address[0])
            press(page, "Come in")
            assert "Heron Lane coupe" in words(page)
        stranger = browser.new_page()
        answer = stranger.goto(server.address)
        assert answer
        assert (answer.status, answer.text()) == (403, "403")
        answer = stranger.goto(address[0])
        assert answer
        assert answer.status == 403
        stranger.close()


def looked_at(page: Page) -> list[Any]:
    """Find what axe does not let pass, what is too small to press, and what is too wide."""
    ran = Axe().run(page, options={"resultTypes": ["violations", "passes"]}).response
    assert len(ran["passes"]) > 10
    told = [(one["id"], one["nodes"][0]["html"]) for one in ran["violations"]]
    small: list[str] = page.evaluate(SMALL)
    wide: int = page.evaluate(WIDE)
    return [*told, *small, *([f"{wide} px too wide"] if wide > 0 else [])]


@pytest.mark.parametrize("width", WIDTHS if ALL else WIDTHS[:1])
def test_every_page_is_fit_for_all(browser: Browser, folder: Path, width: int) -> None:
    found: dict[str, list[Any]] = {}
    with serving(folder) as server, phone(browser, width) as page:

        def look(name: str) -> None:
            page.eval_on_selector_all("details", "all => all.forEach((one) => (one.open = true))")
            found[name] = looked_at(page)

        page.goto(server.address)
        look("cars")
        sit_down(page, server)
        look("weigh")
        press(page, "Weigh in")
        look("faults")
        fill(page, FIRST)
        press(page, "Weigh in")
        look("turn")
        page.goto(f"{server.address}/car/coupe/turned")
        look("turned")
        sit_down(page, server)
        press(page, "Done: turned as shown")
        look("made")
        fill(page, ("30", *SECOND[1:]))
        press(page, "Weigh in")
        look("asked")
        page.fill("#pad-LF", SECOND[0])
        press(page, "Mended: weigh in")
        look("stop")
        for name in ("", "/prep", "/trim", "/ballast", "/parts?variant=aft", "/log", "/log/5",
                     "/file", "/log/99"):  # fmt: skip
            page.goto(f"{server.address}/car/coupe{name}")
            look(name)
        page.goto(f"{server.address}/car/coupe/file")
        page.fill("#text", "wheelbase = 1")
        press(page, "Save it if it is whole")
        look("slips")
    assert {name: told for name, told in found.items() if told} == {}
