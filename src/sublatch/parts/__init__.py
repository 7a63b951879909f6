"""Which values: parts to buy, how boards come out, and what the knobs do."""
