"""The command photo: main colours of a picture, and what in the drawer makes them."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from blendkit.cli.options import (
    JsonOption,
    OnOption,
    PageOption,
    PaletteOption,
    finish,
    open_palette,
    print_json,
    report,
)
from blendkit.cli.tables import print_lines, print_table, strip
from blendkit.errors import PictureError

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


def photo_command(
    image: Annotated[Path, typer.Argument(help="A photo of fabric, paper, a garden: JPEG, PNG, TIFF …")],
    palette: PaletteOption = None,
    on: OnOption = None,
    count: Annotated[int, typer.Option(min=1, max=24, help="Main colours at most.")] = 6,
    accents: Annotated[int, typer.Option(min=0, max=8, help="Small vivid colours besides, at most.")] = 3,
    grey: Annotated[
        str | None, typer.Option(help="x,y of a spot that is neutral grey in truth; takes the tint off.")
    ] = None,
    white: Annotated[
        str | None, typer.Option(help="x,y of a spot that is white card; sets tint and lightness.")
    ] = None,
    report_file: Annotated[
        Path | None,
        typer.Option("--report", help="Also write a contact picture: a file ending in .png, .pdf or .svg."),
    ] = None,
    page: PageOption = None,
    json: JsonOption = False,
) -> None:
    """Find the main colours of a photo, and the markers, pairs and papers that come nearest.

    Example:  blendkit photo examples/photo/harvest_table.jpg --count 5
    """
    from blendkit.advice.likeness import find_likenesses
    from blendkit.art.photo import find_main_colours
    from blendkit.picture import read_picture

    drawer = open_palette(palette)
    picture = read_picture(image)
    found = find_main_colours(
        picture,
        count=count,
        accents=accents,
        grey_point=_spot(grey, "grey"),
        white_point=_spot(white, "white"),
    )
    answer = find_likenesses(
        drawer, [(f"colour {number}", one.lab) for number, one in enumerate(found.colours, start=1)], on=on
    )
    if report_file is not None:
        from blendkit.report.photo import photo_pictures

        report(report_file, contact_of(found, answer), page, pictures=photo_pictures(found, picture))
    if json:
        print_json(found, **_without_schema(answer))
    else:
        print_table(
            f"Colours of {found.picture}",
            ("", "share", "hex", "colour", "nearest markers", "ΔE00", "nearest paper"),
            [
                (
                    strip([one.hex, like.markers[0].marker.hex], 3),
                    f"{100 * one.share:.0f} %" + (" accent" if one.is_accent else ""),
                    one.hex + ("*" if one.mapped else ""),
                    one.words,
                    ", ".join(near.marker.name for near in like.markers),
                    f"{like.markers[0].delta_e_2000:.1f}",
                    like.papers[0].name if like.papers else "",
                )
                for one, like in zip(found.colours, answer.likenesses, strict=True)
            ],
            optional=(3, 6),
            right=(1, 5),
            wide=(4,),
        )
        shaded = [
            (
                strip([like.markers[0].marker.hex, like.shadow.hex], 4),
                like.markers[0].marker.name,
                like.shadow.name
                if like.shadow.how == "marker"
                else f"{like.shadow.name} ({like.shadow.how})",
                like.light.name if like.light else "bare paper",
            )
            for like in answer.likenesses
            if like.shadow is not None
        ]
        print_lines("")
        print_table("How to shade them", ("", "marker", "shadow", "light"), shaded)
        print_lines("", found.balance, *found.notes, *answer.words)
    finish(answer.fits)


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
            ContactMatch(one.marker.name, one.marker.hex, f"marker, ΔE {one.delta_e_2000:.1f}")
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
        near += [
            ContactMatch(one.name, one.hex, f"{one.kind}, ΔE {one.delta_e_2000:.1f}")
            for one in like.papers[:1]
        ]
        matches.append(tuple(near))
    return PhotoAnswer(found, tuple(matches))
