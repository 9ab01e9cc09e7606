"""Commands of the printed loop: chart to print and colour, scan to read it back."""

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Annotated, Any

import typer

from blendkit.cli.options import (
    JsonOption,
    NumbersOption,
    OnOption,
    PaletteOption,
    complete_markers,
    finish,
    open_palette,
    print_json,
)
from blendkit.cli.tables import paint, print_lines, print_table, progress, strip
from blendkit.errors import PaletteError, Problem, SheetError
from blendkit.palette import Marker, Palette, name_key
from blendkit.words import FLAG_WORDS, count_of, describe_colour, finding_words, verdict_of

_NAMES_SHOWN = 12
"""Names of markers that a sentence lists before it breaks off."""


def _pairs(texts: list[str] | None) -> list[tuple[str, str]]:
    pairs: list[tuple[str, str]] = []
    for text in texts or ():
        light, mark, dark = text.partition("/")
        if not mark or not light.strip() or not dark.strip():
            raise SheetError(f"“{text}” is no pair to blend; write it as LIGHT/DARK, for example pale/deep")
        pairs.append((light.strip(), dark.strip()))
    return pairs


def _box(text: str | None) -> tuple[float, float] | None:
    if text is None:
        return None
    width, mark, height = text.lower().replace("×", "x").partition("x")
    try:
        return float(width), float(height if mark else width)
    except ValueError:
        raise SheetError(
            f"“{text}” is no size of a box; write it as WIDTHxHEIGHT in mm, for example 15x11"
        ) from None


@dataclass(frozen=True)
class BoxOptions:
    """What is put on a chart."""

    family: Annotated[list[str] | None, typer.Option(help="Only this family; may be repeated.")] = None
    unmeasured: Annotated[bool, typer.Option("--unmeasured", help="Only what has no measurement yet.")] = (
        False
    )
    project: Annotated[Path | None, typer.Option(help="Only what a project file needs.")] = None
    coats: Annotated[int, typer.Option(min=1, max=3, help="Boxes for each marker: coats.")] = 1
    swatches: Annotated[bool, typer.Option(help="Boxes of the single markers.")] = True
    blend: Annotated[
        list[str] | None, typer.Option(help="A strip from light to dark, as LIGHT/DARK; may be repeated.")
    ] = None
    family_blends: Annotated[
        bool, typer.Option("--family-blends", help="A strip between neighbours of every family.")
    ] = False
    under: Annotated[list[str] | None, typer.Option(help="A marker to lay under others.")] = None
    over: Annotated[list[str] | None, typer.Option(help="A marker to lay over them.")] = None
    anchor: Annotated[
        list[str] | None, typer.Option(help="A marker measured by an instrument, to tie a photo to.")
    ] = None

    blender: Annotated[
        bool,
        typer.Option("--blender", help="For each marker a box for one coat, then the colourless blender."),
    ] = False

    def asked(self, markers: list[str] | None) -> dict[str, Any]:
        """What :func:`~blendkit.chart.chart.make_chart` takes of it, with the markers that are named."""
        names = list(markers or ())
        if self.project is not None:
            from blendkit.project.reading import read_project, targets_of

            needed = targets_of(read_project(self.project))
            names += [one.colour for one in needed if one.colour not in names]
        return {
            "names": names,
            "families": self.family or (),
            "unmeasured": self.unmeasured,
            "coats": self.coats,
            "swatches": self.swatches,
            "blends": _pairs(self.blend),
            "family_blends": self.family_blends,
            "unders": self.under or (),
            "overs": self.over or (),
            "anchors": self.anchor or (),
            "lifts": self.blender,
        }


@dataclass(frozen=True)
class ChartLookOptions:
    """How a chart's page looks."""

    paper_size: Annotated[str, typer.Option(help="A4 or Letter.")] = "A4"
    landscape: Annotated[bool, typer.Option("--landscape", help="Turn the page on its side.")] = False
    box: Annotated[
        str | None, typer.Option(help="Size of a box in mm, as 15x11; the largest that fits by default.")
    ] = None
    expected: Annotated[bool, typer.Option(help="Print the colour expected under each box.")] = True
    order: Annotated[str, typer.Option(help="hue, family or palette.")] = "hue"
    title: Annotated[str | None, typer.Option(help="Printed at the top.")] = None

    def asked(self) -> dict[str, Any]:
        """What :func:`~blendkit.chart.chart.make_chart` takes of it."""
        if self.order not in ("hue", "family", "palette"):
            raise SheetError(
                f"A chart can't be in the order of “{self.order}”; accepted: hue, family, palette"
            )
        return {
            "paper_size": self.paper_size,
            "landscape": self.landscape,
            "box_mm": _box(self.box),
            "expected": self.expected,
            "order": self.order,
            "title": self.title,
        }


def chart_command(
    markers: Annotated[
        list[str] | None,
        typer.Argument(help="Markers to put on it; none for all.", autocompletion=complete_markers),
    ] = None,
    *,
    palette: PaletteOption = None,
    out: Annotated[
        Path, typer.Option("--out", "-o", help="Where to write it: a file ending in .pdf, .svg or .png.")
    ] = Path("chart.pdf"),
    boxes: BoxOptions,
    on: OnOption = None,
    look: ChartLookOptions,
    dpi: Annotated[float, typer.Option(min=50, max=1200, help="Of a .png.")] = 300.0,
    json: JsonOption = False,
) -> None:
    """Print a chart of boxes to colour, photograph and read back with scan.

    The loop: chart, print at 100 %, colour, photograph the whole page, scan, better answers.

    Example:  blendkit chart --family "moss stone" --coats 2 --out chart.pdf
    """
    from blendkit.chart.chart import make_chart, write_chart

    record = make_chart(open_palette(palette), **boxes.asked(markers), paper=on, **look.asked())
    written = write_chart(record, out, dpi=dpi)
    if json:
        print_json(record, files=[str(path) for path in written])
        return
    print_lines(
        f"{record.title}: {record.boxes} boxes on {record.pages} page{'s' if record.pages != 1 else ''}.",
        *record.notes,
        "Wrote " + ", ".join(str(path) for path in written) + "; keep them together.",
        "Print at 100 %, check the ruler, colour each box edge to edge, let it dry, photograph the whole page.",
    )


def _chart_of(images: list[Path], chart: Path | None) -> Path | None:
    """Give the description file that was named, or the only one that lies beside the first picture."""
    if chart is not None:
        return chart
    beside = sorted(images[0].absolute().parent.glob("*.chart.json"))
    return beside[0] if len(beside) == 1 else None


def _numbers(text: str | None, what: str) -> list[float] | None:
    if text is None:
        return None
    try:
        numbers = [float(part) for part in text.replace(",", " ").split()]
    except ValueError:
        numbers = []
    if len(numbers) != 3:
        raise SheetError(f"{what} is “{text}”; give L, a and b, for example “95 0 -2”")
    return numbers


@dataclass(frozen=True)
class TakingOptions:
    """What becomes of the readings."""

    into: Annotated[
        Path | None, typer.Option(help="Write the readings into this palette, after showing what changes.")
    ] = None
    replace_surer: Annotated[
        bool,
        typer.Option(
            "--replace-surer",
            help="With --into: also replace what the palette holds surer than this reading.",
        ),
    ] = False
    add: Annotated[
        bool, typer.Option("--add", help="With --into: also add the chart's markers that the palette lacks.")
    ] = False
    mend: Annotated[
        bool,
        typer.Option("--mend", help="Take markers that look swapped or shifted for what their colours say."),
    ] = False
    unlikely: Annotated[
        bool,
        typer.Option("--unlikely", help="With --into: also take what is most unlikely, without a question."),
    ] = False
    yes: Annotated[bool, typer.Option("--yes", help="With --into: write what is likely without asking.")] = (
        False
    )


def scan_command(
    images: Annotated[list[Path], typer.Argument(help="Photos or scans of the coloured pages.")],
    *,
    palette: PaletteOption = None,
    chart: Annotated[
        Path | None,
        typer.Option(
            help="The chart's description file; without it the page's own code and the palette serve."
        ),
    ] = None,
    paper: Annotated[
        str | None,
        typer.Option(help="Lab of the bare paper, as “95 0 -2”; else the palette's, else a white."),
    ] = None,
    target: Annotated[
        Path | None, typer.Option(help="Description of a colour target that lies in the picture.")
    ] = None,
    setup: Annotated[
        str, typer.Option(help="A name for this camera and light, kept with the readings.")
    ] = "",
    contact: Annotated[
        Path | None, typer.Option(help="Also write a contact picture with each box outlined (.png).")
    ] = None,
    taking: TakingOptions,
    numbers: NumbersOption = False,
    json: JsonOption = False,
) -> None:
    """Read a coloured chart back: the Lab of each box, and how sure it is.

    Measurements that the palette holds surer (by an instrument, say) stay unless --replace-surer is given.
    Markers that it doesn't have are named, and added only with --add. What is most unlikely (markers that look
    swapped, a second coat lighter than the first) is asked about one by one, and left out with --yes.

    Example:  blendkit scan photo.jpg --contact contact.png --into my-drawer.csv
    """
    from blendkit.chart.plausible import mended
    from blendkit.chart.scan import read_scan
    from blendkit.chart.scan_record import lifts_for, readings_for, unknown_readings_for
    from blendkit.palette import read_palette

    into = taking.into
    if taking.add and into is None:
        raise SheetError("--add adds markers to a palette file; name the file with --into")
    drawer = read_palette(into) if into is not None else open_palette(palette)
    described = _chart_of(images, chart)
    with progress() as tell:
        record = read_scan(
            list(images),
            described if described is not None else drawer,
            palette=drawer,
            paper_lab=_numbers(paper, "The paper's colour"),
            target=target,
            setup=setup,
            progress=tell,
        )
    if taking.mend:
        record = mended(record)
    written: list[Path] = []
    if contact is not None:
        written = _write_contact(record, contact)
    changes = readings_for(record, drawer)
    unknown = unknown_readings_for(record, drawer)
    lifts = lifts_for(record, drawer)
    if json:
        print_json(
            record,
            changes=[_plain(change) for change in changes],
            unknown=[_plain(one) for one in unknown],
            lifts=[_plain(one) for one in lifts],
            contact=[str(path) for path in written],
        )
    else:
        _show_readings(record, numbers)
        _show_lifts(lifts, numbers)
        for path in written:
            print_lines(f"Wrote {path}")
    if into is not None:
        if unknown and not taking.add:
            typer.echo(_unknown_words(unknown, into.name), err=True)
        wanted = [one for one in changes if taking.replace_surer or not one.old_is_surer]
        _say_what_stays(len(changes) - len(wanted), into.name)
        wanted += _addable(unknown) if taking.add else ()
        if not taking.unlikely:
            wanted = _without_unlikely(wanted, ask=not taking.yes and not json)
        _take_over(into, wanted, lifts, ask=not taking.yes, quiet=json)
    finish(any(reading.usable for reading in record.readings))


def _plain(record: Any) -> Any:
    from blendkit.records import plain

    return plain(record)


def _write_contact(record: Any, path: Path) -> list[Path]:
    from blendkit.chart.contact import draw_contact
    from blendkit.palette import replace_file

    pages = draw_contact(record)
    paths = (
        [path]
        if len(pages) == 1
        else [path.with_name(f"{path.stem}-{number}{path.suffix}") for number in range(1, len(pages) + 1)]
    )
    for one, data in zip(paths, pages, strict=True):
        replace_file(one, data)
    return paths


_KIND_WORDS = {
    "blend": "blended",
    "over": "one over the other",
    "anchor": "1, an anchor",
    "lift": "1, then blender",
}

_ASKED_SINGLY = 5
"""Most unlikely readings that are asked about one by one. Own judgement."""
_NUMBERS_MEAN = (
    "Differences are in CIEDE2000 (1 is about the least that is seen side by side). Sure to: how far off a "
    "colour may be. It is wide because 95 of 100 readings lie within it, over cameras of all kinds; the usual "
    "error is about a third of it. Together: the same for comparing colours of this table with each other."
)


def _show_readings(record: Any, numbers: bool) -> None:
    from blendkit.colour import lab_to_hex

    rows = []
    for reading in record.readings:
        if reading.kind == "paper":
            continue
        read = lab_to_hex(reading.lab) if reading.lab is not None else None
        wanted = lab_to_hex(reading.expected_lab) if reading.expected_lab is not None else None
        rows.append(
            (
                strip([wanted or "#ffffff", read or "#ffffff"], 3),
                reading.label,
                str(reading.coats) if reading.kind == "swatch" else _KIND_WORDS[reading.kind],
                describe_colour(reading.lab) if reading.lab is not None else "not read",
                verdict_of(reading.delta_e_2000).word if reading.delta_e_2000 is not None else "",
                "; ".join(reading.flags),
                " ".join(f"{value:.1f}" for value in reading.lab) if reading.lab is not None else "",
                f"± {reading.uncertainty:.1f}" if reading.uncertainty is not None else "",
                f"± {reading.within_setup:.1f}" if reading.within_setup is not None else "",
                f"{reading.delta_e_2000:.1f}" if reading.delta_e_2000 is not None else "",
            )
        )
    print_table(
        record.title or "Readings",
        (
            "",
            "box",
            "coats",
            "read as",
            "as expected",
            "remark",
            "Lab",
            "sure to",
            "together",
            "off expected",
        ),
        rows,
        right=(7, 8, 9),
        wide=(5,),
        behind=(6, 7, 8, 9),
        numbers=numbers,
    )
    if numbers:
        print_lines(_NUMBERS_MEAN)
    remarks = dict.fromkeys(flag for reading in record.readings for flag in reading.flags)
    print_lines(*(f"{flag}: {FLAG_WORDS[flag]}" for flag in remarks))
    for page in record.pages:
        print_lines(
            f"Page {page.page}: {page.marks_found} marks, {page.correction}",
            *(f"  {note}" for note in page.notes),
        )
    print_lines(*record.notes)
    for one in record.findings:
        words = finding_words(one.kind, one.boxes, one.amount, one.markers, one.instead)
        print_lines(f"Please look: page {one.page}, {words}")


def _show_lifts(lifts: Any, numbers: bool) -> None:
    from blendkit.colour import lab_to_hex

    if lifts:
        print_lines("")
        print_table(
            "What the colourless blender does to one dry coat",
            ("", "marker", "what it does", "share lifted", "before"),
            [
                (
                    strip([lab_to_hex(one.coat_lab), lab_to_hex(one.lifted_lab)], 3),
                    one.marker,
                    one.words,
                    f"{one.lift:.2f}",
                    "" if one.old_lift is None else f"{one.old_lift:.2f}",
                )
                for one in lifts
            ],
            right=(3, 4),
            behind=(3, 4),
            numbers=numbers,
        )


def _readings(count: int) -> str:
    return count_of(count, "reading")


def _unknown_words(unknown: Any, file: str) -> str:
    names = list(dict.fromkeys(one.marker for one in unknown))
    shown = ", ".join(names[:_NAMES_SHOWN]) + (" …" if len(names) > _NAMES_SHOWN else "")
    count = len(unknown)
    boxes = f"{count} boxes are of markers" if count != 1 else "1 box is of a marker"
    return f"{boxes} that {file} doesn't have: {shown}; add {'them' if len(names) != 1 else 'it'} with --add."


def _addable(unknown: Any) -> list[Any]:
    """Leave out, with a word, markers whose box of one coat wasn't read: a palette needs that one."""
    single = {name_key(one.marker) for one in unknown if one.coats == 1}
    lacking = dict.fromkeys(one.marker for one in unknown if name_key(one.marker) not in single)
    if lacking:
        typer.echo(f"Not added, for want of a reading of one coat: {', '.join(lacking)}.", err=True)
    return [one for one in unknown if name_key(one.marker) in single]


def _say_what_stays(count: int, file: str) -> None:
    if count:
        typer.echo(
            f"{_readings(count)} left out: {file} holds surer ones, or ones on another paper; "
            "--replace-surer writes over them too, if marker or paper has changed.",
            err=True,
        )


def _without_unlikely(changes: list[Any], *, ask: bool) -> list[Any]:
    """Leave out what is most unlikely, unless the person says otherwise: one by one when they are few."""
    doubted = [one for one in changes if one.ask]
    taken: list[int] = []
    if ask:
        groups = [[one] for one in doubted] if len(doubted) <= _ASKED_SINGLY else [doubted]
        for group in groups:
            for one in group:
                typer.echo(f"{one.marker}, {count_of(one.coats, 'coat')}: {one.words}.", err=True)
            if typer.confirm(f"Take {'it' if len(group) == 1 else 'them all'} all the same?", err=True):
                taken += [id(one) for one in group]
    left = len(doubted) - len(taken)
    if left:
        typer.echo(
            f"{_readings(left)} left out as most unlikely; --unlikely takes them all the same.", err=True
        )
    return [one for one in changes if not one.ask or id(one) in taken]


def _take_over(path: Path, changes: Any, lifts: Any, *, ask: bool, quiet: bool) -> None:
    from blendkit.colour import lab_to_hex
    from blendkit.palette import update_palette
    from blendkit.palette.taking import NewReading, take_readings

    if not changes and not lifts:
        typer.echo("There is nothing in these readings to take over; the palette stays as it is.", err=True)
        return
    if not quiet and changes:
        print_table(
            f"What would change in {path.name}",
            ("", "marker", "coats", "old and new", "what that means"),
            [
                (
                    strip([lab_to_hex(change.old_lab), lab_to_hex(change.new_lab)], 3)
                    if change.old_lab is not None
                    else paint(lab_to_hex(change.new_lab), 6),
                    change.marker,
                    str(change.coats),
                    verdict_of(change.delta_e_2000).word if change.delta_e_2000 is not None else "new",
                    change.words,
                )
                for change in changes
            ],
            right=(2,),
            wide=(4,),
        )
    count = _readings(len(changes) + len(lifts))
    if ask and not typer.confirm(f"Write {count} into {path.name}?", err=True):
        typer.echo("Nothing was written.", err=True)
        return
    taken = [NewReading(one.marker, one.coats, one.new_lab, one.uncertainty, one.setup) for one in changes]
    on, today = (changes[0].on if changes else ""), date.today().isoformat()
    lifted = {one.marker: one.lift for one in lifts}
    shown = {(name_key(one.marker), one.coats): one.old_lab for one in changes}

    def decide(drawer: Palette) -> Palette:
        """Take them over, if the drawer still holds what was shown beside the question."""
        for (key, coats), old_lab in shown.items():
            item = drawer.get(key)
            now = item.reading(coats) if isinstance(item, Marker) else None
            if (now is None) != (old_lab is None) or (
                now is not None and abs(now.lab - old_lab).max() > 1e-6
            ):
                problem = Problem(path.name, f"another reading of {key}", "the same command again")
                raise PaletteError(f"{path.name} was changed meanwhile; nothing was written.", [problem])
        return take_readings(drawer, taken, on=on, measured=today, lifts=lifted)

    update_palette(path, decide)
    older = any(change.old_lab is not None for change in changes)
    older = older or any(one.old_lift is not None for one in lifts)
    kept = "; the older ones are kept in its history." if older else "."
    typer.echo(f"Wrote {count} into {path}{kept}", err=True)
