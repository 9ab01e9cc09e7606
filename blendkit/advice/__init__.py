"""Advice: frozen records that hold the numbers which justify them, and the words."""
