"""Single parts: quantities as fields, pots and switches, preferred values, and what is sold."""
