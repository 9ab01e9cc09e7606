"""Lengths in words: millimetres, and inches to the sixteenth."""

MM_PER_INCH = 25.4
"""Exact, by the international yard and pound agreement of 1959."""


def inches_words(length_mm: float) -> str:
    """Give a length in inches to the nearest sixteenth, such as "5 1/2 in" or "11/16 in"."""
    sixteenths = round(length_mm / MM_PER_INCH * 16)
    whole, rest = divmod(sixteenths, 16)
    if not rest:
        return f"{whole} in"
    below = 16
    while rest % 2 == 0:
        rest, below = rest // 2, below // 2
    return f"{whole} {rest}/{below} in" if whole else f"{rest}/{below} in"


def size_words(width_mm: float | None, height_mm: float | None = None, units: str = "") -> str:
    """Give a size in words.

    Args:
        width_mm, height_mm: the lengths; one of them, or both, may be missing.
        units: "mm", "inch" or "" for both.

    Returns: such as "140 × 105 mm, 5 1/2 × 4 1/8 in"; of one length without the ×; "" of none.
    """
    lengths = [length for length in (width_mm, height_mm) if length is not None]
    if not lengths:
        return ""
    millimetres = " × ".join(f"{length:.1f}".removesuffix(".0") for length in lengths) + " mm"
    inches = " × ".join(inches_words(length).removesuffix(" in") for length in lengths) + " in"
    return {"mm": millimetres, "inch": inches}.get(units, f"{millimetres}, {inches}")
