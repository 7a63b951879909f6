"""The notes that were played, as a file gives them, in place of those found."""
