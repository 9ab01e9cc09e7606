"""The local page: the same calls and the same records as the command line, for people who would rather look."""

from blendkit.desk.server import run_desk

__all__ = ["run_desk"]
