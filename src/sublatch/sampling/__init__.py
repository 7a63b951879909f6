"""Sampled signals by themselves: rates, levels, bands, crossings and switching; no circuit."""
