"""Single parts: quantities as fields, pots and switches, and the values that are sold."""
