"""``sublatch decide``."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sublatch.cli.completion import complete_setting
from sublatch.cli.help import Manual
from sublatch.cli.options import columns, json_option, overwrite_option, path_option, print_json, printable

if TYPE_CHECKING:
    from sublatch.audition.plan.records import Audition
    from sublatch.audition.verdicts.added_up import CandidateVerdicts, Verdicts


@click.command(
    cls=Manual,
    short_help="Read back what was kept on the page; write what won.",
    examples=(
        'sublatch decide "verdict 1a2b3c4d.json"',
        'sublatch decide "verdict Ann 1a2b3c4d.json" "verdict Ben 5e6f7a8b.json" -o won.toml',
        'sublatch decide "verdict 1a2b3c4d.json" --plan next.toml --around knobs.tone',
    ),
)
@click.argument("files", nargs=-1, required=True, type=click.Path(), metavar="VERDICT.json...")
@path_option(
    "--from", "old_plan", help="Plan that the page was made from; else looked for here and beside the verdicts."
)
@click.option("--of", "name", metavar="NAME", help="Write this candidate's circuit instead of the one that won.")
@click.option(
    "--around",
    multiple=True,
    metavar="PATH",
    help="In the next plan, also try this setting of what won a tenth below and above. May be given again.",
    shell_complete=complete_setting,
)
@path_option("-o", "--output", help="Circuit file to write: what won.")
@path_option("--plan", "new_plan", help="Plan file to write: what was kept, on the same takes.")
@overwrite_option
@json_option
def decide(
    files: tuple[str, ...],
    old_plan: Path | None,
    name: str | None,
    around: tuple[str, ...],
    output: Path | None,
    new_plan: Path | None,
    overwrite: bool,
    as_json: bool,
) -> None:
    """Read back what was kept on an audition's page, add it up, and write what follows.

    Verdicts of several people on one audition are added up: a candidate stands higher the more verdicts keep it than
    throw it out. Where one keeps what another throws out is told.
    """
    from sublatch.audition.plan.save import PLAN_FILES, write_plan
    from sublatch.audition.verdicts.added_up import read_verdicts
    from sublatch.audition.verdicts.next_plan import judged_circuit, kept_plan
    from sublatch.circuit.save import save_circuit

    if around and new_plan is None:
        raise click.UsageError("--around is for the next plan; say where with --plan")
    if name is not None and output is None:
        raise click.UsageError("--of is for the circuit file; say where with -o")
    verdicts = read_verdicts(files)
    if output is not None or new_plan is not None:
        made_from = _plan(verdicts, old_plan)
        inputs = [*files, *map(str, made_from.inputs)]
        circuit = None if output is None else judged_circuit(_chosen(verdicts, name), made_from)
        if new_plan is not None:  # whatever is wrong is told before anything is written
            kept = kept_plan(verdicts, made_from, new_plan, around=around)
            PLAN_FILES.guard(new_plan, inputs=inputs, overwrite=overwrite)
        if circuit is not None and output is not None:
            heading = _heading(verdicts, _chosen(verdicts, name))
            save_circuit(circuit, output, heading=heading, inputs=inputs, overwrite=overwrite)
            click.echo(f"Written {output}: {_chosen(verdicts, name).name}", err=True)
        if new_plan is not None:
            heading = f"What was kept of {verdicts.audition}, by {', '.join(verdicts.listeners)}."
            write_plan(kept, new_plan, heading=heading, inputs=inputs, overwrite=overwrite)
            click.echo(f"Written {new_plan}. Now: sublatch audition {new_plan}", err=True)
    if as_json:
        print_json(verdicts)
    else:
        click.echo(_text(verdicts))


def _plan(verdicts: Verdicts, given: Path | None) -> Audition:
    """Return the plan that the page was made from."""
    from sublatch.audition.plan.load import load_audition
    from sublatch.errors import PlanError

    if given is not None:
        return load_audition(given)
    folders = dict.fromkeys([Path(), *(Path(file).parent for file in verdicts.files)])
    places = [folder / verdicts.plan for folder in folders]
    there = next((place for place in places if place.is_file()), None)
    if there is None:
        looked = ", ".join(map(str, places))
        raise PlanError(
            f"the plan that the page was made from must be there, got none at {looked}; say where with --from"
        )
    return load_audition(there)


def _heading(verdicts: Verdicts, candidate: CandidateVerdicts) -> str:
    """Return what stands at the top of the circuit file."""
    return f"{candidate.name}, of {verdicts.audition}\n{_counts(candidate)}; heard by {', '.join(verdicts.listeners)}"


def _chosen(verdicts: Verdicts, name: str | None) -> CandidateVerdicts:
    """Return the candidate to write: the one that is named, or that won alone."""
    from sublatch.errors import VerdictError, nearest_hint

    if name is not None:
        found = next((one for one in verdicts.candidates if one.name == name), None)
        if found is None:
            hint = nearest_hint(name, [one.name for one in verdicts.candidates])
            raise VerdictError(f"--of must be one of the candidates, got {name!r}{hint}")
        return found
    if not verdicts.first:
        raise VerdictError(
            "a circuit needs a candidate that won, got none: no more verdicts keep one than throw it out"
        )
    if len(verdicts.first) > 1:
        names = ", ".join(repr(one.name) for one in verdicts.first)
        raise VerdictError(f"one candidate must have won, got {names} alike; choose with --of")
    return verdicts.first[0]


def _text(verdicts: Verdicts) -> str:
    """Return the verdicts as text."""
    from sublatch.audition.verdicts.next_plan import wish_in_words

    rows = [("candidate", "keep", "maybe", "out")]
    rows += [(printable(one.name), str(one.keep), str(one.maybe), str(one.out)) for one in verdicts.candidates]
    lines = [f"{printable(verdicts.audition)}, heard by {', '.join(map(printable, verdicts.listeners))}"]
    lines += [columns(rows, right_from=1), f"  {_outcome(verdicts)}"]
    for one in verdicts.disagreements:
        keep, out = (", ".join(map(printable, people)) for people in (one.keep, one.out))
        lines.append(f"  {printable(one.candidate)} on {printable(one.take)}: kept by {keep}, out for {out}")
    for one_candidate in verdicts.candidates:
        lines += [
            f"  {printable(one_candidate.name)} on {printable(said.take)}, {printable(said.listener)}: "
            f"{printable(said.text)}"
            for said in one_candidate.notes
        ]
    wishes = [wish_in_words(replace(one, name=printable(one.name))) for one in verdicts.wished]
    remarks = [*wishes, *verdicts.remarks]
    return "\n".join([*lines, *(f"  note: {printable(remark)}" for remark in remarks)])


def _outcome(verdicts: Verdicts) -> str:
    """Return what won in a sentence."""
    names = [printable(one.name) for one in verdicts.first]
    if not names:
        return "Nothing won: no candidate is kept more often than it is thrown out."
    if len(names) > 1:
        return f"First are alike: {'; '.join(names)}."
    return f"{names[0]} won: {_counts(verdicts.first[0])}."


def _counts(candidate: CandidateVerdicts) -> str:
    """Return a candidate's verdicts in words."""
    return f"keep {candidate.keep}, maybe {candidate.maybe}, out {candidate.out}"
