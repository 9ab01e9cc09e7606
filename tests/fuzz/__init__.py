"""Damaged files by the thousand, for every reader."""
