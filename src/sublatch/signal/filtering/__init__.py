"""Analogue networks applied to sampled signals: with their controls fixed, and while these are turned."""
