"""A picture of an answer."""
