"""The mixing stages that a circuit can have, one module a kind."""
