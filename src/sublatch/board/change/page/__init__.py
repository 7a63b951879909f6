"""The change sheet: what a change does, how it is done and undone, and what is to be found where."""
