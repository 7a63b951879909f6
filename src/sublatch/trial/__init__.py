"""Blind listening, counted again from what the listening page saved."""
