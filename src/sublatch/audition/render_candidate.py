"""One candidate's sound on a take: rendered, measured as it is and as it is heard, and written."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sublatch.audition.folder.layout import Layout
from sublatch.audition.folder.manifest import Ledger, digest
from sublatch.audition.folder.sound_script import write_carrier
from sublatch.audition.listen.loudspeaker import voiced
from sublatch.audition.listen.measurements import Facts, known_facts, measure
from sublatch.audition.listen.monitor import Place
from sublatch.audition.plan.records import BYPASSED, Candidate
from sublatch.files.sound import write_audio
from sublatch.rendering import fitted, metadata
from sublatch.signal.cache import StageCache
from sublatch.signal.chain import render
from sublatch.signal.moving import render_moving
from sublatch.takes.take import Take

Signal = NDArray[np.float64]


@dataclass(frozen=True)
class Measured:
    """A candidate measured, None for the take itself; `heard` is through the voicing, `plain` without one.

    Both are told by keys that stand for all they depend on; `samples` are in volts, where they are kept.
    """

    candidate: Candidate | None
    plain_key: str
    plain: Facts
    heard_key: str
    heard: Facts
    samples: Signal | None

    @property
    def name(self) -> str:
        """What it is called."""
        return self.candidate.name if self.candidate else BYPASSED

    def note(self, ledger: Ledger) -> None:
        """Note what was measured, for the next run."""
        ledger.measure(self.plain_key, self.plain.to_dict())
        ledger.measure(self.heard_key, self.heard.to_dict())


def measured_sound(
    take: Take, cache: StageCache, ledger: Ledger, place: Place, candidate: Candidate | None, *, keep: bool
) -> Measured:
    """Return a candidate measured, from an earlier run where that measured the very same.

    Parameters
    ----------
    take
        The take.
    cache
        Results shared by its candidates.
    ledger
        What an earlier run has measured.
    place
        What the take is listened through.
    candidate
        The candidate; None for the take itself.
    keep
        Whether to keep the samples, when they had to be made.
    """
    key = sound_key(take, candidate)
    heard_key = key if place.voicing is None else digest(key, place.voicing_digest)
    plain, heard = known_facts(ledger.measured(key)), known_facts(ledger.measured(heard_key))
    samples = None
    if plain is None or heard is None:
        samples, share = rendered(take, candidate, cache)
        if plain is None:
            plain = _facts(take, samples, share)
        if heard is None:
            through = heard_through(take, place)
            heard = plain if through is None else _facts(take, through(samples), share)
    return Measured(candidate, key, plain, heard_key, heard, samples if keep else None)


def sound_key(take: Take, candidate: Candidate | None) -> str:
    """Return what stands for all that a candidate's sound on a take depends on; the take itself for None."""
    return digest(take.fingerprint(), *_made_by(candidate))


def heard_through(take: Take, place: Place) -> Callable[[Signal], Signal] | None:
    """Return what puts volts (n,) of a take through the voicing; None without one."""
    if place.voicing is None:
        return None
    return partial(voiced, sample_rate=take.sample_rate, voicing=place.voicing)


def rendered(take: Take, candidate: Candidate | None, cache: StageCache) -> tuple[Signal, float]:
    """Return a candidate's output in volts and its share of time at the limits; the take itself for None."""
    if candidate is None:
        return take.samples, 0.0
    if candidate.moves:
        made = render_moving(take, candidate.circuit, candidate.moves, cache=cache)
    else:
        made = render(take, candidate.circuit, cache=cache)
    return made.samples, made.at_limit_share


def write_sound(take: Take, cache: StageCache, layout: Layout, ledger: Ledger, item: Measured, gain_db: float) -> str:
    """Write a candidate's files unless they are there already; return what stands for their content.

    Parameters
    ----------
    take, cache, layout, ledger
        The take, what its candidates share, where it goes, and what is there.
    item
        The candidate.
    gain_db
        Gain of the file. It holds what the circuit gives, without voicing and bed.

    Raises
    ------
    OutputError
        When a file cannot be written.
    """
    path = layout.sound(take.name, item.name)
    one = item.candidate
    circuit, settings, moves = (one.circuit, one.settings, one.moves) if one else (None, {}, ())
    comment = metadata(take, circuit, settings, gain_db, moves=moves)
    key = digest(item.plain_key, gain_db, item.name, take.name, comment)
    if not ledger.is_current(path, key):
        samples = item.samples if item.samples is not None else rendered(take, one, cache)[0]
        write_audio(
            path,
            fitted(samples / take.full_scale_volts, gain_db),
            take.sample_rate,
            title=f"{take.name}: {item.name}",
            comment=comment,
        )
        ledger.wrote(path, key)
    carrier, sound = layout.carrier(take.name, item.name), ledger.sha256(path)
    if not ledger.is_current(carrier, sound):
        write_carrier(carrier, path, key=sound)
        ledger.wrote(carrier, sound)
    return key


def _made_by(candidate: Candidate | None) -> list[Any]:
    """Return the facts that a rendering depends on besides the take."""
    if candidate is None:
        return [None]
    moves = [asdict(move) for move in candidate.moves]
    return [candidate.circuit.model_dump(mode="json"), *([moves] if moves else [])]


def _facts(take: Take, samples: Signal, at_limit_share: float) -> Facts:
    """Return what is measured of volts (n,) of a take."""
    return measure(
        samples,
        sample_rate=take.sample_rate,
        full_scale_volts=take.full_scale_volts,
        at_limit_share=at_limit_share,
    )
