"""Hear, measure and choose a change to a divide-by-two octave circuit before soldering it.

A take is a recording in volts; a circuit is its component values, knobs and switches. The signal path:

    take ─ input ─┬─ detector ─ divider ─┐ drive (half the note's rate)
                  ├──────────────── octave stage ─ output filter ─┐
                  └──────────────── direct pot ───────────────── mix ─ volume ─ output buffer

From a notebook:

    import sublatch
    take = sublatch.read_take("my-take.wav", full_scale_volts=2.0)
    circuit = sublatch.load_circuit("gated-swept", changes={"knobs.tone": 3.5})
    heard = sublatch.render(take, circuit)  # heard.samples is in volts
    sublatch.response(circuit).corner_hz

Everything here is a plain function on NumPy arrays and frozen records, and does what the command of that name does.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

if TYPE_CHECKING:
    from sublatch.audition.plan import load_audition as load_audition
    from sublatch.audition.run import run_audition as run_audition
    from sublatch.audition.trials import read_trial as read_trial
    from sublatch.build.choose import choose as choose
    from sublatch.build.choose import choose_fixed as choose_fixed
    from sublatch.build.knobs import knobs as knobs
    from sublatch.build.sheet import build_sheet as build_sheet
    from sublatch.build.sheet import write_sheet as write_sheet
    from sublatch.build.tolerance import spread as spread
    from sublatch.circuit.load import circuit_names as circuit_names
    from sublatch.circuit.load import circuit_text as circuit_text
    from sublatch.circuit.load import load_circuit as load_circuit
    from sublatch.circuit.model import Circuit as Circuit
    from sublatch.circuit.response import response as response
    from sublatch.circuit.save import save_circuit as save_circuit
    from sublatch.demo import write_demo as write_demo
    from sublatch.errors import SublatchError as SublatchError
    from sublatch.rendering import render_file as render_file
    from sublatch.signal.chain import detected_drive as detected_drive
    from sublatch.signal.chain import render as render
    from sublatch.signal.levels import levels as levels
    from sublatch.signal.moves import Move as Move
    from sublatch.signal.moving import render_moving as render_moving
    from sublatch.take import Take as Take
    from sublatch.take import read_take as read_take
    from sublatch.take import take_from_samples as take_from_samples
    from sublatch.tracking.track import track as track
    from sublatch.tracking.tune import tune as tune
    from sublatch.tracking.tune_notes import tune_notes as tune_notes

_HOMES = {
    "Circuit": "circuit.model:Circuit",
    "Move": "signal.moves:Move",
    "SublatchError": "errors:SublatchError",
    "Take": "take:Take",
    "build_sheet": "build.sheet:build_sheet",
    "choose": "build.choose:choose",
    "choose_fixed": "build.choose:choose_fixed",
    "circuit_names": "circuit.load:circuit_names",
    "circuit_text": "circuit.load:circuit_text",
    "detected_drive": "signal.chain:detected_drive",
    "knobs": "build.knobs:knobs",
    "levels": "signal.levels:levels",
    "load_audition": "audition.plan:load_audition",
    "load_circuit": "circuit.load:load_circuit",
    "read_take": "take:read_take",
    "read_trial": "audition.trials:read_trial",
    "render": "signal.chain:render",
    "render_file": "rendering:render_file",
    "render_moving": "signal.moving:render_moving",
    "response": "circuit.response:response",
    "run_audition": "audition.run:run_audition",
    "save_circuit": "circuit.save:save_circuit",
    "spread": "build.tolerance:spread",
    "take_from_samples": "take:take_from_samples",
    "track": "tracking.track:track",
    "tune": "tracking.tune:tune",
    "tune_notes": "tracking.tune_notes:tune_notes",
    "write_demo": "demo:write_demo",
    "write_sheet": "build.sheet:write_sheet",
}
"""Where the public names live; each is imported when it is first used, so that the commands start quickly."""

__all__ = ["__version__", *_HOMES]


def __getattr__(name: str) -> Any:
    """Import a public name when it is first used."""
    if name not in _HOMES:
        raise AttributeError(f"module 'sublatch' has no attribute {name!r}")
    module, attribute = _HOMES[name].split(":")
    value = getattr(import_module(f"sublatch.{module}"), attribute)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """List the public names."""
    return sorted(__all__)
