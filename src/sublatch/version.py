"""The version, in one place that every module may read."""

__version__ = "0.5.0"
