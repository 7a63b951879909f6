"""What stands for the code that makes an audition: this package's own files, and the libraries that shape a file."""

from __future__ import annotations

from functools import cache
from hashlib import sha256
from importlib.metadata import PackageNotFoundError, version
from importlib.resources import files
from importlib.resources.abc import Traversable

from sublatch.files.sound import LIBSNDFILE_VERSION

LIBRARIES = ("numpy", "scipy", "soxr", "soundfile", "pyloudnorm", "matplotlib", "jinja2")
"""What computes, writes or draws something in an audition folder; the others only read what the user wrote."""


@cache
def code_digest() -> str:
    """Return 32 hexadecimal digits that stand for the running code, worked out once in a process.

    Notes
    -----
    A version number changes only at a release, the code at any time; what is kept from one run to the next must
    depend on the code itself.
    """
    libraries = [f"{name} {_version(name)}" for name in LIBRARIES]
    return _digest([*libraries, f"libsndfile {LIBSNDFILE_VERSION}", source_digest(files("sublatch"))])


def source_digest(folder: Traversable) -> str:
    """Return 32 hexadecimal digits that stand for a package's files: code, data, templates, scripts and styles.

    Parameters
    ----------
    folder
        The package, in a source tree or installed. What Python compiles into ``__pycache__``, and hidden files, do
        not count.
    """
    return _digest([f"{path}\0{content}" for path, content in sorted(_contents(folder, ""))])


def _contents(folder: Traversable, above: str) -> list[tuple[str, str]]:
    """Return the path of every file below a folder, with its SHA-256."""
    contents = []
    for entry in folder.iterdir():
        path = f"{above}/{entry.name}"
        if entry.name.startswith(".") or entry.name == "__pycache__":
            continue
        if entry.is_dir():
            contents += _contents(entry, path)
        else:
            contents.append((path, sha256(entry.read_bytes()).hexdigest()))
    return contents


def _version(library: str) -> str:
    """Return the version of an installed library, an empty text where it does not tell."""
    try:
        return version(library)
    except PackageNotFoundError:
        return ""


def _digest(facts: list[str]) -> str:
    """Return a short text that stands for facts."""
    return sha256("\n".join(facts).encode()).hexdigest()[:32]
