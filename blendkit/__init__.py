"""Colour advice for people who colour stamped line images with alcohol markers."""

__version__ = "0.1.0"
