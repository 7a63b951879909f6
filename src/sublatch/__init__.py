"""Hear, measure and choose a change to a divide-by-two octave circuit before soldering it.

The functions, each with its parameters, units and errors in its own help, as in help(sublatch.render):

  Takes
    read_take          Read a take from a sound file.
    take_from_samples  Return a take made from samples in memory.
    levels             Return the levels of a signal.
    calibrate          Return what full scale stands for, from the recording of a tone and a meter's reading of it.
    read_calibration   Return the volts that full scale stands for, from a calibration file.
  Circuits
    load_circuit       Return a circuit, built in or from a file.
    save_circuit       Write a circuit file, whole or not at all.
    circuit_names      Return the names of the built-in circuits.
    circuit_text       Return a built-in circuit as the text of its file.
  Hearing
    render             Return a take as a circuit gives it.
    render_moving      Return a take as a circuit gives it while controls are moved.
    render_file        Write a take as a circuit gives it.
  Auditions
    load_audition      Return the audition that a plan file asks for.
    run_audition       Render, match, measure and lay out every candidate on every take.
    read_verdicts      Return the verdicts of one or several people, added up.
    judged_circuit     Return a candidate's circuit, as it was heard, with its knobs where they stood.
    kept_plan          Return the plan of what was kept, on the same takes.
    read_trial         Return what a session of blind listening showed.
    write_demo         Write the invented takes, the backing, plans and a circuit to start from.
  Tracking
    read_notes         Read the notes that were played from a MIDI or text file.
    track              Return how a circuit's drive holds on to every note of a take.
    detected_drive     Return the times in seconds (m,) at which the drive changes.
    tune               Search the detector that locks best on these notes.
    tune_notes         Return the notes of takes that a circuit can be tuned on.
  Building
    response           Return the response of a circuit's output filter at its knob and switch positions.
    choose             Return parts for a second-order filter swept by a dual-gang pot, with a switch for its peak.
    choose_fixed       Return parts for a filter without knob or switch.
    spread             Return how the output filters of many boards differ, each part drawn from within its tolerance.
    knobs              Return what a circuit's knobs do, for a take or for a tone in its stead.
    my_box             Return a circuit from what is known of a box, the rest fitted or assumed.
    build_sheet        Return the build sheet of a circuit.
    write_sheet        Write the build sheet of a circuit, whole or not at all.
    change_sheet       Return the change sheet from one circuit to another.
    write_change       Write the change sheet from one circuit to another, whole or not at all.
  Other programs
    plain_values       Return a record, or what is in one, as plain values for JSON.

The records that they take and return, and the base of their errors:

    Take               One recorded performance, mono.
    Circuit            A signal path from the instrument to the output jack.
    Move               One control moved once.
    ChooseRequest      What is asked of a filter swept by a dual-gang pot, with a switch for its peak.
    ChooseFixedRequest What is asked of a filter without knob or switch.
    TuneAim            What counts in a search.
    BoardDraws         Which boards are looked at.
    Tolerances         How far parts may be off, and how they are spread within that.
    BoxFacts           What is known of a box; None for what is not.
    SublatchError      Base of every error that this package raises on purpose.

They work on NumPy arrays, and do what the command of that name does. From a notebook:

    import sublatch
    take = sublatch.read_take("my-take.wav", full_scale_volts=2.0)
    circuit = sublatch.load_circuit("gated-swept", changes={"knobs.tone": 3.5})
    heard = sublatch.render(take, circuit)  # heard.samples is in volts
    sublatch.response(circuit).corner_hz

A take is a recording in volts; a circuit is its component values, knobs and switches. The signal path:

    take ─ input ─┬─ detector ─ divider ─┐ drive (half the note's rate)
                  ├──────────────── octave stage ─ output filter ─┐
                  └──────────────── direct pot ───────────────── mix ─ volume ─ output buffer
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from sublatch.version import __version__ as __version__

if TYPE_CHECKING:
    from sublatch.audition.plan.load import load_audition as load_audition
    from sublatch.audition.run import run_audition as run_audition
    from sublatch.audition.verdicts.added_up import read_verdicts as read_verdicts
    from sublatch.audition.verdicts.next_plan import judged_circuit as judged_circuit
    from sublatch.audition.verdicts.next_plan import kept_plan as kept_plan
    from sublatch.board.change.page.write import change_sheet as change_sheet
    from sublatch.board.change.page.write import write_change as write_change
    from sublatch.board.sheet.write import build_sheet as build_sheet
    from sublatch.board.sheet.write import write_sheet as write_sheet
    from sublatch.circuit.boards import BoardDraws as BoardDraws
    from sublatch.circuit.components.tolerances import Tolerances as Tolerances
    from sublatch.circuit.load import circuit_names as circuit_names
    from sublatch.circuit.load import circuit_text as circuit_text
    from sublatch.circuit.load import load_circuit as load_circuit
    from sublatch.circuit.model import Circuit as Circuit
    from sublatch.circuit.response import response as response
    from sublatch.circuit.save import save_circuit as save_circuit
    from sublatch.demo.write import write_demo as write_demo
    from sublatch.errors import SublatchError as SublatchError
    from sublatch.json_data import plain_values as plain_values
    from sublatch.parts.choose.job import choose as choose
    from sublatch.parts.choose.job import choose_fixed as choose_fixed
    from sublatch.parts.choose.request import ChooseFixedRequest as ChooseFixedRequest
    from sublatch.parts.choose.request import ChooseRequest as ChooseRequest
    from sublatch.parts.knobs.report import knobs as knobs
    from sublatch.parts.mybox.facts import BoxFacts as BoxFacts
    from sublatch.parts.mybox.job import my_box as my_box
    from sublatch.parts.tolerance import spread as spread
    from sublatch.pitch.given.read import read_notes as read_notes
    from sublatch.rendering import render_file as render_file
    from sublatch.sampling.levels import levels as levels
    from sublatch.signal.chain import detected_drive as detected_drive
    from sublatch.signal.chain import render as render
    from sublatch.signal.moves import Move as Move
    from sublatch.signal.moving import render_moving as render_moving
    from sublatch.takes.calibration import calibrate as calibrate
    from sublatch.takes.calibration import read_calibration as read_calibration
    from sublatch.takes.take import Take as Take
    from sublatch.takes.take import read_take as read_take
    from sublatch.takes.take import take_from_samples as take_from_samples
    from sublatch.tracking.track import track as track
    from sublatch.tracking.tune.job import TuneAim as TuneAim
    from sublatch.tracking.tune.job import tune as tune
    from sublatch.tracking.tune.notes import tune_notes as tune_notes
    from sublatch.trial.read import read_trial as read_trial

_HOMES = {
    "BoardDraws": "circuit.boards:BoardDraws",
    "BoxFacts": "parts.mybox.facts:BoxFacts",
    "ChooseFixedRequest": "parts.choose.request:ChooseFixedRequest",
    "ChooseRequest": "parts.choose.request:ChooseRequest",
    "Circuit": "circuit.model:Circuit",
    "Move": "signal.moves:Move",
    "SublatchError": "errors:SublatchError",
    "Take": "takes.take:Take",
    "Tolerances": "circuit.components.tolerances:Tolerances",
    "TuneAim": "tracking.tune.job:TuneAim",
    "build_sheet": "board.sheet.write:build_sheet",
    "calibrate": "takes.calibration:calibrate",
    "change_sheet": "board.change.page.write:change_sheet",
    "choose": "parts.choose.job:choose",
    "choose_fixed": "parts.choose.job:choose_fixed",
    "circuit_names": "circuit.load:circuit_names",
    "circuit_text": "circuit.load:circuit_text",
    "detected_drive": "signal.chain:detected_drive",
    "judged_circuit": "audition.verdicts.next_plan:judged_circuit",
    "kept_plan": "audition.verdicts.next_plan:kept_plan",
    "knobs": "parts.knobs.report:knobs",
    "levels": "sampling.levels:levels",
    "load_audition": "audition.plan.load:load_audition",
    "load_circuit": "circuit.load:load_circuit",
    "my_box": "parts.mybox.job:my_box",
    "plain_values": "json_data:plain_values",
    "read_calibration": "takes.calibration:read_calibration",
    "read_notes": "pitch.given.read:read_notes",
    "read_take": "takes.take:read_take",
    "read_trial": "trial.read:read_trial",
    "read_verdicts": "audition.verdicts.added_up:read_verdicts",
    "render": "signal.chain:render",
    "render_file": "rendering:render_file",
    "render_moving": "signal.moving:render_moving",
    "response": "circuit.response:response",
    "run_audition": "audition.run:run_audition",
    "save_circuit": "circuit.save:save_circuit",
    "spread": "parts.tolerance:spread",
    "take_from_samples": "takes.take:take_from_samples",
    "track": "tracking.track:track",
    "tune": "tracking.tune.job:tune",
    "tune_notes": "tracking.tune.notes:tune_notes",
    "write_change": "board.change.page.write:write_change",
    "write_demo": "demo.write:write_demo",
    "write_sheet": "board.sheet.write:write_sheet",
}
"""Where the public names live; each is imported when it is first used, so that the commands start quickly."""

if not TYPE_CHECKING:
    __all__ = ()  # no name is for `from sublatch import *`, and help(sublatch) prints whole what is listed here


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
    return sorted(("__version__", *_HOMES))
