"""A layout as a page or picture to print: both sides as large as the board, both enlarged, and all lists."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from pathlib import Path

from sublatch.board.netlist import Board
from sublatch.board.stripboard.drawing import MARGIN_MM, layout_svg
from sublatch.board.stripboard.records import Layout
from sublatch.board.stripboard.search import Effort, block_layout
from sublatch.board.stripboard.soldered import OFF_BOARD
from sublatch.board.stripboard.words import cut_rows, link_rows, net_rows, part_rows, size_words, strips
from sublatch.errors import CircuitError, OutputError
from sublatch.files.own_files import OwnFiles
from sublatch.pictures.file import MAKER, guard_picture, write_picture

LAYOUTS = OwnFiles("layouts", "<!-- sublatch layout ", " -->\n", (".html", ".svg"))
ENLARGED = 2.5
"""How many times as large as the board the drawings are that one works from."""
RULER_MM = 50
SHEET_RUNS = 6
"""Annealings for each block of a sheet."""
CAUTION = (
    "The iron is at 300 °C and more: rest it in its stand, wear glasses, and draw off the fumes. Cut strips before "
    "anything stands on them, and look through each cut against the light. No supply and no battery before every line "
    "of the list below is found with a meter: joined within a net, open between nets."
)
STYLE = (
    "body{margin:12mm auto;max-width:186mm;font:10pt/1.4 system-ui,'Liberation Sans',sans-serif;color:#000}"
    "h1{font-size:18pt}h2{font-size:13pt;break-after:avoid}table{border-collapse:collapse;width:100%;font-size:9pt}"
    "th,td{text-align:left;vertical-align:top;padding:.15rem .5rem .15rem 0;border-bottom:.4pt solid #888}"
    "tr,figure{break-inside:avoid}figure{margin:.6rem 0}figcaption{font-weight:600}"
    ".sides{display:flex;flex-wrap:wrap;gap:6mm}.sides svg{display:block;max-width:none}"
    "@page{margin:12mm}@media print{body{margin:0}}"
)


def layout_page(layout: Layout, *, title: str) -> str:
    """Return a layout as an HTML document that asks for nothing else.

    Parameters
    ----------
    layout
        A proved layout.
    title
        What it is of.
    """
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n"
        f"<title>{escape(title)}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n<h1>{escape(title)}</h1>\n"
        f"{layout_section(layout)}</body>\n</html>\n"
    )


def layout_section(layout: Layout) -> str:
    """Return a layout's drawings and lists as HTML, for a page or a sheet."""
    below = "Copper side, seen from below"
    parts = [
        f"<p>{escape(size_words(layout))}. Read back from both drawings, it joins what the schematic joins.</p>",
        f"<p><strong>Soldering.</strong> {CAUTION}</p>",
        _figures(layout, 1.0, ("Component side, 1:1", f"{below}, 1:1")),
        f"<figure><figcaption>Printed at 100 %, this is {RULER_MM} mm</figcaption>{ruler_svg()}</figure>",
        _figures(layout, ENLARGED, (f"Component side, {ENLARGED:g}:1", f"{below}, {ENLARGED:g}:1")),
        _lists(layout),
        _table("Parts and wires, by strip and column", ("Part", "Value", "Holes"), part_rows(layout)),
        _table("For the meter: joined within a line, open between lines", ("Net", "Ends"), _nets(layout)),
    ]
    if layout.kind == "stripboard":
        rows = [(strip.name, strip.net, ", ".join(strip.ends)) for strip in strips(layout)]
        parts.append(_table("Strip by strip, seen from the component side", ("Copper", "Net", "On it"), rows))
    return "\n".join(parts) + "\n"


def block_layouts(board: Board) -> list[tuple[str, Layout | str]]:
    """Return each block of a circuit with its layout, or why it has none; blocks without parts are left out."""
    found: list[tuple[str, Layout | str]] = []
    for block in dict.fromkeys(part.block for part in board.components if part.block != "packages"):
        if sum(part.kind not in OFF_BOARD for part in board.of_block(block)) < 2:
            continue
        try:
            found.append((block, block_layout(board, block, effort=Effort(SHEET_RUNS))))
        except CircuitError as problem:
            found.append((block, str(problem)))
    return found


def found_section(found: Layout | str) -> str:
    """Return a layout as HTML, or why there is none."""
    return f"<p>No board for it: {escape(found)}.</p>" if isinstance(found, str) else layout_section(found)


def sides_svg(layout: Layout) -> str:
    """Return both sides beside each other over a ruler, as one SVG as large as the board."""
    width, height = (side + 2 * MARGIN_MM for side in layout.size_mm)
    whole, high = max(2 * width + 4.0, RULER_MM + 4.0), height + 8.0
    places = ((0.0, 0.0), (width + 4.0, 0.0), (0.0, height))
    drawn = (layout_svg(layout, "component"), layout_svg(layout, "copper"), ruler_svg())
    inside = "".join(
        svg.replace("<svg ", f'<svg x="{x:.2f}" y="{y:.2f}" ', 1).replace('mm" ', '" ', 2).replace('mm">', '">', 1)
        for svg, (x, y) in zip(drawn, places, strict=True)
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{whole:.2f}mm" height="{high:.2f}mm" '
        f'viewBox="0 0 {whole:.2f} {high:.2f}">{inside}</svg>\n'
    )


def ruler_svg() -> str:
    """Return a ruler by which one sees whether a print is as large as the board."""
    ticks = "".join(
        f"M{2 + mm} 1v{3.0 if mm % 10 == 0 else 2.2 if mm % 5 == 0 else 1.4:g}" for mm in range(RULER_MM + 1)
    )
    numbers = "".join(
        f'<text x="{2 + mm}" y="6.6" font-size="2.2" text-anchor="middle">{mm}</text>'
        for mm in range(0, RULER_MM + 1, 10)
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-label="Ruler, {RULER_MM} mm" '
        f'viewBox="0 0 {RULER_MM + 4} 8" width="{RULER_MM + 4}mm" height="8mm" font-family="sans-serif">'
        f'<path d="M2 1h{RULER_MM}{ticks}" fill="none" stroke="#1b1b1b" stroke-width="0.15"/>{numbers}</svg>'
    )


def guard_layout(output: str | Path, *, inputs: Iterable[str | Path] = (), overwrite: bool = False) -> None:
    """Refuse, ahead of the search, a file that must not be written; see `OwnFiles.guard` and `guard_picture`."""
    if _ending(output) == ".png":
        guard_picture(Path(output), inputs=inputs, overwrite=overwrite)
    else:
        LAYOUTS.guard(output, inputs=inputs, overwrite=overwrite)


def write_layout(layout: Layout, output: str | Path, *, title: str) -> None:
    """Write a layout as a page or, to a name that ends in ``.svg`` or ``.png``, as both sides of the board.

    Raises
    ------
    OutputError
        When the file cannot be written.
    """
    if not layout.proved:
        raise OutputError(f"{output} is not written: its layout is not proved")
    if _ending(output) == ".png":
        from sublatch.pictures.shapes import shapes_png

        write_picture(Path(output), shapes_png(sides_svg(layout), software=MAKER))
    else:
        LAYOUTS.write(output, sides_svg(layout) if _ending(output) == ".svg" else layout_page(layout, title=title))


def _ending(output: str | Path) -> str:
    """Return a file's ending, in small letters."""
    return Path(output).suffix.lower()


def _figures(layout: Layout, scale: float, captions: tuple[str, str]) -> str:
    """Return both sides as figures."""
    drawn = [layout_svg(layout, "component", scale=scale), layout_svg(layout, "copper", scale=scale)]
    figures = "".join(
        f"<figure><figcaption>{escape(caption)}</figcaption>{svg}</figure>"
        for caption, svg in zip(captions, drawn, strict=True)
    )
    return f'<div class="sides">{figures}</div>'


def _lists(layout: Layout) -> str:
    """Return cuts and links, each in a line."""
    if layout.kind == "perfboard":
        return f"<p>Insulated wires on the copper side: {', '.join(link_rows(layout))}.</p>"
    return (
        f"<p>Cuts: {', '.join(cut_rows(layout)) or 'none'}. Links on the component side: "
        f"{', '.join(link_rows(layout)) or 'none'}. A star stands for insulated wire, "
        "which passes under a chip or over other things.</p>"
    )


def _nets(layout: Layout) -> list[tuple[str, str]]:
    """Return nets and what is on them."""
    return [(net, ", ".join(ends)) for net, ends in net_rows(layout)]


def _table(title: str, heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return a table with its heading."""
    head = "".join(f'<th scope="col">{escape(name)}</th>' for name in heads)
    body = "".join(f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in row)}</tr>" for row in rows)
    return f"<h4>{escape(title)}</h4><table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
