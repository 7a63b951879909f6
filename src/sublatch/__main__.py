"""``python -m sublatch``."""

from sublatch.cli import main

if __name__ == "__main__":
    main(prog_name="sublatch")
