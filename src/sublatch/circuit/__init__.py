"""What a circuit is: checked data, networks of parts, pots and preferred values; no signals."""
