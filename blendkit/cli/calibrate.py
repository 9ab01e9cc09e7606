"""The command that fits the ink model to the user's own markers and paper."""

import os
from dataclasses import dataclass
from datetime import date as clock
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from blendkit.cli.options import (
    JsonOption,
    NumbersOption,
    OnOption,
    PageOption,
    PaletteOption,
    ReportOption,
    finish,
    open_palette,
    print_json,
    report,
)
from blendkit.cli.tables import print_lines, print_table, progress, strip
from blendkit.palette import Palette, demo_palette_path
from blendkit.words import verdict_of

if TYPE_CHECKING:
    from blendkit.advice.calibrate import Calibration, Overlap
    from blendkit.palette.calibration_file import Residual


@dataclass(frozen=True)
class MeasuredOptions:
    """What was measured besides the palette."""

    overlaps: Annotated[
        Path | None,
        typer.Option(help="A CSV of measured overlaps: columns under, over and L, a, b, or hex."),
    ] = None
    scan: Annotated[
        list[Path] | None,
        typer.Option(help="A picture of a coloured chart: its boxes of one marker over another count too."),
    ] = None
    chart: Annotated[Path | None, typer.Option(help="With --scan: the chart's description file.")] = None


@dataclass(frozen=True)
class KeepingOptions:
    """What becomes of the fit."""

    dry_run: Annotated[bool, typer.Option("--dry-run", help="Show the fit and write nothing.")] = False
    force: Annotated[
        bool, typer.Option("--force", help="Keep the fit though it doesn't help with unseen markers.")
    ] = False
    forget: Annotated[
        bool, typer.Option("--forget", help="Go back to the usual constants on that paper.")
    ] = False
    date: Annotated[
        str | None, typer.Option(help="Kept with the fit; today by default.", show_default=False)
    ] = None
    yes: Annotated[bool, typer.Option("--yes", help="Write without asking.")] = False


def calibrate_command(
    *,
    palette: PaletteOption = None,
    on: OnOption = None,
    measured: MeasuredOptions,
    keeping: KeepingOptions,
    numbers: NumbersOption = False,
    json: JsonOption = False,
    report_file: ReportOption = None,
    page: PageOption = None,
) -> None:
    """Fit the ink model to your own markers on your own paper, from measured second and third coats.

    The fit is kept beside the palette, for that paper, and every answer uses it from then on.

    Example:  blendkit calibrate --dry-run
    """
    from blendkit.advice.calibrate import calibrate_ink

    drawer = open_palette(palette)
    if keeping.forget:
        _forget(drawer, on, json)
        return
    answer = calibrate_ink(
        drawer,
        on=on,
        overlaps=_overlaps(drawer, measured),
        force=keeping.force,
        date=keeping.date or clock.today().isoformat(),
    )
    report(report_file, answer, page)
    if not json:
        _show(answer, numbers)
    written = _store(drawer, answer, dry_run=keeping.dry_run, ask=not keeping.yes)
    if json:
        print_json(answer, written=str(written) if written else None)
    finish(answer.fits)


def _overlaps(drawer: Palette, measured: MeasuredOptions) -> list["Overlap"]:
    """Gather the overlaps of the table, and those of the pictures."""
    from blendkit.advice.calibrate import Overlap, read_overlaps

    found: list[Overlap] = []
    if measured.overlaps is not None:
        found += read_overlaps(measured.overlaps, [marker.name for marker in drawer.markers])
    if measured.scan:
        from blendkit.chart.scan import read_scan
        from blendkit.palette import reading_from_lab

        with progress() as tell:
            record = read_scan(measured.scan, measured.chart or drawer, palette=drawer, progress=tell)
        rough = {page.page for page in record.pages if page.lightness_only}
        for reading in record.readings:
            if reading.kind == "over" and reading.usable and reading.page not in rough:
                assert reading.lab is not None
                under, over = reading.markers
                found.append(Overlap(under, over, reading_from_lab(reading.lab), f"box {reading.label}"))
    return found


def _figures(residual: "Residual | None") -> tuple[str, str, str]:
    if residual is None:
        return ("", "", "")
    return (f"{residual.median:.1f}", f"{residual.mean:.1f}", f"{residual.max:.1f}")


def _show(answer: "Calibration", numbers: bool) -> None:
    if answer.fits:
        print_table(
            f"Coats and stacks on {answer.on}: as measured, as told until now, as told by the fit",
            ("", "stack", "until now", "by the fit", "off, usual", "off, fitted", "off, left out"),
            [
                (
                    strip((stack.measured.hex, stack.before.hex, stack.after.hex), 3),
                    stack.name,
                    verdict_of(stack.delta_e_before).word,
                    verdict_of(stack.delta_e_after).word,
                    f"{stack.delta_e_before:.1f}",
                    f"{stack.delta_e_after:.1f}",
                    f"{stack.delta_e_left_out:.1f}",
                )
                for stack in answer.stacks
            ],
            right=(4, 5, 6),
            wide=(1,),
            behind=(4, 5, 6),
            numbers=numbers,
        )
        print_lines("")
    if answer.fits and numbers:
        print_table(
            "How far off over all (below 1 nobody sees it)",
            ("", "middle", "mean", "largest"),
            [
                ("usual constants", *_figures(answer.before)),
                ("fitted constants", *_figures(answer.after)),
                ("fitted without the marker", *_figures(answer.left_out)),
            ],
            right=(1, 2, 3),
        )
        print_lines("")
        print_table(
            "Constants",
            ("", "usual", "fitted", "range", "what it is"),
            [
                (
                    one.name,
                    f"{one.before:g}",
                    f"{one.after:g}" if one.fitted else "as it is",
                    f"{one.low:g} to {one.high:g}",
                    one.meaning,
                )
                for one in answer.constants
            ],
            right=(1, 2),
            wide=(4,),
        )
        print_lines("")
    print_lines(*(answer.words if numbers or not answer.fits else answer.plain_words))


def _is_demo(path: Path) -> bool:
    folder = demo_palette_path().parent
    return os.path.realpath(path.parent) == os.path.realpath(folder)


def _store(drawer: Palette, answer: "Calibration", *, dry_run: bool, ask: bool) -> Path | None:
    """Write the fit when it is to be kept and the user agrees; give the file."""
    if not answer.keep:
        return None
    if dry_run or drawer.path is None:
        typer.echo("Nothing was written.", err=True)
        return None
    if _is_demo(drawer.path):
        typer.echo(
            f"Nothing was written: {drawer.path.name} is a demo palette; copy it, and name the copy.",
            err=True,
        )
        return None
    from blendkit.palette import name_key
    from blendkit.palette.calibration_file import calibration_path, read_calibrations, store_calibration

    file = calibration_path(drawer.path)
    there = [one for one in read_calibrations(drawer.path) if name_key(one.paper) == name_key(answer.on)]
    instead = f", in the place of that of {there[0].date}" if there else ""
    if ask and not typer.confirm(f"Keep this fit for {answer.on} in {file.name}{instead}?", err=True):
        typer.echo("Nothing was written.", err=True)
        return None
    store_calibration(drawer.path, answer.stored)
    typer.echo(f"Wrote {file}; blendkit calibrate --forget takes it back.", err=True)
    return file


def _forget(drawer: Palette, on: str | None, json: bool) -> None:
    from blendkit.inked import choose_paper
    from blendkit.palette.calibration_file import forget_calibration

    paper = choose_paper(drawer, on).name
    gone = forget_calibration(drawer.path, paper) if drawer.path is not None else None
    if json:
        import json as text

        typer.echo(text.dumps({"schema": 1, "on": paper, "forgotten": gone is not None}, ensure_ascii=False))
    elif gone is None:
        print_lines(f"No fit is kept for {paper}; coats are told in the usual way.")
    else:
        print_lines(
            f"The fit of {gone.date} for {paper} is taken out; coats are told in the usual way again."
        )
    finish(gone is not None)
