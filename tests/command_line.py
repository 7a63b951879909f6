"""Commands run within the tests' own process."""

from __future__ import annotations

from click.testing import CliRunner, Result

from sublatch.cli import main


def sublatch(*arguments: object) -> Result:
    """Run a command; whatever happens, it ends by its own will."""
    result = CliRunner().invoke(main, [str(argument) for argument in arguments])
    assert result.exception is None or isinstance(result.exception, SystemExit)
    return result
