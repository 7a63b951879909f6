"""The page's own sound after the octave stage, rendered in a browser without a loudspeaker, and Python's beside it."""

from __future__ import annotations

from base64 import b64decode
from typing import Any

import numpy as np

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
  const node = live.connect(context.destination);
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
