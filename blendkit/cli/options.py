"""What every command shares: its palette, its paper, JSON, reports, exit codes, completion of names."""

import json
import os
from collections.abc import Callable
from dataclasses import dataclass, fields, is_dataclass
from inspect import Parameter, Signature, signature
from pathlib import Path
from typing import Annotated, Any, get_type_hints

import typer

from blendkit.advice.shading_series import DEFAULT_WINDOW, LEANS, Taste
from blendkit.errors import BlendkitError
from blendkit.palette import Palette, demo_palette_path, read_palette
from blendkit.records import to_json
from blendkit.words import listed

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


BudgetOption = Annotated[
    float | None, typer.Option(min=0, help="What it may cost, by the column price; the best for that.")
]
LeanOption = Annotated[str, typer.Option(help=f"Let shadows lean: {listed(list(LEANS), 'or')}.")]
WindowOption = Annotated[
    tuple[float, float], typer.Option(help="Smallest and largest step of lightness (of 100) for a companion.")
]


def open_palette(path: Path | None, without: list[str] | None = None) -> Palette:
    """Read the palette, or the demo palette when none is named; the latter is said on standard error.

    Args:
        path: the palette file.
        without: names to leave out, as if they were out.
    """
    if path is None:
        path = demo_palette_path()
        typer.echo(
            f"Using the invented demo palette {path.name}; name your own with --palette FILE.", err=True
        )
    return read_palette(path).at_hand(without or ())


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


@dataclass(frozen=True)
class DrawerOptions:
    """Which drawer is asked, on which paper, and without what."""

    palette: PaletteOption = None
    on: OnOption = None
    without: WithoutOption = None

    def open(self) -> Palette:
        """Read the drawer."""
        return open_palette(self.palette, self.without)


@dataclass(frozen=True)
class TasteOptions:
    """Which way a shadow leans, and how far it steps."""

    lean: LeanOption = "none"
    window: WindowOption = DEFAULT_WINDOW

    @property
    def taste(self) -> Taste:
        """As advice takes it."""
        return Taste(self.window, self.lean)


@dataclass(frozen=True)
class ShownOptions:
    """How an answer is shown."""

    numbers: NumbersOption = False
    json: JsonOption = False
    report_file: ReportOption = None
    page: PageOption = None

    def tables(self, answer: Any, **more: Any) -> bool:
        """Write the report and print the JSON that are asked for; tell whether tables are wanted."""
        report(self.report_file, answer, self.page)
        if self.json:
            print_json(answer, **more)
        return not self.json


def spread(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command, whose records of options are keyword arguments, with each option by itself.

    So the command line reads them, and the command has few arguments.
    """
    hints = get_type_hints(command, include_extras=True)
    groups: dict[str, Any] = {name: hint for name, hint in hints.items() if is_dataclass(hint)}
    single: list[Parameter] = []
    for parameter in signature(command).parameters.values():
        group = groups.get(parameter.name)
        if group is None:
            single.append(parameter.replace(annotation=hints[parameter.name]))
            continue
        kinds = get_type_hints(group, include_extras=True)
        single += [
            Parameter(one.name, Parameter.KEYWORD_ONLY, default=one.default, annotation=kinds[one.name])
            for one in fields(group)
        ]

    def run(**given: Any) -> None:
        records = {
            name: group(**{one.name: given.pop(one.name) for one in fields(group)})
            for name, group in groups.items()
        }
        command(**given, **records)

    run.__doc__ = command.__doc__
    run.__signature__ = Signature(single)  # type: ignore[attr-defined]
    run.__annotations__ = {one.name: one.annotation for one in single}
    return run


def finish(fits: bool) -> None:
    """End the command: exit code 0 when answered, 1 when nothing fits."""
    if not fits:
        raise typer.Exit(NOTHING_FITS)
