"""What the knobs do: travel, unity, trim, headroom and coupling."""
