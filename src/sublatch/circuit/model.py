"""A circuit: its component values, knobs and switches, as checked data."""

from __future__ import annotations

from typing import Any, Literal, Self, get_args

from pydantic import Field, model_validator

from sublatch.checked import Checked
from sublatch.circuit.components.controls import Drive, HardwiredControls, Peak, Pot, without_control
from sublatch.circuit.components.quantities import (
    UNITY,
    Farads,
    Ohms,
    OptionalOhms,
    Position,
    Share,
    Supply,
    Volts,
    VolumePosition,
)
from sublatch.circuit.detectors.base import DetectorKind
from sublatch.circuit.detectors.kinds import Detector
from sublatch.circuit.detectors.peak_latch import PeakLatch
from sublatch.circuit.filters.kinds import Filter
from sublatch.circuit.filters.none import NoFilter
from sublatch.circuit.octave_stages.base import OctaveStage
from sublatch.circuit.octave_stages.kinds import Octave
from sublatch.circuit.origins import Origin, check_origins
from sublatch.errors import CircuitError

HALF_WAY: float = 5.0


class Knobs(Checked):
    """Where the knobs stand, 0 to 10."""

    volume: VolumePosition = Field(
        5.0, description='Volume of the effect; at `"unity"` it is as loud as the bypassed take.'
    )
    direct: Position = Field(0.0, description="How much of the direct signal is mixed in.")
    tone: Position | None = Field(None, description="Sweep of the output filter, where it has one.")


class Switches(Checked):
    """Which way the switches stand."""

    drive: Drive = Field("normal", description="Inverted turns the note over before the comparator.")
    peak: Peak | None = Field(None, description="Peak of the output filter, where it has the switch.")


class Input(Checked):
    """What the instrument sees."""

    coupling: Farads = Field(22e-9, description="Input coupling capacitor.")
    resistance: Ohms = Field(1e6, description="Input resistance to ground after it.")


class Divider(Checked):
    """The flip-flops."""

    stages: Literal[1, 2] = Field(1, description="1 for an octave down, 2 for two.")


class Mix(Checked):
    """Two resistors that add octave and direct signal, and the pot that feeds the direct one."""

    octave_resistor: Ohms = Field(22e3, description="From the output filter to the joint.")
    direct_resistor: Ohms = Field(22e3, description="From the direct pot's wiper to the joint.")
    direct_pot: Pot = Field(Pot(value=10e3, taper="linear"), description="The direct knob's pot.")


class Output(Checked):
    """Volume pot, load and output buffer."""

    coupling: Farads = Field(1e-6, description="Capacitor ahead of the volume pot.")
    trim_resistor: OptionalOhms = Field(None, description='Fixed resistor ahead of the pot, or "none".')
    pot: Pot = Field(Pot(value=100e3, taper="linear"), description="The volume knob's pot.")
    load: Ohms = Field(1e6, description="Resistance that the wiper works into.")
    feedback_resistor: Ohms = Field(100e3, description="From the output buffer's output to its minus input.")
    ground_resistor: Ohms = Field(8.2e3, description="From the buffer's minus input to ground: gain 1 + Rf / Rg.")
    low_margin: Volts = Field(1.5, description="How near the buffer's output comes to 0 V.")
    high_margin: Volts = Field(1.5, description="How near the buffer's output comes to the supply.")
    bias: Share = Field(0.5, description="Where the output idles, as a share of the supply.")


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
        description="What the board has no knob or switch for: the drive is wired as it stands, and without the direct "
        "pot `knobs.direct` is 0. A list, or words apart by commas.",
    )
    input: Input = Input()
    detector: Detector = PeakLatch()
    divider: Divider = Divider()
    octave: Octave = Field(description="The octave stage.")
    filter: Filter = Field(NoFilter(), description="The output filter.")
    mix: Mix = Mix()
    output: Output = Output()
    origins: dict[str, Origin] = Field(
        {},
        exclude=True,
        description="Where values come from, by their dotted paths, for a box of which not all is known.",
    )

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
        for name, chosen in self.detector.filters.items():
            if chosen.works_with_tone or chosen.works_with_peak:
                raise ValueError(f"detector.{name}: the detector has no knob or switch; give this filter fixed parts")
        for name, setting, works in (
            ("knobs.tone", self.knobs.tone, self.filter.works_with_tone),
            ("switches.peak", self.switches.peak, self.filter.works_with_peak),
        ):
            if not works and setting is not None:
                raise ValueError(without_control(name, filter_kind=self.filter.kind))
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

    @model_validator(mode="after")
    def _has_no_direct_signal_without_its_pot(self) -> Self:
        """Refuse a direct knob that is turned up and not there."""
        if "direct" in (self.hardwired or ()) and self.knobs.direct:
            raise ValueError(
                f"knobs.direct must be 0 where hardwired names the direct pot, got {self.knobs.direct:g}; "
                f'set knobs.direct to 0, or take "direct" out of hardwired'
            )
        return self

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


def _kinds_of(table: str) -> dict[str, Any]:
    """Return the kinds of record that the circuit's field of this name takes."""
    return {kind.model_fields["kind"].default: kind for kind in get_args(Circuit.model_fields[table].annotation)}
