"""Run what README and manual show, and tell where the output differs: ``python scripts/rerun_documents.py [WORD]``.

Run it with the environment's Python; it takes some minutes, most of them for the search for a detector. The commands
run in the order of the manual's topics, in a folder that the demo writes; with a WORD only those that hold it are
compared, and no search is made for another's sake. What the reader does by hand in between is done here too: the tone
that is recorded, and the changes in a text editor. A session of blind listening cannot be repeated, and is left out.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import soundfile

from sublatch.manual.topics import topic, topic_names

README = Path(__file__).resolve().parent.parent / "README.md"
LEFT_OUT = ("demo", "trial")
"""Commands that have been run already, or cannot be."""
LONGEST_S = 3600
ASIDE = ("note: ", "Written ")
"""How lines begin that a terminal shows anywhere among the others."""
PRINTED = "sublatch circuits gated-swept > mine.toml"
EDITED = (
    ("mine.toml", 'peaked = "47n"', 'peaked = "33n"'),
    ("mine.toml", 'pot = { value = "100k", taper = "log", midpoint = "20%" }', 'pot = { value = "100k" }'),
    (
        "filters.toml",
        "[[sweeps]]",
        '[[candidates]]\nname = "mine"\ncircuit = "mine.toml"\n'
        'set = { "knobs.tone" = 3.5, "switches.peak" = "peaked", "knobs.volume" = 5 }\n\n[[sweeps]]',
    ),
)
"""What the reader changes once that circuit has been printed: the file, what stands there, and what in its place."""


def main() -> int:
    """Run every command that is shown; return 1 where output differs."""
    word = sys.argv[1] if len(sys.argv) > 1 else ""
    texts = {
        "README": README.read_text(encoding="utf-8"),
        "manual": "\n".join(topic(name).text for name in topic_names()),
    }
    different = []
    with TemporaryDirectory() as parent:
        for title, text in texts.items():
            folder = Path(parent, title)
            _run(f"sublatch demo {title}", Path(parent))
            _record_a_tone(folder / "tone.wav")
            different += _different(text, folder, word)
    print("\n\n".join(different) or "all that is shown is what comes out")
    return bool(different)


def shown(text: str) -> list[tuple[str, list[str]]]:
    """Return each command of the program's that a text's code blocks show, with the lines shown below it."""
    commands: list[tuple[str, list[str]]] = []
    for block in re.findall(r"^```console\n(.*?)^```", text, flags=re.MULTILINE | re.DOTALL):
        for line in block.splitlines():
            if line.startswith("$ "):
                commands.append((line.removeprefix("$ "), []))
            else:
                commands[-1][1].append(line)
    return [(command, lines) for command, lines in commands if command.startswith("sublatch ")]


def is_as_shown(lines: list[str], out: str, err: str) -> bool:
    """Return whether output is as shown, where a line with an ellipsis stands for any number of lines."""
    printed = {line.rstrip() for line in [*out.splitlines(), *err.splitlines()]}
    plain = [line for line in lines if not line.startswith(ASIDE)]
    pattern = "".join(r"(?:.*\n)*?" if line.strip() == "…" else re.escape(line.rstrip()) + r"\n" for line in plain)
    output = "".join(f"{line.rstrip()}\n" for line in out.splitlines() if not line.startswith(ASIDE))
    return {line for line in lines if line.startswith(ASIDE)} <= printed and bool(re.fullmatch(pattern, output))


def _different(text: str, folder: Path, word: str) -> list[str]:
    """Run a text's commands in a folder and return those whose output is not as shown."""
    different = []
    for command, lines in shown(text):
        name = command.split()[1]
        if name in LEFT_OUT or (name == "tune" and word not in command):
            continue
        done = _run(command, folder)
        if command == PRINTED:
            _edit(folder)
        if done.returncode or (lines and word in command and not is_as_shown(lines, done.stdout, done.stderr)):
            different.append(f"$ {command}\n{done.stderr}{done.stdout}")
    return different


def _run(command: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """Run a command line in a folder, with this environment's programs."""
    paths = os.pathsep.join([str(Path(sys.executable).parent), os.environ.get("PATH", "")])
    return subprocess.run(
        command,
        shell=True,
        cwd=folder,
        env={**os.environ, "PATH": paths},
        capture_output=True,
        text=True,
        timeout=LONGEST_S,
        check=False,
    )


def _record_a_tone(path: Path) -> None:
    """Write some silence and four seconds of a tone, as the topic `recording` says."""
    seconds = np.arange(48000 * 4) / 48000
    tone = np.concatenate([np.zeros(43200), 0.25 * np.sin(2.0 * np.pi * 200.0 * seconds)])
    soundfile.write(path, tone, 48000, subtype="PCM_24")


def _edit(folder: Path) -> None:
    """Make the changes that the reader makes in a text editor."""
    for name, before, after in EDITED:
        text = (folder / name).read_text(encoding="utf-8")
        if before not in text:
            raise SystemExit(f"{name} must hold {before!r}, to be edited as the manual says")
        (folder / name).write_text(text.replace(before, after), encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
