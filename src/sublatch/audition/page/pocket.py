"""The pocket edition of the listening page: one file with its sounds inside, to send to others."""

from __future__ import annotations

from collections.abc import Mapping
from importlib.resources import files
from typing import Any

from sublatch.audition.listen.results import AuditionResult
from sublatch.audition.page import QUANTITIES, SCRIPTS, STYLES, Pictures, inline, policy, template_environment
from sublatch.audition.page.data import json_in_html
from sublatch.version import __version__


def render_pocket(
    result: AuditionResult,
    *,
    data: Mapping[str, Any],
    pictures: Pictures,
    sounds: Mapping[str, str],
    further: Mapping[str, str],
) -> str:
    """Return the pocket edition of an audition's page.

    Parameters
    ----------
    result
        The audition; every take in it could be used.
    data
        What the scripts are told of it, from `listening_data`.
    pictures
        Its pictures.
    sounds
        Each candidate's sound on each take by its key in `data`, an MP3 file in base64.
    further
        What else the scripts ask for by key, in base64.
    """
    from markupsafe import Markup

    files_of_page = files("sublatch.audition.page")
    scripts = [inline(files_of_page.joinpath("scripts", f"{name}.js").read_text(encoding="utf-8")) for name in SCRIPTS]
    return (
        template_environment()
        .get_template("pocket.html.jinja")
        .render(
            result=result,
            version=__version__,
            pictures=pictures,
            quantities=QUANTITIES,
            parts={take["name"]: (number, take) for number, take in enumerate(data["takes"])},
            data=Markup(json_in_html(data)),
            style=Markup("".join(files_of_page.joinpath(name).read_text(encoding="utf-8") for name in STYLES)),
            scripts=[Markup(script) for script in scripts],
            policy=policy(scripts, media="data:"),
            sounds=sounds,
            further=further,
        )
    )
