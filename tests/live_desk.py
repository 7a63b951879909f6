"""The page's own sound after the octave stage, rendered in a browser without a loudspeaker, and Python's beside it."""

from __future__ import annotations

import json
from base64 import b64decode
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
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
IDEAL = "ideal"
"""A candidate whose file begins at rest anywhere in the take, as the page's own sound does."""
LATE = 120
"""Samples by which the page's own sound comes late."""

OFFLINE = """async ({ number, turns, seconds }) => {
  const { takes, live: shared } = JSON.parse(document.getElementById('audition').textContent);
  const take = takes[number];
  const rate = take.sample_rate;
  const context = new OfflineAudioContext(1, Math.round(seconds * rate), rate);
  const live = await sublatch.createLive(context, take, shared);
  const told = [];
  for (const { frame, settle, ...change } of turns) {
    live.set(change, frame);
    if (settle) await live.settle();
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

IN_STEP = """async ({ loop, name }) => {
  const { takes: [take], live: shared } = JSON.parse(document.getElementById('audition').textContent);
  const sounds = await sublatch.Player.sounds(take);
  const file = take.candidates.findIndex((one) => one.name === name);
  const heard = [];
  for (const chosen of [file, take.candidates.length]) {
    const context = new OfflineAudioContext(1, take.sample_rate, take.sample_rate);
    const live = await sublatch.createLive(context, take, shared);
    live.set({ candidate: name });
    await live.settle();
    const all = { voicing: true, bed: true };
    const begun = { at_s: 0.01, from_s: 0.1, loop };
    void new sublatch.Voices({ context, take, ...sounds, lives: [live], heard: all, chosen, ...begun });
    heard.push([...(await context.startRendering()).getChannelData(0)]);
  }
  return heard;
}"""
"""The first second of what is heard from 0.1 s into the first take: a candidate's file, and the page's own sound."""


def made(page: Any, turns: list[dict[str, Any]], *, seconds: float, number: int = 0) -> tuple[np.ndarray, list[Any]]:
    """Return what the page makes of a take, sample by sample, with its turns, and what it tells after each."""
    answer = page.evaluate(OFFLINE, {"number": number, "turns": turns, "seconds": seconds})
    return np.frombuffer(b64decode(answer["sound"]), np.float32).astype(float), answer["told"]


def random_turn(
    rng: np.random.Generator,
    circuit: Circuit,
    *,
    candidate: str,
    controls: Mapping[str, float] = MappingProxyType({}),
    changed: Mapping[str, float] | None = None,
) -> tuple[dict[str, Any], Circuit]:
    """Return a turn of every control, some given, and of one part, unless given too; and the circuit it makes."""
    told = live_circuit(circuit)
    stands: dict[str, Any] = {}
    for name, value in told["controls"].items():
        if value is not None:
            anywhere = str(rng.choice(["flat", "peaked"])) if name == "peak" else round(float(rng.uniform(0, 10)), 2)
            stands[name] = controls.get(name, anywhere)
    if changed is None:
        part = str(rng.choice([name for name in told["values"] if ".parts." not in name]))
        changed = {part: told["values"][part] * float(rng.choice([0.68, 0.82, 1.2, 1.5]))}
    paths = {name: f"switches.{name}" if name == "peak" else f"knobs.{name}" for name in stands}
    settings = {paths[name]: value for name, value in stands.items()} | dict(changed)
    return {"candidate": candidate, "controls": stands, "values": dict(changed)}, with_settings(circuit, settings)


def step_in(samples: np.ndarray) -> float:
    """Return the largest step from one sample to the next."""
    return float(np.max(np.abs(np.diff(samples))))


def write_desk(folder: Path, *, seconds: float = 2.0) -> Audition:
    """Write an audition of every built-in circuit and three networks of one's own on two takes, and return its plan."""
    takes = demo_takes(RATE)
    for name in TAKES:
        write_audio(folder / f"{name}.wav", takes[name][: round(seconds * RATE)] / FULL_SCALE, RATE)
    lines = [f"takes = {json.dumps([f'{name}.wav' for name in TAKES])}", f'full_scale = "{FULL_SCALE}V"']
    for name in circuit_names():
        lines += ["[[candidates]]", f'name = "{name}"', f'circuit = "{name}"']
    lines += ["[[candidates]]", f'name = "{IDEAL}"', 'circuit = "gated-first-order"']
    lines += ['set = { "devices.values" = "ideal" }']
    for name, parts in OWN.items():
        own = load_circuit("gated-open", changes={"filter": {"kind": "network", "parts": parts}})
        save_circuit(own, folder / f"{name}.toml")
        lines += ["[[candidates]]", f'name = "{name}"', f'circuit = "{name}.toml"']
    (folder / "plan.toml").write_text("\n".join(lines), encoding="utf-8")
    plan = load_audition(folder / "plan.toml")
    run_audition(plan)
    return plan
