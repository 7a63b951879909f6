"""A circuit: its component values, knobs and switches, as checked data."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal, Self, get_args

from pydantic import Field, model_validator

from sublatch.checked import Checked
from sublatch.circuit.components.controls import Drive, HardwiredControls, Peak, without_control
from sublatch.circuit.components.quantities import (
    LEFT_OUT,
    UNITY,
    Farads,
    Henries,
    Ohms,
    Position,
    Supply,
    VolumePosition,
)
from sublatch.circuit.detectors.base import DetectorKind
from sublatch.circuit.detectors.kinds import Detector
from sublatch.circuit.detectors.overtone import Overtone
from sublatch.circuit.devices.record import Devices
from sublatch.circuit.filters.kinds import Filter
from sublatch.circuit.filters.none import NoFilter
from sublatch.circuit.mixing.base import MixKind
from sublatch.circuit.mixing.kinds import Mix
from sublatch.circuit.mixing.two_resistors import TwoResistors
from sublatch.circuit.octave_stages.base import OctaveStage
from sublatch.circuit.octave_stages.kinds import Octave
from sublatch.circuit.origins import Origin, check_origins
from sublatch.circuit.output_buffers.base import OutputStage
from sublatch.circuit.output_buffers.kinds import Output
from sublatch.circuit.output_buffers.non_inverting import NonInverting
from sublatch.errors import CircuitError

HALF_WAY: float = 5.0


class Knobs(Checked):
    """Where the knobs stand, 0 to 10."""

    volume: VolumePosition = Field(
        5.0, description='Volume of the effect; at `"unity"` it is as loud as the bypassed take.'
    )
    direct: Position = Field(0.0, description="How much of the direct signal is mixed in, where it can be.")
    direct_tone: Position | None = Field(None, description="Sweep of the direct signal's own filter, where it has one.")
    tone: Position | None = Field(None, description="Sweep of the output filter, where it has one.")


class Switches(Checked):
    """Which way the switches stand."""

    drive: Drive = Field("normal", description="Inverted turns the note over before the comparator.")
    peak: Peak | None = Field(None, description="Peak of the output filter, where it has the switch.")


class Pickup(Checked):
    """A passive instrument's pickup and cable, which the input resistance loads."""

    resistance: Ohms = Field(8e3, description="Resistance of its coil.")
    inductance: Henries = Field(4.0, description="Inductance of its coil.")
    cable: Farads = Field(500e-12, description="Capacitance of coil and cable together.")


class Input(Checked):
    """What the instrument sees."""

    pickup: Annotated[Pickup | None, LEFT_OUT] = Field(
        None,
        description='A pickup as the source, or "none" for a take that was recorded through a low load, as a DI box '
        "or active electronics have: the take is then what the input gets.",
    )

    coupling: Farads = Field(22e-9, description="Input coupling capacitor.")
    resistance: Ohms = Field(1e6, description="Input resistance to ground after it.")


class Divider(Checked):
    """The flip-flops."""

    stages: Literal[1, 2] = Field(1, description="1 for an octave down, 2 for two.")


class Circuit(Checked):
    """A signal path from the instrument to the output jack."""

    title: str = Field(description="What the circuit is, in a few words.")
    supply: Supply = Field(
        9.0, description="Supply voltage; a fading battery is just a lower one. A board's parts bear 18 V."
    )
    knobs: Knobs = Knobs()
    switches: Switches = Switches()
    hardwired: HardwiredControls | None = Field(
        None,
        description="What the board has no switch for: the drive is wired as `switches.drive` stands. "
        "A list, or words apart by commas.",
    )
    input: Input = Input()
    detector: Detector = Overtone()
    divider: Divider = Divider()
    octave: Octave = Field(description="The octave stage.")
    filter: Filter = Field(NoFilter(), description="The output filter.")
    mix: Mix = TwoResistors()
    output: Output = NonInverting()
    devices: Devices = Devices()
    origins: dict[str, Origin] = Field(
        {},
        exclude=True,
        description="Where values come from, by their dotted paths, for a box of which not all is known.",
    )

    @model_validator(mode="before")
    @classmethod
    def _with_kinds_left_out(cls, data: Any) -> Any:
        """Put in the kinds of mixing stage and output buffer that a file leaves out."""
        return with_kinds_left_out(data) if isinstance(data, Mapping) else data

    def __hash__(self) -> int:
        """Return a number that equal circuits share, whatever their marks are."""
        return hash(tuple(getattr(self, name) for name in type(self).model_fields if name != "origins"))

    @model_validator(mode="after")
    def _marks_what_it_has(self) -> Self:
        """Refuse a mark for what is no value here."""
        if self.origins:
            check_origins(self, self.origins)
        return self

    @model_validator(mode="after")
    def _has_the_controls_it_names(self) -> Self:
        """Refuse a knob or switch that is not there."""
        for name, chosen in self.detector.front.filters.items():
            if chosen.works_with_tone or chosen.works_with_peak:
                raise ValueError(f"detector.{name}: the detector has no knob or switch; give this filter fixed parts")
        set_there = {
            "knobs.tone": self.knobs.tone is not None,
            "switches.peak": self.switches.peak is not None,
            "knobs.direct": self.knobs.direct != 0.0,
            "knobs.direct_tone": self.knobs.direct_tone is not None,
        }
        for name, fault in self.absent_controls.items():
            if set_there[name]:
                raise ValueError(fault)
        return self

    @model_validator(mode="after")
    def _has_room(self) -> Self:
        """Refuse a supply that leaves the output no room."""
        low, high = self.limits
        if not low < 0.0 < high:
            raise ValueError(
                f"the output must have room on both sides of its bias, got limits of {low:+.3g} V and {high:+.3g} V; "
                f"is a supply of {self.supply:g} V too low for margins of "
                f"{self.output.low_margin:g} V and {self.output.high_margin:g} V?"
            )
        return self

    @property
    def absent_controls(self) -> dict[str, str]:
        """What is wrong with setting each knob and switch that this circuit does not have, by its path."""
        filter_, low_pass = f"its output filter is filter.kind = {self.filter.kind!r}", self.mix.direct_low_pass
        absent = {}
        for name, works in (
            ("knobs.tone", self.filter.works_with_tone),
            ("switches.peak", self.filter.works_with_peak),
        ):
            if not works:
                absent[name] = without_control(name, why=filter_, instead="filter.kind = 'swept-second-order'")
        if self.mix.direct_pot_there is None:
            why, instead = self.mix.why_no_direct, "mix.kind = 'two-resistors' with its direct_pot"
            absent["knobs.direct"] = without_control("knobs.direct", why=why, instead=instead)
        if low_pass is None or not low_pass.works_with_tone:
            why = self.mix.why_no_direct if low_pass is None else f"mix.direct_filter.kind = {low_pass.kind!r}"
            instead = "mix.direct_filter.kind = 'swept-first-order'"
            absent["knobs.direct_tone"] = without_control("knobs.direct_tone", why=why, instead=instead)
        return absent

    @property
    def direct_tone(self) -> float | None:
        """Position of the direct tone knob, half way when the file does not say; None without one."""
        low_pass = self.mix.direct_low_pass
        if low_pass is None or not low_pass.works_with_tone:
            return None
        return HALF_WAY if self.knobs.direct_tone is None else self.knobs.direct_tone

    @property
    def has_direct(self) -> bool:
        """Whether there is a direct knob."""
        return self.mix.direct_pot_there is not None

    @property
    def sign(self) -> int:
        """The sign that mixing stage and output buffer together give what passes both, 1 or −1."""
        return self.mix.sign * self.output.sign

    @property
    def tone(self) -> float | None:
        """Position of the tone knob, half way when the file does not say; None without one."""
        if not self.filter.works_with_tone:
            return None
        return HALF_WAY if self.knobs.tone is None else self.knobs.tone

    @property
    def peak(self) -> Peak | None:
        """Position of the peak switch, flat when the file does not say; None without one."""
        return (self.switches.peak or "flat") if self.filter.works_with_peak else None

    @property
    def volume(self) -> float:
        """Position of the volume knob.

        Raises
        ------
        CircuitError
            When it stands at unity, which is a number only with a take; see `signal.unity.with_volume_found`.
        """
        if self.knobs.volume == UNITY:
            raise CircuitError(
                f'the volume knob must stand at 0 to 10 by now, got knobs.volume = "{UNITY}" in {self.title!r}, which '
                "is a number only with a take"
            )
        return self.knobs.volume

    @property
    def limits(self) -> tuple[float, float]:
        """Lowest and highest output, in volts from the bias."""
        idle = self.output.bias * self.supply
        return self.output.low_margin - idle, self.supply - self.output.high_margin - idle


def detector_kinds() -> dict[str, type[DetectorKind]]:
    """Return the kinds of detector that a circuit can have, by their words in its file."""
    return _kinds_of("detector")


def octave_stage_kinds() -> dict[str, type[OctaveStage]]:
    """Return the kinds of octave stage that a circuit can have, by their words in its file."""
    return _kinds_of("octave")


def mixing_kinds() -> dict[str, type[MixKind]]:
    """Return the kinds of mixing stage that a circuit can have, by their words in its file."""
    return _kinds_of("mix")


def output_buffer_kinds() -> dict[str, type[OutputStage]]:
    """Return the kinds of output buffer that a circuit can have, by their words in its file."""
    return _kinds_of("output")


def with_kinds_left_out(data: Mapping[str, Any]) -> dict[str, Any]:
    """Return a circuit file's settings with the kinds of mixing stage and output buffer where the file leaves them out.

    Two resistors mix, and the buffer is that which the mixing stage leaves.
    """
    mixed = {**data, "mix": _with_kind(data.get("mix", {}), TwoResistors().kind)}
    return {**mixed, "output": _with_kind(data.get("output", {}), _buffer_after(mixed["mix"]))}


def _with_kind(table: Any, kind: str) -> Any:
    """Return a table of a file with a kind where it has none."""
    return {"kind": kind, **table} if isinstance(table, Mapping) else table


def _buffer_after(mix: Any) -> str:
    """Return the kind of output buffer that a mixing stage leaves."""
    kind = mixing_kinds().get(str(mix.get("kind") if isinstance(mix, Mapping) else getattr(mix, "kind", "")))
    return MixKind.buffer if kind is None else kind.buffer


def _kinds_of(table: str) -> dict[str, Any]:
    """Return the kinds of record that the circuit's field of this name takes."""
    return {kind.model_fields["kind"].default: kind for kind in get_args(Circuit.model_fields[table].annotation)}
