"""A colouring plan: its record, its check, its cut line and its sheets."""
