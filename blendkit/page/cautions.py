"""The cautions at the foot of every report, in one line."""

SAFETY_LINE = (
    "Alcohol inks are flammable and their vapour needs fresh air; keep them from children, food and skin. "
    "Dyes fade in light. Local rules and the maker's safety sheet come first."
)
"""The usual cautions. Source: common practice; a maker's safety data sheet says more."""
