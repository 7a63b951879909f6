"""The listening page: one file that needs nothing but the sounds beside it, and without scripts still tells all."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from hashlib import sha256
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from sublatch.audition.folder.layout import url_of
from sublatch.audition.folder.reel import GAP_S
from sublatch.audition.page.data import entries, json_in_html
from sublatch.audition.page.lock_strips import mark
from sublatch.audition.page.move_lanes import moves_in_words
from sublatch.audition.page.wording import in_words
from sublatch.audition.plan.records import LOUDSPEAKER
from sublatch.tracking.lock import Kind, locked_percent
from sublatch.version import __version__

if TYPE_CHECKING:
    from jinja2 import Environment

    from sublatch.audition.listen.results import AuditionResult, CandidateResult, TakeResult
    from sublatch.audition.page.content import LockFigure, LockStrip, MoveLane

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


LIVE = (
    *(
        "knob",
        "elements",
        "matrices",
        "tables",
        "network",
        "idle",
        "response",
        "wish",
        "loudness",
        "limiter",
        "worklet",
        "node",
    ),
    *("find", "sound-bands", "live", "source", "picture", "parts-list", "panel-words", "own-curves", "panel"),
)
"""Those that make the sound after the octave stage."""
SCRIPTS = (
    *("keys", "markup", "sounds", "made", "voices", "player", "marks", "zoom", "candidate", "monitoring", "positions"),
    *("verdicts", "own", "verdict-file", "overview", "list", "letters", "views", "take-sounds", "take", "tabs"),
    *(*(f"live/{name}" for name in LIVE), "page"),
    *("odds", "trial", "blind-setup", "blind-trial", "blind-result", "blind"),
)
"""The page's scripts, in the order in which they run."""
STYLES = ("style.css", "listen.css", "desk.css", "live.css", "blind.css")
ORDERS = (
    ("plan", "as planned"),
    ("name", "by name"),
    ("verdict", "by verdict"),
    ("locked_share", "by lock"),
    ("weight_db", "by weight"),
    ("body_db", "by body"),
    ("bite_db", "by bite"),
)
"""What the list of candidates can be put in order by, and how that is called."""
VERDICTS = (("keep", "Keep"), ("maybe", "Maybe"), ("out", "Out"))
REGIONS = (
    ("weight_db", "weight", "below 80 Hz"),
    ("body_db", "body", "80 to 300 Hz"),
    ("bite_db", "bite", "300 Hz to 1.5 kHz"),
)
"""The parts of the spectrum that the bars tell, as `Balance` has them."""


@dataclass(frozen=True)
class Pictures:
    """Pictures for the page as SVG elements, which are trusted; an empty text or no entry leaves one out.

    Attributes
    ----------
    responses
        All output filters, with a legend.
    filter_curves
        The same for each take's listening part.
    lock_figures
        Where lock is lost, for each take's name.
    spectra
        Long-term spectra, likewise; over the bed's where there is one.
    close_ups
        Waves close up, likewise.
    """

    responses: str = ""
    filter_curves: str = ""
    lock_figures: Mapping[str, LockFigure] = field(default_factory=dict)
    spectra: Mapping[str, str] = field(default_factory=dict)
    close_ups: Mapping[str, str] = field(default_factory=dict)


def render_page(result: AuditionResult, *, data: Mapping[str, Any], pictures: Pictures) -> str:
    """Return the listening page of an audition.

    Parameters
    ----------
    result
        The audition. Every text in it is shown as text, whatever it holds.
    data
        What the scripts are told of it, from `listening_data`; likewise.
    pictures
        Its pictures.

    Returns
    -------
    str
        An HTML document for the folder that the sounds' paths start from.
    """
    from markupsafe import Markup

    files_of_page = files("sublatch.audition.page")
    scripts = [inline(files_of_page.joinpath("scripts", f"{name}.js").read_text(encoding="utf-8")) for name in SCRIPTS]
    return (
        template_environment()
        .get_template("index.html.jinja")
        .render(
            result=result,
            version=__version__,
            matching=MATCHING[result.match],
            quantities=QUANTITIES,
            pictures=pictures,
            kinds=[(kind, words, Markup(mark(kind))) for kind, words in KINDS],
            lows=lows_against_first,
            parts={take["name"]: (number, take) for number, take in enumerate(data["takes"])},
            data=Markup(json_in_html(data)),
            style=Markup("".join(files_of_page.joinpath(name).read_text(encoding="utf-8") for name in STYLES)),
            scripts=[Markup(script) for script in scripts],
            policy=policy(scripts),
        )
    )


def template_environment() -> Environment:
    """Return the environment that the template is filled in."""
    from jinja2 import Environment, PackageLoader, StrictUndefined
    from markupsafe import Markup

    environment = Environment(
        loader=PackageLoader("sublatch.audition", "page"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters.update(url=url_of, decibels=decibels, percent=percent, locked=locked_percent, words=in_words)
    environment.filters.update(picture=Markup, entries=entries, clock=clock, starts=reel_starts, numbers=numbers_of)
    environment.filters.update(moves=moves_in_words, moved=has_moves, first_lock=first_lock)
    environment.globals.update(loudspeaker=LOUDSPEAKER, orders=ORDERS, verdicts=VERDICTS, regions=REGIONS)
    return environment


def inline(script: str) -> str:
    """Return a script as it stands between its tags."""
    assert "</script" not in script
    assert "<!--" not in script
    return f"\n{script}"


def policy(scripts: Sequence[str], *, media: str = "'self' file:") -> str:
    """Return what the page may do: run its own scripts and the sounds' beside it, play sounds, reach nothing else.

    A page opened from a disk has an origin of its own, so that its neighbours are files to it and not itself; a browser
    gives it no worklet but from a data URL.
    """
    hashes = " ".join(f"'sha256-{b64encode(sha256(script.encode()).digest()).decode()}'" for script in scripts)
    return (
        f"default-src 'none'; script-src 'self' file: data: {hashes}; media-src {media}; "
        "style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"
    )


def clock(seconds: float) -> str:
    """Return a time as minutes and the seconds that are full, so that who starts there misses nothing."""
    full_seconds = int(seconds + 1e-6)
    return f"{full_seconds // 60}:{full_seconds % 60:02d}"


def reel_starts(take: TakeResult) -> list[tuple[str, float]]:
    """Return each candidate's name and where in the reel it begins, in seconds."""
    return [(c.name, number * (take.seconds + GAP_S)) for number, c in enumerate(take.candidates)]


def numbers_of(strip: LockStrip | MoveLane, take: TakeResult) -> str:
    """Return the numbers of the candidates that a strip or lane holds for, the bypassed take's being 0."""
    return " ".join(str(number) for number, c in enumerate(take.candidates) if c.name in strip.names)


def has_moves(take_data: Mapping[str, Any]) -> bool:
    """Return whether something is moved in a candidate of a take, from its data."""
    return any(candidate.get("moves") for candidate in take_data["candidates"])


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


def first_lock(candidate: CandidateResult) -> str:
    """Return within how many milliseconds half of the notes and nine in ten lock: "24 / 61", a dash for none."""
    if candidate.locked_share is None:
        return "–"
    within_ms = (candidate.median_first_lock_ms, candidate.p90_first_lock_ms)
    return " / ".join("–" if ms is None else f"{ms:.0f}" for ms in within_ms)


def lows_against_first(candidates: tuple[CandidateResult, ...], candidate: CandidateResult) -> float | None:
    """Return how far a candidate's lows lie above the first one's after matching, in dB, if it can be told."""
    own, first = candidate.levels.low_band_dbfs, candidates[0].levels.low_band_dbfs
    if own is None or first is None:
        return None
    return own + candidate.gain_db - first - candidates[0].gain_db
