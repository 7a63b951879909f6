"""Fixtures for auditions."""

from __future__ import annotations

import pytest

from small_auditions import RATE, note
from sublatch.audition import run
from sublatch.files.sound import write_audio


@pytest.fixture
def real_page():
    """Ask for the real page, pictures and all."""


@pytest.fixture
def plain_page(request, monkeypatch):
    """Put a plain text in the page's place, which takes longest and has tests of its own."""
    if "real_page" not in request.fixturenames:
        monkeypatch.setattr(run, "_page", lambda plan, layout, result: f"{result}{plan.candidates}")


@pytest.fixture
def folder(tmp_path):
    """Give a folder with two takes."""
    write_audio(tmp_path / "a.wav", note(), RATE)
    write_audio(tmp_path / "b.wav", note(pitch_hz=80.0, peak=0.5), RATE)
    return tmp_path
