"""The ready-made filters, each a function of its part values that returns a network.

All end in an op-amp follower, so that what comes after does not load them.
"""

from __future__ import annotations

from sublatch.circuit.networks.elements import GROUND, Capacitor, OpAmp, Resistor
from sublatch.circuit.networks.solver import LEAST_OHM, Network


def none() -> Network:
    """Return a plain wire."""
    return Network(parts=(), output="in")


def first_order(*, resistor_ohm: float, capacitor_farad: float) -> Network:
    """Return a resistor into a capacitor to ground, and a follower.

    Notes
    -----
    H(s) = 1 / (1 + s R C).
    """
    return Network(
        (
            Resistor("R1", ("in", "a"), resistor_ohm),
            Capacitor("C1", ("a", GROUND), capacitor_farad),
            OpAmp("U1", plus="a", minus="out", output="out"),
        )
    )


def second_order(*, first_ohm: float, second_ohm: float, ground_farad: float, feedback_farad: float) -> Network:
    """Return a unity-gain Sallen-Key low-pass.

    Parameters
    ----------
    first_ohm, second_ohm
        The two series resistors, from the input on; the gangs of a swept filter.
    ground_farad
        Capacitor from the op-amp's plus input to ground.
    feedback_farad
        Capacitor from the op-amp's output back to the joint of the resistors.

    Notes
    -----
    H(s) = 1 / (1 + s Cg (R1 + R2) + s² R1 R2 Cg Cf). Source: Texas Instruments SLOA024B, unity gain.
    """
    return Network(
        (
            Resistor("R1", ("in", "a"), first_ohm),
            Resistor("R2", ("a", "b"), second_ohm),
            Capacitor("C1", ("b", GROUND), ground_farad),
            Capacitor("C2", ("a", "out"), feedback_farad),
            OpAmp("U1", plus="b", minus="out", output="out"),
        )
    )


def limited_second_order(
    *, gang_ohm: float, start_ohm: float, end_ohm: float, ground_farad: float, feedback_farad: float
) -> Network:
    """Return a unity-gain Sallen-Key low-pass whose two gangs each have a resistor across and one in series.

    Parameters
    ----------
    gang_ohm
        Resistance of each gang from one end of its track to the wiper; at 0 Ω it is a wire.
    start_ohm
        The resistor across each gang.
    end_ohm
        The resistor in series with both.
    ground_farad, feedback_farad
        As for `second_order`.

    Notes
    -----
    As `second_order` with R1 = R2 = R, R = Re + Rg Rs / (Rg + Rs).
    """
    swept: list[Resistor] = []
    for number, start, end in ((1, "in", "a"), (2, "a", "b")):
        joint = start
        if gang_ohm > 0.0:
            joint = f"gang{number}"
            swept.append(Resistor(f"RV{number}", (start, joint), max(gang_ohm, LEAST_OHM)))
            swept.append(Resistor(f"RS{number}", (start, joint), start_ohm))
        swept.append(Resistor(f"R{number}", (joint, end), end_ohm))
    return Network(
        (
            *swept,
            Capacitor("C1", ("b", GROUND), ground_farad),
            Capacitor("C2", ("a", "out"), feedback_farad),
            OpAmp("U1", plus="b", minus="out", output="out"),
        )
    )


def third_order(
    *,
    first_ohm: float,
    second_ohm: float,
    third_ohm: float,
    first_ground_farad: float,
    feedback_farad: float,
    second_ground_farad: float,
) -> Network:
    """Return a third-order unity-gain low-pass around one op-amp.

    Parameters
    ----------
    first_ohm, second_ohm, third_ohm
        The three series resistors, from the input on.
    first_ground_farad
        Capacitor to ground after the first resistor.
    feedback_farad
        Capacitor from the op-amp's output to the joint after the second resistor.
    second_ground_farad
        Capacitor from the op-amp's plus input to ground.

    Notes
    -----
    With equal resistors, in units of 1/(2π f R), a Butterworth response has 1.3926, 3.5468 and 0.2025
    (A. B. Williams, F. J. Taylor, *Electronic Filter Design Handbook*, active low-pass tables; from memory).
    """
    return Network(
        (
            Resistor("R1", ("in", "a"), first_ohm),
            Capacitor("C1", ("a", GROUND), first_ground_farad),
            Resistor("R2", ("a", "b"), second_ohm),
            Capacitor("C2", ("b", "out"), feedback_farad),
            Resistor("R3", ("b", "c"), third_ohm),
            Capacitor("C3", ("c", GROUND), second_ground_farad),
            OpAmp("U1", plus="c", minus="out", output="out"),
        )
    )
