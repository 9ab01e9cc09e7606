"""Tables with swatches for a terminal; they fall back to words and hex where colour or width is missing."""

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager

from rich.cells import cell_len
from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from blendkit.inked import Swatch
from blendkit.words import Progress, describe_colour, step_words, within

WIDE_AT_LEAST = 16
"""Columns that running text keeps; with less, rows are stacked."""


class _Screen(Console):
    """Leaves it to the way in what happens when nobody reads on (``| head``)."""

    def on_broken_pipe(self) -> None:
        """Pass the error on."""
        raise BrokenPipeError


def console() -> Console:
    """Give the console for standard output as it is now."""
    return _Screen(highlight=False, soft_wrap=False)


def _shows_colour(screen: Console) -> bool:
    """Whether swatches come out; with sixteen colours they would be other colours, which is worse than none."""
    return screen.color_system in ("truecolor", "256") and not screen.no_color


def paint(hex_colour: str, width: int = 4) -> Text:
    """Give a block of colour; where no colour is shown it is empty, so the hex code always stands beside it."""
    return Text(" " * width, style=f"on {hex_colour}") if _shows_colour(console()) else Text()


def strip(hex_colours: Iterable[str], width: int = 3) -> Text:
    """Give blocks of colour side by side, for a blend; empty where no colour is shown."""
    text = Text()
    if not _shows_colour(console()):
        return text
    for hex_colour in hex_colours:
        text.append(" " * width, style=f"on {hex_colour}")
    return text


def print_table(
    title: str,
    headings: Sequence[str],
    rows: Iterable[Sequence[Text | str]],
    *,
    right: Sequence[int] = (),
    wide: Sequence[int] = (),
    behind: Sequence[int] = (),
    numbers: bool = True,
    notes: Sequence[str] = (),
) -> None:
    """Print a table that fits the terminal; columns without anything to show are left out.

    Where it is too wide for the terminal, each row is printed as a few lines, one a column.

    Args:
        title: above the table; "" for none.
        headings: one a column.
        rows: cells, one for each heading.
        right: columns set to the right.
        wide: columns of running text, which give way first.
        behind: columns of numbers, shown only when they are asked for.
        numbers: whether they are.
        notes: a sentence for each row, printed below the table under the row's number; the rows are then
            numbered. One that several rows share is printed once.
    """
    if notes:
        headings = ("", *headings)
        rows = [(str(number), *row) for number, row in enumerate(rows, start=1)]
        right = [0, *(place + 1 for place in right)]
        wide = [place + 1 for place in wide]
        behind = [place + 1 for place in behind]
    screen = console()
    body = [tuple(row) for row in rows]
    if not body:
        if title:
            screen.print(Text(f"{title}: none"))
        return
    shown = [
        place
        for place in range(len(headings))
        if any(len(row[place]) for row in body) and (numbers or place not in behind)
    ]
    widths = [max(cell_len(str(cell)) for cell in column) for column in zip(headings, *body, strict=True)]
    for place in wide:
        widths[place] = min(widths[place], WIDE_AT_LEAST)
    if sum(widths[place] + 1 for place in shown) > screen.width:
        _print_stacked(screen, title, headings, body, shown, notes)
        return
    screen.print(_table(title, headings, body, shown, right, wide))
    rows_of: dict[str, list[int]] = {}
    for number, note in enumerate(notes, start=1):
        rows_of.setdefault(note, []).append(number)
    for note, mine in rows_of.items():
        _print_note(screen, _runs(mine), note)


def _runs(numbers: Sequence[int]) -> str:
    """Give ascending numbers as “1, 3-5”."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(str(run[0]) if len(run) == 1 else f"{run[0]}-{run[-1]}" for run in runs)


def _print_stacked(
    screen: Console,
    title: str,
    headings: Sequence[str],
    rows: Sequence[tuple[Text | str, ...]],
    shown: Sequence[int],
    notes: Sequence[str],
) -> None:
    """Print each row as lines: what has no heading and the first that has one, then a line for each other."""
    if title:
        screen.print(Text(title, style="bold"))
    first = next((place for place in shown if headings[place]), shown[0])
    for number, row in enumerate(rows):
        opening = Text()
        for place in (place for place in shown if place <= first):
            if len(row[place]):
                opening.append_text(_as_text(row[place])).append(" ")
        screen.print(opening, soft_wrap=False)
        for place in (place for place in shown if place > first):
            if len(row[place]):
                heading = Text(f"   {headings[place]} " if headings[place] else "   ", style="dim")
                screen.print(heading.append_text(_as_text(row[place])))
        if notes:
            screen.print(Padding(Text(notes[number], style="dim"), (0, 0, 0, 3)))


def _as_text(cell: Text | str) -> Text:
    return cell if isinstance(cell, Text) else Text(cell)


def _table(
    title: str,
    headings: Sequence[str],
    rows: Sequence[tuple[Text | str, ...]],
    shown: Sequence[int],
    right: Sequence[int],
    wide: Sequence[int],
) -> Table:
    table = Table(
        title=title or None,
        title_justify="left",
        title_style="bold",
        box=None,
        pad_edge=False,
        padding=(0, 1, 0, 0),
    )
    for place in shown:
        table.add_column(
            headings[place],
            justify="right" if place in right else "left",
            overflow="fold",
            no_wrap=place not in wide,
            ratio=1 if place in wide else None,
            min_width=WIDE_AT_LEAST if place in wide else None,
            header_style="dim",
        )
    for row in rows:
        table.add_row(*(row[place] for place in shown))
    return table


@contextmanager
def progress() -> Iterator[Progress]:
    """Show on standard error what long work is at, where that is a terminal; give what tells it."""
    screen = Console(stderr=True)
    if not screen.is_terminal:
        yield within(None, 0.0, 1.0)
        return
    with screen.status("beginning") as status:

        def tell(share: float, step: str, what: str = "", /) -> None:
            status.update(f"{step_words(step, what)} ({share:.0%})")

        yield tell


def _print_note(screen: Console, number: str, note: str) -> None:
    grid = Table.grid(padding=(0, 1))
    grid.add_column(justify="right", min_width=2)
    grid.add_column(overflow="fold")
    grid.add_row(number, Text(note, style="dim"))
    screen.print(grid)


def print_lines(*lines: str) -> None:
    """Print sentences, wrapped to the terminal and safe from markup."""
    screen = console()
    for line in lines:
        screen.print(Text(line))


def lab_words(lab: tuple[float, float, float]) -> str:
    """Give L, a and b in columns."""
    return " ".join(f"{value:5.1f}" for value in lab)


def print_swatch(label: str, swatch: Swatch, numbers: bool) -> None:
    """Print a colour with its words."""
    words = f" {swatch.name}: {describe_colour(swatch.lab)}"
    if swatch.mapped:
        words += " (stronger than a screen can show)"
    if numbers:
        words += f"  {swatch.hex}  Lab {lab_words(swatch.lab)}"
    console().print(Text(f"{label} "), paint(swatch.hex, 6), Text(words))
