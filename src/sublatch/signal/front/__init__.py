"""What lies ahead of the comparators: its bends, and the voltages that it makes of a take."""
