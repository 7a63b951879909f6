"""The output buffers that a circuit can have, one module a kind."""
