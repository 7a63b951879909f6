"""Analogue networks applied to sampled signals: standing still, and while their controls are turned."""
