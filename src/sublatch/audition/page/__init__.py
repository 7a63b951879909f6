"""The listening page: one file that needs nothing but the sounds beside it, and no script."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from sublatch import __version__
from sublatch.audition.strips import mark
from sublatch.tracking.lock import Kind, locked_percent

if TYPE_CHECKING:
    from sublatch.audition.results import AuditionResult, CandidateResult
    from sublatch.audition.show import LockFigure

MATCHING = {
    "loudness": "Within each take every candidate has been brought to the same loudness, so that a louder one does not "
    "win for being louder. That measure hardly hears the lowest octave: mind the lows beside it.",
    "rms": "Within each take every candidate has been brought to the same RMS level, so that a louder one does not win "
    "for being louder.",
    "peak": "Within each take every candidate has been brought to the same peak. Equal peaks do not sound equally "
    "loud, so set the volume by ear before you compare.",
    "none": "Nothing has been made equal: within each take the candidates differ in level as they would at the output "
    "jack. The louder one tends to win, so set the volume by ear before you compare.",
}
"""What was made equal, in a sentence or two."""
QUANTITIES = {"loudness": "loudness", "rms": "RMS level", "peak": "peak", "none": "nothing"}


KINDS: tuple[tuple[Kind, str], ...] = (
    ("skip", "the drive runs at the note’s own pitch, and the octave jumps up"),
    ("stall", "the drive stands still, and there is no octave"),
    ("stray", "anything else"),
)
"""The kinds of dropout in words."""


def render_page(
    result: AuditionResult,
    *,
    response_svg: str,
    lock_figures: Mapping[str, LockFigure],
    close_ups: Mapping[str, str],
) -> str:
    """Return the listening page of an audition.

    Parameters
    ----------
    result
        The audition. Every text in it is shown as text, whatever it holds.
    response_svg
        Picture of the output filters' responses as an SVG element, which is trusted; left out when empty.
    lock_figures
        Where lock is lost for each take's name, its pictures likewise.
    close_ups
        Picture of the waves for each take's name, likewise.

    Returns
    -------
    str
        An HTML document for the folder that the sounds' paths start from.
    """
    from jinja2 import Environment, PackageLoader, StrictUndefined
    from markupsafe import Markup

    house = Environment(
        loader=PackageLoader("sublatch.audition", "page"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    house.filters.update(url=relative_url, decibels=decibels, percent=percent, locked=locked_percent, words=in_words)
    house.filters.update(picture=Markup)
    return house.get_template("index.html.jinja").render(
        result=result,
        version=__version__,
        matching=MATCHING[result.match],
        quantities=QUANTITIES,
        response_svg=Markup(response_svg),
        close_ups={name: Markup(svg) for name, svg in close_ups.items()},
        lock_figures=lock_figures,
        kinds=[(kind, words, Markup(mark(kind))) for kind, words in KINDS],
        lows=lows_against_first,
    )


def relative_url(path: str) -> str:
    """Return the URL of a file from the page's folder on."""
    return "./" + quote(path, safe="/")


def decibels(level: float | None, *, signed: bool = False) -> str:
    """Return a level or gain in decibels with one decimal; a dash where there is none."""
    if level is None:
        return "–"
    rounded = round(level, 1) + 0.0  # no minus before a zero
    text = f"{rounded:+.1f}" if signed and rounded else f"{rounded:.1f}"
    return text.replace("-", "−")


def percent(share: float) -> str:
    """Return a share in per cent, so that a little is never taken for nothing."""
    if 0.0 < share < 0.0005:
        return "< 0.1"
    return f"{100 * share:.1f}" if share else "0"


def in_words(settings: Mapping[str, Any]) -> str:
    """Return settings as they would be read out: "tone at 4; drive: inverted; filter ground capacitor: 12n"."""
    return "; ".join(_setting(path, value) for path, value in _flat(settings))


def lows_against_first(candidates: tuple[CandidateResult, ...], candidate: CandidateResult) -> float | None:
    """Return how far a candidate's lows lie above the first one's after matching, in dB, if it can be told."""
    own, first = candidate.levels.low_band_dbfs, candidates[0].levels.low_band_dbfs
    if own is None or first is None:
        return None
    return own + candidate.gain_db - first - candidates[0].gain_db


def _flat(settings: Mapping[str, Any], above: str = "") -> Iterator[tuple[str, Any]]:
    """Give each single setting with its whole path."""
    for key, value in settings.items():
        if isinstance(value, Mapping):
            yield from _flat(value, f"{above}{key}.")
        else:
            yield f"{above}{key}", value


def _setting(path: str, value: Any) -> str:
    """Return one setting in words."""
    group, _, name = path.partition(".")
    if group == "knobs":
        return f"{_plain(name)}\N{NO-BREAK SPACE}at\N{NO-BREAK SPACE}{_value(value)}"
    return f"{_plain(name if group == 'switches' else path.removesuffix('.kind'))}: {_value(value)}"


def _plain(path: str) -> str:
    """Return a dotted path as words."""
    return path.replace(".", " ").replace("_", " ")


def _value(value: Any) -> str:
    """Return a setting's value in words."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:g}".replace("-", "−")
    if isinstance(value, Mapping):
        return " ".join(f"{_plain(key)} {_value(one)}" for key, one in value.items())
    if isinstance(value, (list, tuple)):
        return ", ".join(_value(one) for one in value)
    return str(value)
