"""The page's scripts without a page: run by the Node that comes with playwright's package."""

from __future__ import annotations

import json
import subprocess
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest

PRELUDE = """'use strict';
const fs = require('fs');
const vm = require('vm');
const { scripts, data } = JSON.parse(fs.readFileSync(0, 'utf8'));
for (const [name, text] of scripts) vm.runInThisContext(text, name);
const answer = (%s)(data);
process.stdout.write(JSON.stringify(answer, (_, value) => (ArrayBuffer.isView(value) ? [...value] : value)));
"""
WITHOUT_A_PAGE = (
    "knob",
    "elements",
    "matrices",
    "tables",
    "network",
    "idle",
    "response",
    "wish",
    "loudness",
    "find",
    "sound-bands",
)
"""The scripts in `page/scripts/live` that need none, in their order."""


def run(function: str, data: object) -> Any:
    """Return what a JavaScript function makes of plain data; skip where there is no Node."""
    playwright = pytest.importorskip("playwright", reason="playwright is not installed")
    driver = Path(playwright.__file__).parent / "driver"
    node = next((path for path in (driver / "node", driver / "node.exe") if path.exists()), None)
    if node is None:
        pytest.skip("playwright came without Node")
    folder = files("sublatch.audition.page").joinpath("scripts", "live")
    scripts = [(name, folder.joinpath(f"{name}.js").read_text(encoding="utf-8")) for name in WITHOUT_A_PAGE]
    sent = json.dumps({"scripts": scripts, "data": data})
    done = subprocess.run(
        [str(node), "-e", PRELUDE % function], input=sent, capture_output=True, text=True, encoding="utf-8", check=False
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)
