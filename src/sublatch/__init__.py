"""Hear, measure and choose a change to a divide-by-two octave circuit before soldering it."""

__version__ = "0.1.0"
