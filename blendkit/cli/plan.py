"""Command plan: a project becomes sheets, a coloured preview and a cut line; or is checked without drawing."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import typer

from blendkit.cli.options import (
    BudgetOption,
    JsonOption,
    NumbersOption,
    PaletteOption,
    finish,
    open_palette,
    print_json,
)
from blendkit.cli.tables import paint, print_lines, print_table, progress, strip
from blendkit.errors import PaletteError, PictureError, ProjectError
from blendkit.palette import Palette, demo_palette_path, read_palette
from blendkit.picture.reading import ENDINGS
from blendkit.plan.records import Finding, PlanRecord
from blendkit.project.reading import read_faulty_project, to_mend
from blendkit.project.records import PAGES, Project

PARTS = ("plan", "class", "preview", "cut")


@dataclass(frozen=True)
class SheetOptions:
    """What is made of a project, and how its sheets are drawn."""

    to: Annotated[
        Path | None, typer.Option("--to", help="Folder for the files; a folder “plan” beside the project.")
    ] = None
    check: Annotated[bool, typer.Option("--check", help="Say what would go wrong, and draw nothing.")] = False
    only: Annotated[
        list[str] | None, typer.Option(help=f"Only this: {', '.join(PARTS)}. May be given more than once.")
    ] = None
    form: Annotated[
        list[str] | None,
        typer.Option("--format", help="Format of the sheets: pdf, png or svg. May be given more than once."),
    ] = None
    page: Annotated[str | None, typer.Option(help="A4 or Letter; else what the project says.")] = None
    stages: Annotated[
        bool,
        typer.Option(
            "--stages", help="Draw the stages too: outline, base, shadow, blend, highlight; a moving picture."
        ),
    ] = False
    seats: Annotated[
        int | None,
        typer.Option(
            "--class",
            min=1,
            max=60,
            help="A class of so many: counts markers and papers, writes the class set.",
        ),
    ] = None
    black: Annotated[
        bool, typer.Option("--black", help="For a printer of one ink: swatches in grey, names beside each.")
    ] = False
    look: Annotated[
        str, typer.Option(help="How the preview is painted: plain, or marker for strokes in two tones.")
    ] = "plain"

    budget: BudgetOption = None

    def settled(self) -> dict[str, Any]:
        """What :func:`~blendkit.plan.files.write_plan` takes, checked."""
        asked = self.only or (["class"] if self.seats is not None else [])
        _chosen([self.look], ("plain", "marker"), "--look")
        if self.page is not None:
            _chosen([self.page], PAGES, "--page")
        return {
            "only": _chosen(asked, PARTS, "--only"),
            "formats": _chosen(self.form or ["pdf"], ("pdf", "png", "svg"), "--format"),
            "page": self.page,
            "stages": self.stages,
            "look": self.look,
            "copies": self.seats or 1,
            "black": self.black,
            "budget": self.budget,
        }


def plan_command(
    ctx: typer.Context,
    project: Annotated[Path, typer.Argument(help="The project file, such as project.toml.")],
    *,
    palette: PaletteOption = None,
    sheets: SheetOptions,
    areas: Annotated[
        Path | None,
        typer.Option(
            help="Write a map of the closed areas with their numbers, for writing a project by hand."
        ),
    ] = None,
    start: Annotated[
        Path | None,
        typer.Option(help="Begin a new project file from a line image: blendkit plan image.png --start FILE"),
    ] = None,
    numbers: NumbersOption = False,
    json: JsonOption = False,
) -> None:
    """Make a colouring plan: sheets to work from, a class form, the coloured preview and the cut line.

    Example:  blendkit plan examples/hedgehog_lantern/project.toml --to plans
    """
    settled = sheets.settled()
    if start is not None:
        _start(project, start)
        return
    if project.suffix.lower() in ENDINGS:
        raise ProjectError(
            f"{project} is a picture, not a project file. Begin a project from it with: "
            f"blendkit plan {project} --start project.toml"
        )
    opened, found = read_faulty_project(project)
    try:
        if found:
            raise to_mend(project.name, found)
        drawer = _drawer(ctx, palette, opened)
        if sheets.check:
            _check(opened, drawer, json, numbers)
        elif areas is not None:
            _write_areas(opened, drawer, areas)
        else:
            _write(opened, drawer, sheets.to or project.parent / "plan", settled, json, numbers)
    except (ProjectError, PictureError, PaletteError) as error:
        from blendkit.project.faults import join_faults

        raise join_faults(error, opened, found, lambda one: _drawer(ctx, palette, one, quiet=True)) from None


def _write_areas(project: Project, drawer: Palette, to: Path) -> None:
    from blendkit.plan.files import write_areas

    with progress() as tell:
        files = write_areas(project, drawer, to, tell)
    for file in files:
        typer.echo(f"Wrote {file}", err=True)


def _chosen(given: list[str], among: tuple[str, ...], option: str) -> tuple[str, ...]:
    for one in given:
        if one not in among:
            raise typer.BadParameter(
                f"“{one}” is not there to choose; accepted: {', '.join(among)}", param_hint=option
            )
    return tuple(given) or among


def _drawer(ctx: typer.Context, palette: Path | None, project: Project, quiet: bool = False) -> Palette:
    """The palette that the command names; else the project's; else the usual one, said unless *quiet*."""
    source = ctx.get_parameter_source("palette")
    typed = source is not None and source.name == "COMMANDLINE"
    if project.palette_path is not None and not typed:
        return read_palette(project.palette_path)
    if quiet or palette is not None:
        return read_palette(palette or demo_palette_path())
    return open_palette(None)


def _check(project: Project, drawer: Palette, json: bool, numbers: bool) -> None:
    from blendkit.plan.check import check_plan

    with progress() as tell:
        from blendkit.project.work import open_work

        answer = check_plan(project, drawer, open_work(project, None, tell))
    if json:
        print_json(answer)
    else:
        _print_findings(answer.findings, numbers)
        print_lines(*answer.words)
    if answer.unknown:
        raise typer.Exit(2)
    finish(answer.fits)


def _print_findings(findings: tuple[Finding, ...], numbers: bool) -> None:
    if not findings:
        return
    print_table(
        "",
        ("", "what", "where", "why", "found", "limit"),
        [
            (
                "✗" if one.level == "fault" else "·",
                one.topic,
                one.where,
                one.words,
                "" if one.value is None else f"{one.value:.1f}",
                "" if one.limit is None else f"{one.limit:.1f}",
            )
            for one in findings
        ],
        right=(4, 5),
        wide=(3, 2),
        behind=(4, 5),
        numbers=numbers,
    )
    print_lines("")


def _write(
    project: Project, drawer: Palette, folder: Path, settled: Mapping[str, Any], json: bool, numbers: bool
) -> None:
    from blendkit.plan.files import write_plan

    with progress() as tell:
        made = write_plan(project, drawer, folder, progress=tell, **settled)
    if json:
        print_json(made.plan, cut_line=_cut_facts(made.cut_line), files=[str(file) for file in made.files])
        return
    _print_plan(made.plan, numbers)
    if made.cut_line is not None:
        print_lines("Cut line: " + " ".join(made.cut_line.words))
    for file in made.files:
        typer.echo(f"Wrote {file}", err=True)


def _cut_facts(line: object) -> object:
    from blendkit.records import plain

    return None if line is None else plain(line)


HOW_WORDS = {
    "marker": "into the damp base",
    "over": "over the dry base",
    "under": "under the base",
    "coats": "more coats of the base",
    "plain": "no shadow",
}
"""How the shadow of a part is laid."""


def _print_plan(plan: PlanRecord, numbers: bool) -> None:
    print_lines(f"{plan.project}: {plan.size}, on {plan.on.name}, light from {plan.light_words}")
    print_table(
        "",
        ("", "", "part", "markers", "shadow", "coats in all", "of at most"),
        [
            (
                str(part.number),
                strip((swatch.hex for swatch in part.strip), 2) if part.strip else paint("#ffffff", 2),
                part.name,
                " + ".join(one.name for one in (part.light, part.base, part.shadow) if one is not None)
                or ("leave white" if part.how == "white" else "no marker chosen"),
                HOW_WORDS.get(part.how, ""),
                f"{part.coats}" if part.coats else "",
                f"{part.coat_limit}" if part.coats else "",
            )
            for part in plan.parts
        ],
        right=(0, 5, 6),
        wide=(3,),
        behind=(5, 6),
        numbers=numbers,
    )
    if plan.papers:
        print_lines("")
        print_table(
            "",
            ("", "paper", "role", "size", "match", "difference"),
            [
                (
                    paint(one.swatch.hex),
                    one.swatch.name,
                    one.role,
                    one.size,
                    one.verdict and f"{one.verdict}: {one.echoes}",
                    "" if one.delta_e_2000 is None else f"{one.delta_e_2000:.1f}",
                )
                for one in plan.papers
            ],
            right=(5,),
            wide=(4,),
            behind=(5,),
            numbers=numbers,
        )
    if plan.greeting is not None:
        reads = "reads well." if plan.greeting.reads else "doesn't read well."
        told = plan.greeting.words if numbers else reads
        print_lines("", f"Greeting: {plan.greeting.ink.name} on {plan.greeting.on.name} {told}")
    if plan.shopping is not None:
        print_lines("")
        print_table(
            "Needed, and not at hand",
            ("to buy", "kind", "copies", "price", "for", "left out"),
            [
                (
                    one.name,
                    one.kind,
                    str(one.copies),
                    "" if one.price is None else f"{one.price:.2f}",
                    ", ".join(one.used_for),
                    "" if one.buy else "no price" if one.price is None else "too dear",
                )
                for one in plan.shopping.items
            ],
            right=(2, 3),
            wide=(4,),
        )
        print_lines(*plan.shopping.words)
    if plan.copies > 1:
        count = sum(one.kind == "marker" for one in plan.pull)
        print_lines(
            "",
            f"For {plan.copies} seats lay out {plan.sets} sets of {count} markers, {plan.sets * count} in all.",
            *(f"{one.name}: {one.words}" for one in plan.cuts),
            *(
                f"{one.name}: {one.count} of {one.size}; {one.words}"
                for one in plan.layers
                if one.role == "ribbon"
            ),
        )
    print_lines("")
    _print_findings(plan.findings, numbers)
    print_lines(*plan.words)


def _start(picture: Path, file: Path) -> None:
    """Begin a project: one part for each of the larger areas, to be named and given markers."""
    from blendkit.project.start import start_project

    with progress() as tell:
        started = start_project(picture, file, tell)
    count = len(started.project.parts)
    typer.echo(f"Wrote {file} with {count} parts; name them and give them markers.", err=True)
    for words in started.words:
        typer.echo(words, err=True)
