"""The kinds of output filter that a circuit can have."""
