"""The command convert: palettes from and to open exchange forms."""

from pathlib import Path
from typing import Annotated

import typer

from blendkit.cli.options import JsonOption, print_json
from blendkit.cli.tables import print_lines
from blendkit.errors import PaletteError
from blendkit.exchange.records import FORM_OF_ENDING


def convert_command(
    source: Annotated[Path, typer.Argument(help="File to read: a palette, .gpl, CGATS.17 text or CSV.")],
    out: Annotated[Path, typer.Argument(help="File to write; its ending tells the form.")],
    kind: Annotated[
        str, typer.Option(help="What the colours are where the file doesn't say: marker, paper, ribbon, ink.")
    ] = "marker",
    on: Annotated[str, typer.Option(help="The sample or paper under the swatches, by name.")] = "",
    row: Annotated[
        list[str] | None,
        typer.Option(help="What a row is, as “Kraft*=paper” (* stands for any letters); may be repeated."),
    ] = None,
    heading: Annotated[
        list[str] | None,
        typer.Option(help="A column by another heading, as name=Colour or L=Lightness; may be repeated."),
    ] = None,
    read_as: Annotated[
        str | None, typer.Option(help="Form of the source: gpl, cgats, csv or palette.")
    ] = None,
    write_as: Annotated[str | None, typer.Option(help="Form to write: gpl, cgats or csv.")] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace a file that is there.")] = False,
    json: JsonOption = False,
) -> None:
    """Read or write GIMP palettes, CGATS.17 text and plain CSV, and say what a form can't hold.

    Example:  blendkit convert palettes/first-box.csv first-box.gpl --force
    """
    from blendkit.exchange import export_palette, read_exchange
    from blendkit.files import locked, replace_keeping
    from blendkit.palette import read_palette

    form = write_as or FORM_OF_ENDING.get(out.suffix.lower())
    if form not in ("gpl", "cgats", "csv"):
        raise PaletteError(
            f"{out.name} tells no form; end it in .gpl, .txt or .csv, or name one with --write-as."
        )
    if out.exists() and not force:
        raise PaletteError(f"{out} is there already; give another name, or --force to replace it.")
    own = _is_palette(source) if read_as in (None, "palette") else False
    notes: tuple[str, ...] = ()
    if read_as == "palette" or own:
        drawer = read_palette(source)
    else:
        imported = read_exchange(source, form=read_as, kind=kind, on=on, kinds=_kinds(row), headings=heading)
        drawer, notes = imported.palette, imported.notes
    headings = heading if own else None  # those of a foreign source say how to read it
    exported = export_palette(drawer, form, title=source.stem, headings=headings)
    with locked(out):
        kept = out.exists()
        replace_keeping(out, exported.data)
    notes += exported.notes
    if kept:
        notes += (f"What stood in {out.name} before is kept in {out.name}.kept.",)
    if json:
        print_json(
            {
                "source": str(source),
                "out": str(out),
                "form": form,
                "colours": exported.colours,
                "notes": list(notes),
            }
        )
    else:
        print_lines(f"Wrote {exported.colours} colours to {out}.", *notes)


def _kinds(rows: list[str] | None) -> dict[str, str]:
    """Read “name=kind”."""
    kinds = {}
    for text in rows or ():
        name, mark, kind = text.rpartition("=")
        if not mark:
            raise PaletteError(f"“{text}” doesn't say what a row is; write it as “Kraft card=paper”.")
        kinds[name.strip()] = kind.strip()
    return kinds


def _is_palette(source: Path) -> bool:
    """Tell a palette file of our own by its headings: name and kind."""
    from blendkit.palette import read_palette

    if source.suffix.lower() != ".csv":
        return False
    try:
        read_palette(source)
    except PaletteError:
        return False
    return True
