"""What goes before the detector's low-pass, and that low-pass, as components."""

from __future__ import annotations

from sublatch.board.builder import Builder
from sublatch.board.filters import add_filter, ends_in_op_amp
from sublatch.board.netlist import BIAS
from sublatch.circuit.detectors.base import BAND, BLENDED, NOTE, RECTIFIED, RectifiedPath
from sublatch.circuit.detectors.leveller import Leveller

RECTIFIER_OHM = 10e3
"""Three resistors of the rectifier; the other two are twice as large."""
SIGNAL_DIODE = "1N4148"


def add_detector(builder: Builder) -> str:
    """Put all that lies ahead of the comparators and return the net that they watch."""
    detector = builder.circuit.detector
    path, net = detector.rectified_path, NOTE
    if path is not None:
        builder.block = "overtone"
        _rectifier(builder, _band(builder, path), negative=path.sign < 0)
        coarse = {part.name: "10 %" for part in path.couplings}
        builder.network(path.blend, prefix="detector.", notes=path.notes, tolerances=coarse)
        net = BLENDED
    builder.block = "detector"
    net = add_filter(builder, detector.filter, path="detector.filter", source=net, output="detected")
    if detector.leveller is not None:
        net = _leveller(builder, detector.leveller, net)
    return net


def _band(builder: Builder, path: RectifiedPath) -> str:
    """Put the band ahead of the rectifier and return its net, which an op-amp drives."""
    builder.network(path.band, prefix="detector.", notes=path.notes, tolerances={})
    net = add_filter(builder, path.filter, path=f"detector.{path.filter_setting}", source=BAND, output="band")
    if not ends_in_op_amp(path.filter):
        builder.op_amp("detector.band.second_follower", net, "band.driven", "band.driven", note="drives the rectifier")
        net = "band.driven"
    return net


def _rectifier(builder: Builder, source: str, *, negative: bool) -> None:
    """Put a precision full-wave rectifier, from the band to net ``rectified``.

    Its first op-amp gives −x of the positive half waves, its second −(x − 2x) = x of them and −x of the negative ones.
    With both diodes turned round it is the other way about: −x of the positive half waves, x of the negative ones.
    """
    note = "rectifier; the five match within 1 %"
    builder.resistor("rectifier.input", RECTIFIER_OHM, source, "rectifier.minus", note=note)
    builder.resistor("rectifier.feedback", RECTIFIER_OHM, "rectifier.half", "rectifier.minus", note=note)
    idle, passed = ("positive", "negative") if negative else ("negative", "positive")
    for role, nets, halves in (("clamp", ("drive", "minus"), idle), ("diode", ("half", "drive"), passed)):
        anode, cathode = (f"rectifier.{net}" for net in (reversed(nets) if negative else nets))
        builder.diode(f"rectifier.{role}", SIGNAL_DIODE, anode, cathode, note=f"{halves} half waves")
    builder.op_amp("rectifier.first", BIAS, "rectifier.minus", "rectifier.drive", note="half-wave rectifier")
    builder.resistor("rectifier.plain", 2 * RECTIFIER_OHM, source, "rectifier.sum", note=note)
    builder.resistor("rectifier.halved", RECTIFIER_OHM, "rectifier.half", "rectifier.sum", note=note)
    builder.resistor("rectifier.gain", 2 * RECTIFIER_OHM, "rectifier.sum", RECTIFIED, note=note)
    builder.op_amp("rectifier.second", BIAS, "rectifier.sum", RECTIFIED, note="adds both to a full wave")


def _leveller(builder: Builder, leveller: Leveller, source: str) -> str:
    """Put the leveller's store and a block for the rest of it, and return the net of its output."""
    path = "detector.leveller"
    pins = (("in", source), ("out", "levelled"), ("store", "leveller.store"))
    note = f"gain: {leveller.target:g} V over the stored peak, at most {leveller.most_gain:g}"
    builder.other("X", "block", "leveller", path, pins, path=path, note=note)
    builder.resistor(f"{path}.hold_resistor", leveller.hold_resistor, "leveller.store", BIAS)
    builder.capacitor(f"{path}.hold_capacitor", leveller.hold_capacitor, "leveller.store", BIAS, tolerance="10 %")
    builder.notes.append(
        "The leveller divides by the stored peak, which no few parts do truly: it is drawn as a block, to be built "
        "as any voltage-controlled amplifier with that law."
    )
    return "levelled"
