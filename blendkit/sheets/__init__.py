"""Printed sheets, drawn in millimetres, and their pictures read back."""
