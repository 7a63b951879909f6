"""What was changed in a circuit, setting by setting, and how its file says so."""

from __future__ import annotations

from sublatch.circuit.model import Circuit
from sublatch.circuit.save import Setting, settings_of


def changed_settings(before: Circuit, after: Circuit) -> dict[str, tuple[str | None, str]]:
    """Return each value that differs, as it was and as it is, by dotted path.

    Values that a new kind brought with it are among them, with None as what they were.
    """
    old, new = settings_of(before), settings_of(after)
    both = {path: (_old_text(path, old, new), setting.text) for path, setting in new.items()}
    return {path: (was, now) for path, (was, now) in both.items() if was != now}


def change_comments(before: Circuit, after: Circuit) -> dict[str, str]:
    """Return for each setting that is not as it was what it was, and what it does, for `save_circuit`."""
    settings = settings_of(after)
    return {
        path: f"{'new' if was is None else f'was {was}'}. {settings[path].description}".strip()
        for path, (was, _) in changed_settings(before, after).items()
    }


def _old_text(path: str, before: dict[str, Setting], after: dict[str, Setting]) -> str | None:
    """Return what a setting was; None where it was not there, or belonged to another kind of filter."""
    table, _, key = path.rpartition(".")
    kind = f"{table}.kind"
    of_another = key != "kind" and table.endswith("filter") and before.get(kind) != after.get(kind)
    return None if of_another or path not in before else before[path].text
