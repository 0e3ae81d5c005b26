"""A headless Chromium over a pipe: the DevTools protocol needs no port and no driver.

Messages are JSON with a zero byte behind each; Chromium reads them from descriptor 3 and answers on
descriptor 4, and it ends when the pipe is closed.
"""

from __future__ import annotations

import base64
import fcntl
import json
import os
import select
import shutil
import subprocess
import time
from pathlib import Path
from typing import Any

FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
    "--hide-scrollbars",
    "--remote-debugging-pipe",
)
PATIENCE = 30.0
"""Longest wait for an answer [s]."""


def browser_path() -> str | None:
    """Find Chromium; CHROMIUM names another one."""
    names = (os.environ.get("CHROMIUM", ""), "chromium", "chromium-browser", "google-chrome")
    return next((path for name in names if name and (path := shutil.which(name))), None)


class Chrome:
    """One browser with one tab."""

    def __init__(self, path: str, profile: Path) -> None:
        theirs_in, ours_out = os.pipe()
        ours_in, theirs_out = os.pipe()
        self._read, self._write = ours_in, ours_out
        command = 'i=$1 o=$2; shift 2; exec "$@" 3<&"$i" 4>&"$o"'
        # Not 3 and 4 themselves: the shell would close one before it has copied the other.
        high_in, high_out = (fcntl.fcntl(end, fcntl.F_DUPFD, 10) for end in (theirs_in, theirs_out))
        words = [path, *FLAGS, f"--user-data-dir={profile}", "about:blank"]
        self._process = subprocess.Popen(
            ["bash", "-c", command, "bash", str(high_in), str(high_out), *words],
            pass_fds=(high_in, high_out),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        for end in (theirs_in, theirs_out, high_in, high_out):
            os.close(end)
        self._buffer, self._number, self._session = b"", 0, ""
        self.dialogs: list[str] = []
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        attached = self.call("Target.attachToTarget", targetId=target, flatten=True)
        self._session = attached["sessionId"]
        self.call("Page.enable")

    def close(self) -> None:
        """End the browser that was started here."""
        self._session = ""
        try:
            self.call("Browser.close")
        except (OSError, RuntimeError, TimeoutError):
            self._process.kill()
        os.close(self._write)
        os.close(self._read)
        self._process.wait(timeout=PATIENCE)

    def call(self, method: str, /, **params: Any) -> dict[str, Any]:
        """Call a method of the protocol and wait for its answer."""
        number = self._send(method, params)
        end = time.monotonic() + PATIENCE
        while True:
            answer = self._next(end)
            if answer.get("method") == "Page.javascriptDialogOpening":
                # It would hold up the page, and all the tests after this one.
                self.dialogs.append(answer["params"]["message"])
                self._send("Page.handleJavaScriptDialog", {"accept": False})
            if answer.get("id") == number:
                if "error" in answer:
                    raise RuntimeError(f"{method}: {answer['error']['message']}")
                result = answer["result"]
                assert isinstance(result, dict)
                return result

    def _send(self, method: str, params: dict[str, Any]) -> int:
        self._number += 1
        message = {"id": self._number, "method": method, "params": params}
        if self._session:
            message["sessionId"] = self._session
        raw = json.dumps(message).encode() + b"\0"
        while raw:
            raw = raw[os.write(self._write, raw) :]
        return self._number

    def _next(self, end: float) -> dict[str, Any]:
        while b"\0" not in self._buffer:
            left = end - time.monotonic()
            if left <= 0 or not select.select([self._read], [], [], left)[0]:
                raise TimeoutError(f"Chromium has not answered within {PATIENCE:g} s")
            chunk = os.read(self._read, 1 << 20)
            if not chunk:
                raise RuntimeError("Chromium has ended: does it start by itself?")
            self._buffer += chunk
        raw, _, self._buffer = self._buffer.partition(b"\0")
        answer = json.loads(raw)
        assert isinstance(answer, dict)
        return answer

    def open(self, page: Path, width: int, dark: bool = False, height: int = 900) -> None:
        """Show a file at a width, light or dark."""
        self._sized(width, height)
        scheme = "dark" if dark else "light"
        features = [{"name": "prefers-color-scheme", "value": scheme}]
        self.call("Emulation.setEmulatedMedia", media="", features=features)
        self.call("Page.navigate", url=page.resolve().as_uri())
        end = time.monotonic() + PATIENCE
        while (
            self.run("document.readyState + location.href") != f"complete{page.resolve().as_uri()}"
        ):
            if time.monotonic() > end:
                raise TimeoutError(f"{page} has not loaded")
            time.sleep(0.01)

    def stretch(self, width: int) -> None:
        """Make the window as high as the page in it."""
        self._sized(width, self.run("document.documentElement.scrollHeight"))

    def _sized(self, width: int, height: int) -> None:
        self.call(
            "Emulation.setDeviceMetricsOverride",
            width=width, height=height, deviceScaleFactor=1, mobile=False,
        )  # fmt: skip

    def run(self, script: str) -> Any:
        """Evaluate an expression in the page, waiting where it is a promise."""
        answer = self.call(
            "Runtime.evaluate", expression=script, returnByValue=True, awaitPromise=True
        )
        if "exceptionDetails" in answer:
            said = answer["exceptionDetails"]
            raise RuntimeError(said.get("exception", {}).get("description", said["text"]))
        return answer["result"].get("value")

    def on_paper(self, width: float, height: float) -> None:
        """Lay the page out as it is printed on paper of that size [in]."""
        inner = round((width - 16 / 25.4) * 96)
        self.call("Emulation.setEmulatedMedia", media="print", features=[])
        self._sized(inner, round(height * 96))

    def pdf(self, width: float, height: float) -> bytes:
        """Print the page on paper of that size [in], as the browser's own dialog does."""
        answer = self.call(
            "Page.printToPDF",
            paperWidth=width, paperHeight=height, printBackground=False, preferCSSPageSize=False,
        )  # fmt: skip
        return base64.b64decode(answer["data"])

    def picture(self) -> bytes:
        """Take a picture of the whole page, as PNG."""
        answer = self.call("Page.captureScreenshot", captureBeyondViewport=True)
        return base64.b64decode(answer["data"])
