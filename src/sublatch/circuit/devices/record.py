"""Which classes of parts a circuit is built of, and whether they count as ideal, typical, worst or as drawn by lot."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from sublatch.checked import Checked
from sublatch.circuit.components.quantities import OptionalAmps, OptionalVolts
from sublatch.circuit.components.tolerances import Distribution
from sublatch.circuit.devices.catalogue import (
    COMPARATORS,
    DIODES,
    OP_AMPS,
    SWITCHES,
    ComparatorName,
    DiodeName,
    OpAmpName,
    SwitchName,
)
from sublatch.circuit.devices.classes import ComparatorClass, DiodeClass, OpAmpClass, SwitchClass

Values = Literal["ideal", "typical", "worst", "drawn"]


class Devices(Checked):
    """The classes of parts on the board, and how far from ideal they are."""

    values: Values = Field(
        "typical",
        description="`ideal` parts are not off at all, `typical` and `worst` ones by what their class says, `drawn` "
        "ones by anything up to the worst. Which way each is off follows `board`.",
    )
    board: Annotated[int, Field(ge=1, le=10**6)] = Field(
        1, description="Which board it is: another number is another draw, the same number the same one."
    )
    distribution: Distribution = Field(
        "uniform",
        description="How drawn values are spread: `uniform` up to the worst, or `normal` with that at 3 sigma.",
    )
    hiss: bool = Field(False, description="Add the noise of resistors and op-amps to the sound.")
    op_amp: OpAmpName = Field("fet-input", description="Class of the op-amps.")
    comparator: ComparatorName = Field("open-collector", description="Class of the comparators.")
    diode: DiodeName = Field("switching", description="Class of the small-signal diodes.")
    switch: SwitchName = Field("cmos", description="Class of switch and flip-flops.")
    op_amp_offset: OptionalVolts = Field(
        None, description="Largest offset of your op-amps, in place of the class's; typical too."
    )
    op_amp_bias: OptionalAmps = Field(
        None, description="Largest bias current of your op-amps, likewise; minus where it flows out of the input."
    )
    comparator_offset: OptionalVolts = Field(None, description="Largest offset of your comparators, likewise.")
    comparator_bias: OptionalAmps = Field(None, description="Largest bias current of your comparators, likewise.")
    diode_leakage: OptionalAmps = Field(None, description="Largest leakage of your diodes, likewise.")

    @property
    def op_amp_class(self) -> OpAmpClass:
        """The class of the op-amps."""
        return OP_AMPS[self.op_amp]

    @property
    def comparator_class(self) -> ComparatorClass:
        """The class of the comparators."""
        return COMPARATORS[self.comparator]

    @property
    def diode_class(self) -> DiodeClass:
        """The class of the small-signal diodes."""
        return DIODES[self.diode]

    @property
    def switch_class(self) -> SwitchClass:
        """The class of switch and flip-flops."""
        return SWITCHES[self.switch]
