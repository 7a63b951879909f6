"""The page's own sound after the octave stage, rendered in a browser without a loudspeaker, and Python's beside it."""

from __future__ import annotations

import json
from base64 import b64decode
from pathlib import Path
from typing import Any

import numpy as np

from own_networks import BAND_PASS, STATE_VARIABLE, SWEPT
from sublatch.audition.live.parts import live_circuit
from sublatch.audition.plan.load import load_audition
from sublatch.audition.plan.records import Audition
from sublatch.audition.run import run_audition
from sublatch.circuit.load import circuit_names, load_circuit
from sublatch.circuit.model import Circuit
from sublatch.circuit.save import save_circuit
from sublatch.circuit.with_settings import with_settings
from sublatch.demo.takes import demo_takes
from sublatch.files.sound import write_audio

RATE = 48000
FULL_SCALE = 2.0
TAKES = ("hard-accents", "dead-notes")
OWN = {"own swept": SWEPT, "own band-pass": BAND_PASS, "own state variable": STATE_VARIABLE}
LATE = 59
"""Samples by which the page's own sound comes late."""

OFFLINE = """async ({ number, turns, seconds }) => {
  const { takes, live: { circuits } } = JSON.parse(document.getElementById('audition').textContent);
  const take = takes[number];
  const rate = take.sample_rate;
  const context = new OfflineAudioContext(1, Math.round(seconds * rate), rate);
  const live = await sublatch.createLive(context, take, circuits);
  const told = [];
  for (const { frame, ...change } of turns) {
    live.set(change, frame);
    told.push({ ...live.figures(), response: live.response() });
  }
  const node = live.node();
  node.connect(context.destination);
  live.buffers.forEach((buffer, i) => {
    const source = new AudioBufferSourceNode(context, { buffer });
    source.connect(node, 0, i);
    source.start();
  });
  const sound = await context.startRendering();
  const bytes = new Uint8Array(sound.getChannelData(0).buffer);
  let text = '';
  for (const byte of bytes) text += String.fromCharCode(byte);
  return { sound: btoa(text), told };
}"""


def made(page: Any, turns: list[dict[str, Any]], *, seconds: float, number: int = 0) -> tuple[np.ndarray, list[Any]]:
    """Return what the page makes of a take, sample by sample, with its turns, and what it tells after each."""
    answer = page.evaluate(OFFLINE, {"number": number, "turns": turns, "seconds": seconds})
    return np.frombuffer(b64decode(answer["sound"]), np.float32).astype(float), answer["told"]


def random_turn(rng: np.random.Generator, circuit: Circuit, *, candidate: str) -> tuple[dict[str, Any], Circuit]:
    """Return a turn of every control and of one part of a candidate, and the circuit that it makes."""
    told = live_circuit(circuit)
    controls: dict[str, Any] = {
        name: str(rng.choice(["flat", "peaked"])) if name == "peak" else round(float(rng.uniform(0, 10)), 2)
        for name, value in told["controls"].items()
        if value is not None
    }
    paths = {name: f"switches.{name}" if name == "peak" else f"knobs.{name}" for name in controls}
    settable = [name for name in told["values"] if ".parts." not in name]
    changed = str(rng.choice(settable))
    value = told["values"][changed] * float(rng.choice([0.68, 0.82, 1.2, 1.5]))
    settings = {paths[name]: value for name, value in controls.items()} | {changed: value}
    turn = {"candidate": candidate, "controls": controls, "values": {changed: value}}
    return turn, with_settings(circuit, settings)


def write_desk(folder: Path, *, seconds: float = 2.0) -> Audition:
    """Write an audition of every built-in circuit and three networks of one's own on two takes, and return its plan."""
    takes = demo_takes(RATE)
    for name in TAKES:
        write_audio(folder / f"{name}.wav", takes[name][: round(seconds * RATE)] / FULL_SCALE, RATE)
    lines = [f"takes = {json.dumps([f'{name}.wav' for name in TAKES])}", f'full_scale = "{FULL_SCALE}V"']
    for name in circuit_names():
        lines += ["[[candidates]]", f'name = "{name}"', f'circuit = "{name}"']
    for name, parts in OWN.items():
        own = load_circuit("gated-open", changes={"filter": {"kind": "network", "parts": parts}})
        save_circuit(own, folder / f"{name}.toml")
        lines += ["[[candidates]]", f'name = "{name}"', f'circuit = "{name}.toml"']
    (folder / "plan.toml").write_text("\n".join(lines), encoding="utf-8")
    plan = load_audition(folder / "plan.toml")
    run_audition(plan)
    return plan
