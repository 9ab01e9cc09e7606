"""Charts to print and colour, and their pictures read back: a box's place is written and read here."""
