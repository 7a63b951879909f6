"""The packages that are soldered: their pins, and what supply they bear and need."""
