"""The version, in one place that every module may read."""

__version__ = "0.4.0"
