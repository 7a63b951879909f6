"""Invented takes, a backing, plans and a circuit to start from: nothing here was recorded.

``score`` says what is played, ``strings`` (on top of ``partials`` and ``noise``) how a string sounds, ``takes``
plays the one on the other, ``bed`` is the backing, and ``write`` puts it all into a folder.
"""

from __future__ import annotations

from sublatch.demo.bed import demo_bed
from sublatch.demo.score import Note, demo_notes
from sublatch.demo.strings import dead_note, pluck, slide
from sublatch.demo.takes import demo_takes
from sublatch.demo.write import FULL_SCALE_VOLTS, demo_texts, plan_text, write_demo

__all__ = [
    "FULL_SCALE_VOLTS",
    "Note",
    "dead_note",
    "demo_bed",
    "demo_notes",
    "demo_takes",
    "demo_texts",
    "plan_text",
    "pluck",
    "slide",
    "write_demo",
]
