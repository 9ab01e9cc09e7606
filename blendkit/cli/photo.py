"""The command photo: main colours of a picture, and what in the drawer makes them."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from blendkit.cli.options import (
    DrawerOptions,
    JsonOption,
    NumbersOption,
    PageOption,
    finish,
    print_json,
    report,
)
from blendkit.cli.tables import print_lines, print_table, strip
from blendkit.errors import PictureError
from blendkit.words import listed

if TYPE_CHECKING:
    from blendkit.advice.likeness import LikenessAdvice
    from blendkit.art.photo import MainColours
    from blendkit.report.photo import PhotoAnswer


def _spot(text: str | None, what: str) -> tuple[float, float] | None:
    if text is None:
        return None
    try:
        x, y = (float(part) for part in text.replace(",", " ").split())
    except ValueError:
        raise PictureError(
            f"The {what} point is “{text}”; give x and y in pixels, for example 120,340"
        ) from None
    return x, y


@dataclass(frozen=True)
class LookingOptions:
    """Which colours are looked for, and by what light."""

    count: Annotated[int, typer.Option(min=1, max=24, help="Main colours at most.")] = 6
    accents: Annotated[int, typer.Option(min=0, max=8, help="Small vivid colours besides, at most.")] = 3
    grey: Annotated[
        str | None, typer.Option(help="x,y of a spot that is neutral grey in truth; takes the tint off.")
    ] = None
    white: Annotated[
        str | None, typer.Option(help="x,y of a spot that is white card; sets tint and lightness.")
    ] = None


@dataclass(frozen=True)
class AddingOptions:
    """What is put into a palette."""

    add: Annotated[
        list[str] | None,
        typer.Option(
            help="With --into: put a colour into it, as “2=barn door” (number=name); may be repeated."
        ),
    ] = None
    add_as: Annotated[str, typer.Option(help="With --add: what it is: marker, paper, ribbon or ink.")] = (
        "marker"
    )
    into: Annotated[Path | None, typer.Option(help="The palette file that --add writes to.")] = None


def photo_command(
    image: Annotated[Path, typer.Argument(help="A photo of fabric, paper, a garden: JPEG, PNG, TIFF …")],
    *,
    drawer: DrawerOptions,
    looking: LookingOptions,
    report_file: Annotated[
        Path | None,
        typer.Option("--report", help="Also write a contact picture: a file ending in .png, .pdf or .svg."),
    ] = None,
    page: PageOption = None,
    adding: AddingOptions,
    numbers: NumbersOption = False,
    json: JsonOption = False,
) -> None:
    """Find the main colours of a photo, and the markers, pairs and papers that come nearest.

    Example:  blendkit photo examples/photo/harvest_table.jpg --count 5
    """
    from blendkit.advice.likeness import find_likenesses
    from blendkit.art.photo import find_main_colours
    from blendkit.picture import read_picture

    if bool(adding.add) != (adding.into is not None):
        raise PictureError('--add and --into go together: --add "2=barn door" --into my-drawer.csv')
    palette = drawer.open()
    picture = read_picture(image)
    found = find_main_colours(
        picture,
        count=looking.count,
        accents=looking.accents,
        grey_point=_spot(looking.grey, "grey"),
        white_point=_spot(looking.white, "white"),
    )
    answer = find_likenesses(
        palette,
        [(f"colour {number}", one.lab) for number, one in enumerate(found.colours, start=1)],
        on=drawer.on,
    )
    if report_file is not None:
        from blendkit.report.photo import photo_pictures

        report(report_file, contact_of(found, answer), page, pictures=photo_pictures(found, picture))
    if json:
        print_json(found, **_without_schema(answer))
    else:
        _show(found, answer, numbers)
    if adding.add and adding.into is not None:
        _put(found, adding.add, adding.add_as, adding.into)
    finish(answer.fits)


def _show(found: "MainColours", answer: "LikenessAdvice", numbers: bool) -> None:
    print_table(
        f"Colours of {found.picture}",
        (
            "",
            "no.",
            "share",
            "colour",
            "nearest marker",
            "how near",
            "others",
            "nearest paper",
            "hex",
            "off",
        ),
        [
            (
                strip([one.hex, like.markers[0].marker.hex], 3),
                str(number),
                f"{100 * one.share:.0f} %" + (" accent" if one.is_accent else ""),
                one.words,
                like.markers[0].marker.name,
                like.markers[0].verdict,
                ", ".join(near.marker.name for near in like.markers[1:]),
                next((one.name for one in like.papers if one.kind != "ink"), ""),
                one.hex + ("*" if one.mapped else ""),
                f"{like.markers[0].delta_e_2000:.1f}",
            )
            for number, (one, like) in enumerate(zip(found.colours, answer.likenesses, strict=True), 1)
        ],
        right=(1, 2, 9),
        wide=(6,),
        behind=(8, 9),
        numbers=numbers,
    )
    shaded = [
        (
            strip([like.markers[0].marker.hex, like.shadow.hex], 4),
            like.markers[0].marker.name,
            like.shadow.name if like.shadow.how == "marker" else f"{like.shadow.name} ({like.shadow.how})",
            like.light.name if like.light else "bare paper",
        )
        for like in answer.likenesses
        if like.shadow is not None
    ]
    print_lines("")
    print_table("How to shade them", ("", "marker", "shadow", "light"), shaded)
    print_lines("", found.balance, *found.notes, *answer.words)


def _put(found: "MainColours", add: list[str], kind: str, into: Path) -> None:
    """Put colours of a photo into a palette file."""
    from datetime import date

    from blendkit.palette import Palette, reading_from_lab, update_palette

    wanted = []
    for text in add:
        number, mark, name = text.partition("=")
        if not mark or not name.strip() or not number.strip().isdecimal():
            raise PictureError(f"“{text}” doesn't name a colour; write number and name, as “2=barn door”.")
        if not 1 <= int(number) <= len(found.colours):
            raise PictureError(f"There is no colour {int(number)}; they are 1 to {len(found.colours)}.")
        wanted.append((found.colours[int(number) - 1], name.strip()))
    today = date.today().isoformat()

    def put(drawer: Palette) -> Palette:
        for colour, name in wanted:
            reading = reading_from_lab(colour.lab, setup=f"photo {found.picture}", measured=today)
            if kind == "marker":
                drawer = drawer.with_marker(name, reading)
            elif kind == "paper":
                drawer = drawer.with_paper(name, reading)
            elif kind == "ribbon":
                drawer = drawer.with_paper(name, reading, kind="ribbon")
            elif kind == "ink":
                drawer = drawer.with_ink(name, reading)
            else:
                raise PictureError(f"“{kind}” can't be added; accepted: marker, paper, ribbon, ink.")
        return drawer

    update_palette(into, put)
    names = listed([name for _, name in wanted])
    typer.echo(f"Put {names} into {into}, as the photo shows it; a swatch read back is surer.", err=True)


def _without_schema(record: Any) -> dict[str, Any]:
    from blendkit.records import plain

    data: dict[str, Any] = plain(record)
    return data


def contact_of(found: "MainColours", answer: "LikenessAdvice") -> "PhotoAnswer":
    """Lay out the contact picture of a photo with what the drawer has that is like its colours."""
    from blendkit.report.photo import ContactMatch, PhotoAnswer

    matches = []
    for like in answer.likenesses:
        near = [
            ContactMatch(one.marker.name, one.marker.hex, f"marker, {one.verdict}")
            for one in like.markers[:1]
        ]
        if like.shadow is not None:
            words = {"marker": "its shadow", "coats": f"its shadow, {like.shadow.coats} coats"}
            near.append(
                ContactMatch(
                    like.shadow.name,
                    like.shadow.hex,
                    words.get(like.shadow.how, f"laid {like.shadow.how} it"),
                )
            )
        near += [ContactMatch(one.name, one.hex, f"{one.kind}, {one.verdict}") for one in like.papers[:1]]
        matches.append(tuple(near))
    return PhotoAnswer(found, tuple(matches))
