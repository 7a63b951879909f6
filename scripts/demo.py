"""Install Sublatch into ``.venv`` and audition the samples: ``python3 scripts/demo.py``, nothing else is needed."""

from __future__ import annotations

import os
import sys
import time

from _environment import ROOT, prepare, run, run_calmly

PLAN = ROOT / "samples" / "audition.toml"
RESULTS = ROOT / "my-sounds" / "audition"

HINTS = """
Go on with a take of your own, the plain signal of the instrument as a WAV or FLAC file. From the folder {root}:

  {sublatch} take TAKE.wav
      says whether it is fit to use
  {sublatch} render TAKE.wav -c gated-swept -o my-sounds/octave.wav
      plays it through one circuit
  {sublatch} demo my-sounds/own
      makes a folder to start from: put your take into it and name it in its audition.toml
  {sublatch} audition my-sounds/own/audition.toml
      renders what that plan asks for
  {sublatch} --help
      has the rest"""


def main() -> int:
    """Prepare, do the main job, and say where the results are."""
    began = time.monotonic()
    prepare()
    print(f"Auditioning {PLAN.relative_to(ROOT)}", flush=True)
    status = run("-m", "sublatch", "audition", str(PLAN), "-o", str(RESULTS))
    page = RESULTS / "index.html"
    if page.exists():
        print(f"\nOpen this page in a browser, with headphones on and the level low to begin with:\n  {page}")
    if status:
        print(f"\nThe audition ended with status {status}; what went wrong stands above.", file=sys.stderr)
    else:
        command = r".venv\Scripts\sublatch" if os.name == "nt" else ".venv/bin/sublatch"
        print(HINTS.format(root=ROOT, sublatch=command))
    print(f"\nDone in {time.monotonic() - began:.0f} s.")
    return status


if __name__ == "__main__":
    sys.exit(run_calmly(main))
