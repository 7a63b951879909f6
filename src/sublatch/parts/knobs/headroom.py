"""Headroom: how near a take comes to the limits of the supply, and which op-amp reaches them first."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from sublatch.arrays import Signal
from sublatch.circuit.components.controls import Peak
from sublatch.circuit.components.pots import FULL_TURN
from sublatch.circuit.idle import op_amp_limits_v, output_limits_v
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.elements import OpAmp
from sublatch.circuit.signal_path import output_network
from sublatch.circuit.with_settings import with_settings
from sublatch.sampling.rates import doubled
from sublatch.signal.node_voltages import OutputSources, node_voltages, output_voltages
from sublatch.signal.unity import LEAST_POSITION, volume_gain_db

SUPPLIES_VOLTS = (9.6, 9.0, 7.5, 6.0)
"""A fresh battery, its name, a worn one and one to throw away."""
TONES = tuple(float(position) for position in range(11))
NEARER = (0.5, 0.2, 0.2, 0.1)
"""Steps in which the hardest tone is closed in on, from the hardest whole position to a tenth."""


@dataclass(frozen=True)
class AtSupply:
    """A take at one supply voltage.

    Attributes
    ----------
    supply_volts
        The supply.
    headroom_db
        How much louder the output could be before the output buffer reaches its limits, in dB; below 0 it is past
        them, None where the limits leave no room at all or nothing sounds.
    at_limit_share
        Share of time that the output buffer is at its limits, 0 to 1.
    """

    supply_volts: float
    headroom_db: float | None
    at_limit_share: float


@dataclass(frozen=True)
class Hardest:
    """A take with the tone knob where it leaves the output buffer the least headroom.

    Attributes
    ----------
    tone
        That position; where several are as hard to a tenth of a decibel, one of them.
    headroom_db
        The headroom there at the circuit's own supply; below 0 the output clips.
    at_limit_share
        Share of time that the output buffer is at its limits there, 0 to 1.
    """

    tone: float
    headroom_db: float
    at_limit_share: float


@dataclass(frozen=True)
class Headroom:
    """A take at one position of the volume knob and the peak switch.

    Attributes
    ----------
    at
        Which position of the volume knob this is: ``unity``, ``set``, ``full`` (at 10), or ``clips``, where clipping
        begins.
    volume, tone, peak
        Where the knobs and the switch stand; None for what the circuit does not have.
    supply_volts
        The circuit's own supply.
    supplies
        What the output buffer does at each supply voltage.
    node_headroom_db
        Headroom of every op-amp in the path at the circuit's own supply, in dB, from input to output.
    first
        The op-amp that reaches its limits first; None where nothing sounds.
    hardest
        Where the tone knob leaves the output buffer the least headroom; None without the knob, or where nothing sounds.
    """

    at: str
    volume: float
    tone: float | None
    peak: Peak | None
    supply_volts: float
    supplies: tuple[AtSupply, ...]
    node_headroom_db: dict[str, float | None]
    first: str | None
    hardest: Hardest | None


def headroom(source: OutputSources, circuit: Circuit, *, unity_position: float | None) -> list[Headroom]:
    """Return a take's headroom at unity, as the knobs are set, at full volume and where clipping begins.

    Parameters
    ----------
    source
        The take, from `output_sources`.
    circuit
        The circuit.
    unity_position
        Where unity is on its volume knob; None leaves it out.

    Returns
    -------
    list of Headroom
        By position, flat and peaked at each. Where the output buffer does not clip even at 10, none where it begins to.

    Notes
    -----
    Every op-amp but the output buffer is taken to idle at the output buffer's bias and to go as far as its class says,
    an ideal one as far as the buffer; in a rendering only the output buffer clips. The hardest tone is sought at the
    first volume, at whole positions and then closer around the hardest of them, and is taken to be the same at the
    others: what the volume pot does hardly hangs on the tone. Where clipping begins follows from full volume, by the
    network's gain at 1 kHz.
    """
    volumes = {} if unity_position is None else {"unity": unity_position}
    volumes |= {"set": circuit.volume, "full": FULL_TURN}
    rows: list[Headroom] = []
    for peak in circuit.filter.peaks:
        tone = None
        for at, volume in volumes.items():
            stands = with_settings(circuit, {"switches.peak": peak, "knobs.volume": volume})
            rows.append(_headroom(source, stands, at, tone))
            tone = None if rows[-1].hardest is None else rows[-1].hardest.tone
        begins = _clipping_begins(circuit, rows[-1].node_headroom_db[BUFFER_NAME])
        if begins is not None:
            stands = with_settings(circuit, {"switches.peak": peak, "knobs.volume": begins})
            rows.append(_headroom(source, stands, "clips", tone))
    return [row for at in (*volumes, "clips") for row in rows if row.at == at]


def _clipping_begins(circuit: Circuit, full_room_db: float | None) -> float | None:
    """Return the position of the volume knob at which the output buffer begins to clip; None where it never does."""
    if full_room_db is None or full_room_db >= 0.0:
        return None
    wanted_db = volume_gain_db(circuit, FULL_TURN) + full_room_db

    def over_db(position: float) -> float:
        return volume_gain_db(circuit, position) - wanted_db

    if over_db(LEAST_POSITION) >= 0.0:
        return None
    return float(brentq(over_db, LEAST_POSITION, FULL_TURN, xtol=1e-4))


def peak_cost_db(rows: Iterable[Headroom], at: str) -> float | None:
    """Return how much headroom the peaked position costs in dB, at ``set`` or ``unity``; None without the switch."""
    by_peak = {row.peak: row.node_headroom_db[BUFFER_NAME] for row in rows if row.at == at}
    flat, peaked = by_peak.get("flat"), by_peak.get("peaked")
    return None if flat is None or peaked is None else flat - peaked


def op_amps(circuit: Circuit) -> dict[str, str]:
    """Return the output node of every op-amp after the octave stage, by what it is called, from input to output."""
    amps = {part.name: part.output for part in output_network(circuit).parts if isinstance(part, OpAmp)}
    names = {name: name.replace(".", " ") for name in amps}
    for path, words in (("filter.", "output filter"), ("mix.direct_filter.", "direct filter")):
        within = [name for name in amps if name.startswith(path)]
        for name in within:
            names[name] = words if len(within) == 1 else f"{words} {name.removeprefix(path)}"
    return {names[name]: node for name, node in amps.items()}


BUFFER_NAME = "output buffer"
INPUT_NAME = "input follower"


def _headroom(source: OutputSources, circuit: Circuit, at: str, hardest_tone: float | None) -> Headroom:
    """Return the headroom of a circuit as it stands, and with its tone knob where it is hardest, sought or known."""
    nodes = op_amps(circuit)
    made = dict(zip(nodes, node_voltages(source, circuit, list(nodes.values())), strict=True))
    out = doubled(made[BUFFER_NAME])
    signals = {INPUT_NAME: source.direct, **made, BUFFER_NAME: out}
    by_node = {
        name: _room_db(_extremes(samples), (output_limits_v if name == BUFFER_NAME else op_amp_limits_v)(circuit))
        for name, samples in signals.items()
    }
    sounding = {name: room for name, room in by_node.items() if room is not None}
    return Headroom(
        at=at,
        volume=circuit.volume,
        tone=circuit.tone,
        peak=circuit.peak,
        supply_volts=circuit.supply,
        supplies=tuple(_at_supply(out, circuit, volts) for volts in SUPPLIES_VOLTS),
        node_headroom_db=by_node,
        first=min(sounding, key=sounding.__getitem__) if sounding else None,
        hardest=_hardest(source, circuit, hardest_tone),
    )


def _at_supply(fine: Signal, circuit: Circuit, volts: float) -> AtSupply:
    """Return what the output buffer does with a signal (n,) at one supply voltage."""
    low, high = output_limits_v(circuit.model_copy(update={"supply": volts}))
    if not low < 0.0 < high:
        return AtSupply(volts, None, 1.0)
    share = float(np.mean((fine > high) | (fine < low)))
    return AtSupply(volts, _room_db(_extremes(fine), (low, high)), share)


def _hardest(source: OutputSources, circuit: Circuit, known_tone: float | None) -> Hardest | None:
    """Return where the tone knob leaves the output buffer the least headroom, sought where it is not known."""
    if circuit.tone is None:
        return None
    tried: dict[float, Hardest] = {}

    def attempt(*positions: float) -> None:
        tones = [
            tone for tone in (round(one, 1) for one in positions) if 0.0 <= tone <= FULL_TURN and tone not in tried
        ]
        outputs = output_voltages(source, [with_settings(circuit, {"knobs.tone": tone}) for tone in tones])
        for tone, out in zip(tones, outputs, strict=True):
            there = _at_supply(doubled(out), circuit, circuit.supply)
            if there.headroom_db is not None:
                tried[tone] = Hardest(tone, there.headroom_db, there.at_limit_share)

    def best() -> Hardest | None:
        return min(tried.values(), key=lambda one: one.headroom_db, default=None)

    attempt(*(TONES if known_tone is None else (known_tone,)))
    for step in NEARER if known_tone is None else ():
        if (middle := best()) is not None:
            attempt(middle.tone - step, middle.tone + step)
    return best()


def _extremes(samples: Signal) -> tuple[float, float]:
    """Return the lowest and highest of samples, 0 among them."""
    return float(np.min(samples, initial=0.0)), float(np.max(samples, initial=0.0))


def _room_db(extremes: tuple[float, float], limits: tuple[float, float]) -> float | None:
    """Return by how much a signal between its extremes could grow before it reaches limits, in dB."""
    used = max(extremes[0] / limits[0], extremes[1] / limits[1])
    return float(-20.0 * np.log10(used)) if used > 0.0 else None
