"""A project: its file, its work at hand, the colours of its parts."""
