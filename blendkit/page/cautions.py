"""The cautions of every report, sheet and page, and of the help. Source: common practice."""

SAFETY_LINE = (
    "Alcohol inks and their vapour are flammable: work in fresh air, away from flame and heat. Keep them from "
    "children, food, eyes and skin; cap them when idle. Let ink dry before you cut or glue. Dyes fade in light. "
    "Local rules and the maker's safety sheet come first."
)
