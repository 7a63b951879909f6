"""Firefox without a window, worked by WebDriver BiDi (W3C): a page of it evaluates, which is all that is asked."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest

PATIENCE_S = 60.0
"""How long an answer is waited for."""
PREFERENCES = """user_pref("app.update.enabled", false);
user_pref("datareporting.policy.dataSubmissionEnabled", false);
user_pref("network.captive-portal-service.enabled", false);
user_pref("network.connectivity-service.enabled", false);
user_pref("media.autoplay.default", 0);
"""
"""It asks for nothing over the net, and sound may start by itself."""


class FirefoxPage:
    """A page of a Firefox that was started for it."""

    def __init__(self, socket: Any) -> None:
        self._socket = socket
        self._numbers = count(1)
        self._ask("session.new", capabilities={})
        self._context = self._ask("browsingContext.getTree")["contexts"][0]["context"]

    def open(self, path: Path) -> None:
        """Open a file, as by a double-click, and wait until it is loaded."""
        self._ask("browsingContext.navigate", context=self._context, url=path.as_uri(), wait="complete")

    def evaluate(self, code: str, argument: Any = None) -> Any:
        """Return what an expression comes to, or a function of one argument, waited for where it is a promise."""
        value = code if argument is None else f"({code})({json.dumps(argument)})"
        answer = self._ask(
            "script.callFunction",
            functionDeclaration=f"async () => JSON.stringify((await ({value})) ?? null)",
            target={"context": self._context},
            awaitPromise=True,
        )
        assert answer["type"] == "success", answer["exceptionDetails"]["text"]
        return json.loads(answer["result"]["value"])

    def _ask(self, method: str, **params: Any) -> Any:
        number = next(self._numbers)
        self._socket.send(json.dumps({"id": number, "method": method, "params": params}))
        while (answer := json.loads(self._socket.recv(timeout=PATIENCE_S))).get("id") != number:
            pass
        assert answer["type"] == "success", answer
        return answer["result"]


@contextmanager
def firefox() -> Iterator[FirefoxPage]:
    """Give a page of a Firefox without a window; skip where there is none, unless everything must be tested here."""
    client = pytest.importorskip("websockets.sync.client", reason="websockets is not installed")
    program = shutil.which("firefox-esr") or shutil.which("firefox")
    if program is None:
        missing = pytest.fail if os.environ.get("CI") == "true" else pytest.skip
        missing("firefox is not installed")
    with TemporaryDirectory() as folder:
        Path(folder, "user.js").write_text(PREFERENCES, encoding="utf-8")
        asked = [program, "--headless", "--no-remote", "--remote-debugging-port", "0", "--profile", folder]
        started = subprocess.Popen(asked, stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True)
        try:
            with client.connect(f"{_address(started)}/session", max_size=None) as socket:
                yield FirefoxPage(socket)
        finally:
            started.terminate()
            started.communicate(timeout=PATIENCE_S)


def _address(started: subprocess.Popen[str]) -> str:
    """Return where a Firefox that was started listens."""
    assert started.stderr is not None
    for line in started.stderr:
        if found := re.search(r"WebDriver BiDi listening on (ws://\S+)", line):
            return found[1]
    raise AssertionError("Firefox ended before it listened")
