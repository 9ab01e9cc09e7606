"""The version, told once."""

__version__ = "0.1.0"
