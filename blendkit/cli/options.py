"""What every command shares: its palette, its paper, JSON, reports, exit codes, completion of names."""

import json
import os
from pathlib import Path
from typing import Annotated, Any

import typer

from blendkit.errors import BlendkitError
from blendkit.palette import Palette, demo_palette_path, read_palette
from blendkit.records import to_json

NOTHING_FITS = 1
"""Exit code when the question was understood and nothing in the drawer fits."""

PALETTE_VARIABLE = "BLENDKIT_PALETTE"


def _palette_of(ctx: typer.Context) -> Palette | None:
    """Palette that the command line names so far; None when it can't be read (completion keeps quiet)."""
    path = ctx.params.get("palette") or os.environ.get(PALETTE_VARIABLE) or demo_palette_path()
    try:
        return read_palette(path)
    except BlendkitError:
        return None


def _complete(names: list[str], incomplete: str) -> list[str]:
    """Names that begin with what is typed; joined by hyphens, which stand for spaces, so no quotes are needed.

    What is typed stays as it is, since the shell drops what does not begin with it; names are read in any case.
    """
    typed = incomplete.casefold().replace("-", " ")
    kept = len(incomplete) if len(typed) == len(incomplete) else 0
    return [
        incomplete[:kept] + name[kept:].replace(" ", "-")
        for name in names
        if name.casefold().replace("-", " ").startswith(typed)
    ]


def complete_names(ctx: typer.Context, incomplete: str) -> list[str]:
    """Complete any name of the palette."""
    palette = _palette_of(ctx)
    return _complete(list(palette.names), incomplete) if palette else []


def complete_markers(ctx: typer.Context, incomplete: str) -> list[str]:
    """Complete a marker's name."""
    palette = _palette_of(ctx)
    return _complete([marker.name for marker in palette.markers], incomplete) if palette else []


def complete_papers(ctx: typer.Context, incomplete: str) -> list[str]:
    """Complete the name of a paper or ribbon."""
    palette = _palette_of(ctx)
    return (
        _complete([paper.name for paper in (*palette.papers, *palette.ribbons)], incomplete)
        if palette
        else []
    )


PaletteOption = Annotated[
    Path | None,
    typer.Option(
        "--palette",
        "-p",
        envvar=PALETTE_VARIABLE,
        help="The palette file (CSV); without it the invented demo palette.",
        show_envvar=True,
    ),
]
OnOption = Annotated[
    str | None,
    typer.Option(
        "--on",
        help="The paper that is coloured on, by name.",
        autocompletion=complete_papers,
        show_default=False,
    ),
]
WithoutOption = Annotated[
    list[str] | None,
    typer.Option(
        "--without", help="Do as if this weren't at hand; may be repeated.", autocompletion=complete_names
    ),
]
NumbersOption = Annotated[
    bool, typer.Option("--numbers", help="Also show the numbers: colour values, differences, scores.")
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print the answer as JSON, schema 1.")]
ReportOption = Annotated[
    Path | None,
    typer.Option("--report", help="Also write a picture report: a file ending in .html, .png or .pdf."),
]
PageOption = Annotated[
    str | None, typer.Option("--page", help="Pages of a PDF report: A4 or Letter; else A4.")
]


def open_palette(path: Path | None, without: list[str] | None = None) -> Palette:
    """Read the palette, or the demo palette when none is named; the latter is said on standard error.

    Args:
        path: the palette file.
        without: names to leave out, as if they were out.
    """
    if path is not None:
        drawer = read_palette(path)
        return drawer.at_hand(without) if without else drawer
    demo = demo_palette_path()
    typer.echo(f"Using the invented demo palette {demo.name}; name your own with --palette FILE.", err=True)
    drawer = read_palette(demo)
    return drawer.at_hand(without) if without else drawer


def print_json(record: Any, **more: Any) -> None:
    """Print a record as one JSON object, letters of any script as they are."""
    typer.echo(json.dumps({**to_json(record), **more}, ensure_ascii=False, indent=2))


def report(path: Path | None, record: Any, page: str | None = None, **more: Any) -> None:
    """Write the picture report when one is asked for; *page* is the size of a PDF's pages."""
    if path is not None:
        from blendkit.page.page import PAGE_SIZES_MM
        from blendkit.report.report import write_report

        if page is not None and page not in PAGE_SIZES_MM:
            words = f"“{page}” is no page size here; accepted: {', '.join(PAGE_SIZES_MM)}"
            raise typer.BadParameter(words, param_hint="--page")
        write_report(record, path, page or "A4", **more)
        typer.echo(f"Wrote {path}", err=True)


def finish(fits: bool) -> None:
    """End the command: exit code 0 when answered, 1 when nothing fits."""
    if not fits:
        raise typer.Exit(NOTHING_FITS)
