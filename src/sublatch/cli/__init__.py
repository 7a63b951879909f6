"""The command line: each command reads, calls one public function, and prints."""

from sublatch.cli.main import main

__all__ = ["main"]
