"""The detectors that a circuit can have, one module a kind."""
