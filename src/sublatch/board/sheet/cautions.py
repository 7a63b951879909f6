"""What to mind, so that neither the builder nor the board comes to harm."""

from __future__ import annotations

from dataclasses import dataclass

from sublatch.board.netlist import Board
from sublatch.board.sheet.amounts import NARROW, amount
from sublatch.board.sheet.comparator_input import watched_net
from sublatch.board.sheet.idle_voltages import OFFSET_V, offset_at
from sublatch.board.sheet.supply import SupplyEstimate


@dataclass(frozen=True)
class Caution:
    """One thing to mind: in a few words, and in full."""

    head: str
    text: str


def before_power(board: Board) -> list[Caution]:
    """Return what matters before power comes on, the shortest that says it."""
    supply = amount(board.circuit.supply, "V")
    return [
        Caution(
            "Never two supplies at once",
            "A battery and an external supply must never feed the board together: a battery that is charged this way "
            "can leak or burst. The supply jack’s switch has to take the battery off. With a meter on ohms and no "
            "battery in, push a plug into the jack: battery plus must then be open against both of its contacts.",
        ),
        Caution(
            "Polarity",
            "Check which contact of the plug is plus, and that it is plus of the jack, before you plug it in. The "
            "diode keeps a reversed supply out of the board; it does nothing for a diode soldered the wrong way round.",
        ),
        Caution(
            "First power",
            f"Leave the integrated circuits out of their sockets, look for {supply} at their supply pins, switch off, "
            "put them in, and watch the current: far more than this sheet’s estimate, or anything warm, and you switch "
            "off.",
        ),
    ]


def cautions(board: Board, supply: SupplyEstimate) -> list[Caution]:
    """Return the rest of what to mind."""
    rest = [
        *(Caution("Supply voltage", f"{remark[0].upper()}{remark[1:]}.") for remark in supply.remarks),
        Caution(
            "Charge",
            "Capacitors keep their charge when the supply is gone, the large one across it longest. Before you solder "
            f"or take out a part, take battery and plug away and join supply and 0{NARROW}V through 1{NARROW}kΩ until "
            "a meter reads nothing. What is left at this voltage spoils parts and readings; inside an amplifier it "
            "can kill, so leave those closed.",
        ),
        Caution(
            "Mains",
            "Use a bought, approved supply of the right voltage, and never open it. Whatever is wired to the mains is "
            "work for the licensed, by the rules of the place you live in.",
        ),
        Caution(
            "Static",
            "CMOS parts die of static without a mark. Leave them in their foam until last, use sockets, and touch "
            "something earthed before you touch them.",
        ),
        Caution(
            "Soldering",
            "The iron is at 300 °C and more: rest it in its stand. Wear glasses, since solder spits and cut leads fly. "
            "Draw off the fumes or work by an open window. Wash your hands afterwards, for lead’s sake.",
        ),
        Caution(
            "Loudness",
            "Low notes at a high level harm hearing long before they seem loud, and an octave further down a "
            "loudspeaker’s cone travels four times as far for the same sound pressure. Start with every volume down, "
            "and with earplugs or a small level while you test.",
        ),
    ]
    detector = board.circuit.detector
    least_v = detector.thresholds.least_v
    if least_v > 0.0 and detector.leveller is None:
        times = offset_at(board, watched_net(board)) / OFFSET_V
        rest.append(
            Caution(
                "Offsets",
                f"The least threshold is {amount(least_v, 'V')}. The op-amps ahead of the comparators add up to "
                f"{times:.1f} times one op-amp’s input offset, and the comparator has its own: only op-amps and "
                f"comparators with an offset well below {amount(least_v / (times + 1.0), 'V', digits=2)} hold it. With "
                "a larger one the latch may rest set, or chatter on noise.",
            )
        )
    return rest
