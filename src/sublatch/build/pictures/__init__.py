"""Pictures for the choice of parts: knobs over their travel, output filters with what tolerances make of them."""
