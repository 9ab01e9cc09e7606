"""Tables with swatches for a terminal; they fall back to words and hex where colour or width is missing."""

from collections.abc import Iterable, Sequence

from rich.console import Console
from rich.table import Table
from rich.text import Text

__all__ = ["console", "paint", "print_lines", "print_table", "strip"]

NARROW = 76
"""Columns of a terminal below which the optional columns of a table are left out."""


def console() -> Console:
    """Give the console for standard output as it is now."""
    return Console(highlight=False, soft_wrap=False)


def paint(hex_colour: str, width: int = 4) -> Text:
    """Give a block of colour; without colour it is blank, so the hex code always stands beside it."""
    return Text(" " * width, style=f"on {hex_colour}")


def strip(hex_colours: Iterable[str], width: int = 3) -> Text:
    """Give blocks of colour side by side, for a blend."""
    text = Text()
    for hex_colour in hex_colours:
        text.append(" " * width, style=f"on {hex_colour}")
    return text


def print_table(
    title: str,
    headings: Sequence[str],
    rows: Iterable[Sequence[Text | str]],
    *,
    optional: Sequence[int] = (),
    right: Sequence[int] = (),
    wide: Sequence[int] = (),
) -> None:
    """Print a table that fits the terminal.

    Args:
        title: above the table; "" for none.
        headings: one a column.
        rows: cells, one for each heading.
        optional: columns left out on a narrow terminal.
        right: columns set to the right.
        wide: columns of running text, which give way first.
    """
    screen = console()
    narrow = screen.width < NARROW
    table = Table(title=title or None, title_justify="left", title_style="bold", box=None, pad_edge=False)
    shown = [place for place in range(len(headings)) if not (narrow and place in optional)]
    for place in shown:
        table.add_column(
            headings[place],
            justify="right" if place in right else "left",
            overflow="fold",
            no_wrap=not (place in wide or narrow),
            ratio=1 if place in wide else None,
            header_style="dim",
        )
    for row in rows:
        table.add_row(*(row[place] for place in shown))
    screen.print(table)


def print_lines(*lines: str) -> None:
    """Print sentences, wrapped to the terminal and safe from markup."""
    screen = console()
    for line in lines:
        screen.print(Text(line))
