"""The kinds of detector that a circuit can have."""
