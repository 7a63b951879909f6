"""All parts of the sheet set into one page."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from typing import TYPE_CHECKING

from sublatch.board.check.elements import op_amp_bias_a, op_amp_offset_v
from sublatch.board.check.pin_list import pin_list
from sublatch.board.input_and_supply import BATTERY_V
from sublatch.board.netlist import Board
from sublatch.board.parts_list import parts_list
from sublatch.board.schematic.blocks import schematic_svg
from sublatch.board.sheet.amounts import amount, amount_range, decibels, probe_point
from sublatch.board.sheet.bench_table import TONE_HZ, bench_table
from sublatch.board.sheet.cautions import before_power, cautions
from sublatch.board.sheet.filter_figures import LEAST_PEAK_DB, filter_facts, response_curves
from sublatch.board.sheet.idle_voltages import idle_rows
from sublatch.board.sheet.knob_chart import knob_note, knob_svg, knob_value
from sublatch.board.sheet.reading_limits import KNOB_STEPS
from sublatch.board.sheet.supply import BATTERY_AH, EMPTY_V, FRESH_V, SupplyEstimate
from sublatch.board.sheet.wiring import wiring
from sublatch.board.stripboard.page import found_section
from sublatch.board.stripboard.records import Layout
from sublatch.circuit.components.quantities import UNITY
from sublatch.circuit.components.tolerances import GANG_SHARE, POT_END_OHM, TRACK_SHARE
from sublatch.circuit.devices.catalogue import PAIRS
from sublatch.circuit.model import Circuit
from sublatch.circuit.response import of_direct
from sublatch.circuit.save import circuit_toml
from sublatch.parts.knobs.coupling import Coupling, couplings
from sublatch.parts.knobs.stages import stages
from sublatch.parts.knobs.travel import knob_curve, knob_names
from sublatch.pictures.responses import responses_svg
from sublatch.signal.chain import output_sources
from sublatch.signal.unity import tone_take, unity
from sublatch.units import format_hertz, format_volts
from sublatch.version import __version__

if TYPE_CHECKING:
    from markupsafe import Markup

LONGEST_FOOTER = 70
"""Characters of a title in the footer of each printed page."""
READABLE_V = 1e-3
"""Below it a plain meter tells nothing."""


def page(
    board: Board,
    supply: SupplyEstimate,
    filed: Circuit,
    *,
    layouts: Sequence[tuple[str, Layout | str]] = (),
) -> str:
    """Return the sheet as an HTML document.

    Parameters
    ----------
    board
        The board; its circuit's volume knob stands at a number.
    supply
        What it draws.
    filed
        The circuit as its file has it: the same, but that its volume may be at unity.
    layouts
        Blocks with their layouts, or why they have none (see `block_layouts`).
    """
    from jinja2 import Environment, PackageLoader, StrictUndefined
    from markupsafe import Markup

    def breakable(net: str) -> Markup:
        """Return a net's name that may run on in another line after each dot."""
        return Markup(".<wbr>").join(net.split("."))

    environment = Environment(
        loader=PackageLoader("sublatch.board", "sheet"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters.update(breakable=breakable, amount=amount, decibels=decibels, hertz=format_hertz)
    circuit = board.circuit
    curves = [knob_curve(circuit, name) for name in knob_names(circuit)]
    own = of_direct(circuit) if board.of_block("direct") else None
    return environment.get_template("sheet.html.jinja").render(
        circuit=circuit,
        board=board,
        version=__version__,
        footer=Markup(css_string(shortened(circuit.title))),
        settings=settings_sentence(circuit, at_unity=filed.knobs.volume == UNITY),
        drawings=[(title, Markup(svg)) for title, svg in schematic_svg(board)],
        parts=parts_list(board),
        curves=curves,
        curve_svgs=[Markup(knob_svg(curve)) for curve in curves],
        knob_value=knob_value,
        knob_note=knob_note,
        unity=unity(output_sources(tone_take(), circuit), circuit, measure="rms"),
        couplings=couplings(circuit),
        corner_range=_corner_range,
        stages=stages(circuit),
        response=_response_svg(circuit, "Output filter"),
        facts=filter_facts(circuit),
        direct_response="" if own is None else _response_svg(own, "Direct filter"),
        direct_facts=[] if own is None else filter_facts(own),
        least_peak_db=LEAST_PEAK_DB,
        wiring=wiring(board),
        layouts=[(block, Markup(found_section(found))) for block, found in layouts],
        before_power=before_power(board),
        idle=idle_rows(board),
        bench=bench_table(board),
        set_at=probe_point(board, "set"),
        supply=supply,
        cautions=cautions(board, supply),
        file=circuit_toml(filed, comments=_unity_comment(circuit, filed)),
        amount_range=amount_range,
        tone_hz=TONE_HZ,
        worst=worst_sentence(circuit),
        pins=pin_list(board),
        pot_percent=f"{TRACK_SHARE:.0%}",
        gang_percent=f"{GANG_SHARE:.0%}",
        pot_end=f"{POT_END_OHM:g} Ω",
        knob_steps=KNOB_STEPS,
        battery=(BATTERY_V, BATTERY_AH, FRESH_V, EMPTY_V),
        readable_v=READABLE_V,
        root2=sqrt(2.0),
    )


def _response_svg(circuit: Circuit, name: str) -> Markup:
    """Return the picture of a filter's response; nothing without a filter."""
    from markupsafe import Markup

    curves = response_curves(circuit, name=name.lower())
    return Markup(responses_svg(curves, alt_text=f"{name}'s gain over frequency") if curves else "")


def _corner_range(coupling: Coupling) -> str:
    """Return where a coupling capacitor's corner lies, in words."""
    low, high = (f"{float(hertz):.2g}" for hertz in (coupling.corner_hz.min(), coupling.corner_hz.max()))
    return f"at {low} Hz" if low == high else f"at {low} Hz to {high} Hz over the volume knob’s travel"


def settings_sentence(circuit: Circuit, *, at_unity: bool = False) -> str:
    """Return where the circuit's knobs and switches stand, in a sentence."""
    volume = f"volume at unity ({circuit.volume:.1f})" if at_unity else f"volume at {circuit.volume:g}"
    knobs = [volume]
    if circuit.has_direct:
        knobs.append(f"direct at {circuit.knobs.direct:g}")
    if circuit.direct_tone is not None:
        knobs.append(f"direct tone at {circuit.direct_tone:g}")
    if circuit.tone is not None:
        knobs.insert(0, f"tone at {circuit.tone:g}")
    switches = [f"drive {'hardwired ' if 'drive' in (circuit.hardwired or ()) else ''}{circuit.switches.drive}"]
    if circuit.peak is not None:
        switches.append(f"peak {circuit.peak}")
    return (
        f"As set in its file: {', '.join(knobs)}; {', '.join(switches)}; "
        f"supply {format_volts(circuit.supply)}. The octave is "
        f"{'one octave' if circuit.divider.stages == 1 else 'two octaves'} down."
    )


def worst_sentence(circuit: Circuit) -> str:
    """Return what the parts of the circuit's classes may be off by, in a sentence."""
    devices = circuit.devices
    op_amp, comparator = devices.op_amp_class, devices.comparator_class
    bias_v, bias_a = op_amp_offset_v(devices), op_amp_bias_a(devices)
    told = (
        f"Op-amps are of class {op_amp.name} ({', '.join(op_amp.types)}): at the worst {amount(bias_v, 'V')} of offset "
        f"and {amount(abs(bias_a), 'A')} of bias current. Comparators are of class {comparator.name} "
        f"({', '.join(comparator.types)})."
    )
    if circuit.octave.is_pair:
        pair = PAIRS["transconductance"]
        told += f" The pair ({', '.join(pair.types)}) has up to {amount(pair.offset_v.worst, 'V')} of offset."
    return told


def _unity_comment(circuit: Circuit, filed: Circuit) -> dict[str, str]:
    """Return the comment that tells where a volume at unity stands on this sheet; none where it is a number."""
    if filed.knobs.volume != UNITY:
        return {}
    return {"knobs.volume": f"{circuit.volume:.2f} on this sheet, by RMS with {tone_take().name}"}


def css_string(text: str) -> str:
    """Return a text as the inside of a CSS string: everything but letters and digits of ASCII written by number."""
    encodable = text.encode("utf-8", "replace").decode("utf-8")
    return "".join(c if c.isascii() and c.isalnum() else f"\\{ord(c) if c.isprintable() else 32:x} " for c in encodable)


def shortened(title: str, longest: int = LONGEST_FOOTER) -> str:
    """Return a title short enough for a footer, or of so many characters."""
    return title if len(title) <= longest else title[: longest - 1] + "…"
