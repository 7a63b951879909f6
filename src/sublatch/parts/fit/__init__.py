"""Parts, of values that need not be sold, that give a circuit a corner, a peak or a place of unity."""
