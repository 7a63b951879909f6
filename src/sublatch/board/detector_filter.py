"""What goes before the detector's low-pass, and that low-pass, as components."""

from __future__ import annotations

from sublatch.board.builder import Builder
from sublatch.board.netlist import BIAS
from sublatch.board.output_filter import add_filter, ends_in_op_amp
from sublatch.circuit.detectors.kinds import Band, Blend, Leveller, Overtone

RECTIFIER_OHM = 10e3
"""Three resistors of the rectifier; the other two are twice as large."""
SIGNAL_DIODE = "1N4148"


def add_detector_filter(builder: Builder) -> str:
    """Put all that lies ahead of the comparators and return the net that they watch."""
    detector = builder.circuit.detector
    heard = "note"
    if isinstance(detector, Overtone):
        builder.block = "overtone"
        banded = _band(builder, detector.band)
        _rectifier(builder, banded, negative=detector.band.rectifier == "negative")
        _blend(builder, detector.blend)
        heard = "blended"
    builder.block = "detector"
    heard = add_filter(builder, detector.filter, path="detector.filter", source=heard, output="detected")
    if detector.leveller is not None:
        heard = _leveller(builder, detector.leveller, heard)
    return heard


def _band(builder: Builder, band: Band) -> str:
    """Put high-pass, follower and low-pass, and return the net of the band."""
    builder.capacitor("detector.band.capacitor", band.capacitor, "note", "band.a")
    builder.resistor("detector.band.resistor", band.resistor, "band.a", BIAS)
    builder.op_amp("detector.band.follower", "band.a", "high", "high", note="follower of the high-pass")
    net = add_filter(builder, band.filter, path="detector.band.filter", source="high", output="band")
    if not ends_in_op_amp(band.filter):
        builder.op_amp("detector.band.second_follower", net, "band.driven", "band.driven", note="drives the rectifier")
        net = "band.driven"
    return net


def _rectifier(builder: Builder, source: str, *, negative: bool) -> None:
    """Put a precision full-wave rectifier, from the band to net ``rectified``.

    Its first op-amp gives −x of the positive half waves, its second −(x − 2x) = x of them and −x of the negative ones.
    With both diodes turned round it is the other way about: −x of the positive half waves, x of the negative ones.
    """
    r = RECTIFIER_OHM
    note = "rectifier; the five match within 1 %"
    builder.resistor("rectifier.input", r, source, "rectifier.minus", note=note)
    builder.resistor("rectifier.feedback", r, "rectifier.half", "rectifier.minus", note=note)
    idle, passed = ("positive", "negative") if negative else ("negative", "positive")
    for role, nets, halves in (("clamp", ("drive", "minus"), idle), ("diode", ("half", "drive"), passed)):
        anode, cathode = (f"rectifier.{net}" for net in (reversed(nets) if negative else nets))
        builder.diode(f"rectifier.{role}", SIGNAL_DIODE, anode, cathode, note=f"{halves} half waves")
    builder.op_amp("rectifier.first", BIAS, "rectifier.minus", "rectifier.drive", note="half-wave rectifier")
    builder.resistor("rectifier.plain", 2 * r, source, "rectifier.sum", note=note)
    builder.resistor("rectifier.halved", r, "rectifier.half", "rectifier.sum", note=note)
    builder.resistor("rectifier.gain", 2 * r, "rectifier.sum", "rectified", note=note)
    builder.op_amp("rectifier.second", BIAS, "rectifier.sum", "rectified", note="adds both to a full wave")


def _blend(builder: Builder, blend: Blend) -> None:
    """Put the rectifier's coupling, the two resistors that add, and the amplifier after them."""
    path = "detector.blend"
    builder.capacitor(f"{path}.coupling", blend.coupling, "rectified", "blend.coupled", tolerance="10 %")
    builder.resistor(f"{path}.rectified_resistor", blend.rectified_resistor, "blend.coupled", "blend.joint")
    builder.resistor(f"{path}.plain_resistor", blend.plain_resistor, "note", "blend.joint")
    builder.resistor(f"{path}.feedback_resistor", blend.feedback_resistor, "blended", "blend.minus")
    builder.resistor(f"{path}.ground_resistor", blend.ground_resistor, "blend.minus", BIAS)
    builder.op_amp(f"{path}.amplifier", "blend.joint", "blend.minus", "blended", note="amplifier after the blend")


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
