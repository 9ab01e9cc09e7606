"""The local page: the same calls and the same records as the command line."""
