"""Takes by candidates: planned, rendered, matched, measured and laid out for listening."""
