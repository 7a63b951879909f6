"""A browser without a window, worked through its debugging pipe with nothing but the standard library."""

from __future__ import annotations

import base64
import json
import os
import select
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

PROGRAMS = ("chromium", "chromium-browser", "google-chrome", "chrome")
FLAGS = (
    *("--headless=new", "--no-sandbox", "--disable-gpu", "--mute-audio", "--no-first-run", "--disable-extensions"),
    *("--disable-dev-shm-usage", "--disable-background-networking", "--remote-debugging-pipe"),
)
AS_THREE_AND_FOUR = """
import os, sys
read, write = (os.dup(os.dup(os.dup(int(number)))) for number in sys.argv[1:3])
os.dup2(read, 3)
os.dup2(write, 4)
os.execv(sys.argv[3], sys.argv[3:])
"""
"""Starts the browser with the pipes where it looks for them, whatever numbers they have here."""
PATIENCE_S = 30.0
"""How long an answer or a condition is waited for."""


def program() -> str | None:
    """Return where a browser is, None without one."""
    return next((found for name in PROGRAMS if (found := shutil.which(name))), None)


class Page:
    """One page in one browser."""

    def __init__(self, command: list[str]) -> None:
        theirs_in, self._out = os.pipe()
        self._in, theirs_out = os.pipe()
        self.process = subprocess.Popen(
            [sys.executable, "-c", AS_THREE_AND_FOUR, str(theirs_in), str(theirs_out), *command],
            pass_fds=(theirs_in, theirs_out),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        os.close(theirs_in)
        os.close(theirs_out)
        self._rest, self._number, self._session = b"", 0, ""
        self.events: list[dict[str, Any]] = []
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        self._session = self.call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime"):
            self.call(f"{domain}.enable")

    def call(self, method: str, **parameters: Any) -> dict[str, Any]:
        """Return the browser's answer."""
        self.send(method, **parameters)
        while "id" not in (answer := self._read()) or answer["id"] != self._number:
            self.events.append(answer)
        assert "error" not in answer, (method, answer["error"])
        return answer["result"]

    def send(self, method: str, **parameters: Any) -> None:
        """Ask without waiting for the answer."""
        self._number += 1
        message = {"id": self._number, "method": method, "params": parameters}
        if self._session and not method.startswith("Browser."):
            message["sessionId"] = self._session
        os.write(self._out, json.dumps(message).encode() + b"\0")

    def _read(self) -> dict[str, Any]:
        """Return the browser's next message."""
        end = time.monotonic() + PATIENCE_S
        while b"\0" not in self._rest:
            assert select.select([self._in], [], [], max(0.0, end - time.monotonic()))[0], "the browser says nothing"
            more = os.read(self._in, 1 << 20)
            assert more, "the browser has gone"
            self._rest += more
        message, _, self._rest = self._rest.partition(b"\0")
        return json.loads(message)

    def event(self, method: str) -> dict[str, Any]:
        """Return the first event of this name that has come or comes."""
        while not (found := [event for event in self.events if event.get("method") == method]):
            self.events.append(self._read())
        return found[0]["params"]

    def js(self, code: str) -> Any:
        """Return what an expression comes to, waited for where it is a promise."""
        answer = self.call("Runtime.evaluate", expression=code, awaitPromise=True, returnByValue=True)
        assert "exceptionDetails" not in answer, answer["exceptionDetails"]
        return answer["result"].get("value")

    def wait(self, code: str) -> None:
        """Wait until an expression is true."""
        end = time.monotonic() + PATIENCE_S
        while not self.js(f"Boolean({code})"):
            assert time.monotonic() < end, f"never came true: {code}"
            time.sleep(0.02)

    def open(self, path: Path) -> None:
        """Open a file, as by a double-click."""
        self.call("Page.navigate", url=path.as_uri())
        self.wait(f"location.href === {json.dumps(path.as_uri())} && document.readyState === 'complete'")

    def press(self, key: str, *, shift: bool = False) -> None:
        """Press a key and let it go."""
        text = {"text": key} if len(key) == 1 else {}
        self.call("Input.dispatchKeyEvent", type="keyDown", key=key, modifiers=8 * shift, **text)
        self.call("Input.dispatchKeyEvent", type="keyUp", key=key, modifiers=8 * shift)

    def click(self, x: float, y: float) -> None:
        """Click where the page has this place, in CSS pixels."""
        for kind in ("mousePressed", "mouseReleased"):
            self.call("Input.dispatchMouseEvent", type=kind, x=x, y=y, button="left", clickCount=1)

    def size(self, width: int, height: int = 900) -> None:
        """Give the page's window a size in CSS pixels."""
        self.call("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False)

    def picture(self, path: Path) -> None:
        """Write what the page shows as a PNG file."""
        path.write_bytes(base64.b64decode(self.call("Page.captureScreenshot", format="png")["data"]))


@contextmanager
def browser(folder: Path) -> Iterator[Page]:
    """Give a page in a browser of its own, which keeps its files in a folder and saves what is downloaded there."""
    page = Page([str(program()), *FLAGS, f"--user-data-dir={folder / 'profile'}"])
    try:
        page.call("Browser.setDownloadBehavior", behavior="allow", downloadPath=str(folder), eventsEnabled=True)
        yield page
    finally:
        with suppress(Exception):
            page.send("Browser.close")
        try:
            page.process.wait(10)
        except subprocess.TimeoutExpired:
            page.process.kill()
            page.process.wait()
        os.close(page._in)
        os.close(page._out)
