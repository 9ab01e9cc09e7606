"""Commands about the drawer as a whole: gaps, doubles, kit, skin."""

from pathlib import Path
from typing import Annotated

import typer

from blendkit.advice.shading_series import FIT
from blendkit.cli.options import (
    BudgetOption,
    DrawerOptions,
    ShownOptions,
    TasteOptions,
    complete_names,
    finish,
)
from blendkit.cli.tables import paint, print_lines, print_table, strip
from blendkit.palette import read_palette
from blendkit.spectrum import LIGHTS
from blendkit.words import count_of, score_word


def gaps_command(
    *,
    drawer: DrawerOptions,
    shop: Annotated[
        Path | None, typer.Option(help="A palette file to buy from: which of its markers close most gaps.")
    ] = None,
    purchases: Annotated[int, typer.Option(min=1, max=100, help="Markers to buy at most.")] = 3,
    budget: BudgetOption = None,
    threshold: Annotated[
        float, typer.Option(min=1, max=100, help="Score from which a companion counts.")
    ] = FIT,
    taste: TasteOptions,
    shown: ShownOptions,
) -> None:
    """Find the bases without a shadow or a light, and the colours to look for.

    Example:  blendkit gaps --purchases 2
    """
    from blendkit.advice.gaps import find_gaps

    answer = find_gaps(
        drawer.open(),
        on=drawer.on,
        threshold=threshold,
        taste=taste.taste,
        shop=read_palette(shop) if shop is not None else None,
        purchases=purchases,
        budget=budget,
    )
    if shown.tables(answer):
        print_table(
            "Colours to look for, the most useful first",
            ("", "look for", "as", "completes", "families", "hex"),
            [
                (
                    paint(one.colour.hex, 6),
                    one.words,
                    one.colour.name,
                    count_of(len(one.completes), "marker"),
                    str(one.families),
                    one.colour.hex,
                )
                for one in answer.wanted
            ],
            right=(4,),
            wide=(1, 2),
            behind=(4, 5),
            numbers=shown.numbers,
        )
        if answer.shop is not None:
            print_lines("")
            print_table(
                "To buy",
                ("", "marker", "price", "gives"),
                [
                    (
                        paint(one.marker.hex, 6),
                        one.marker.name,
                        "" if one.price is None else f"{one.price:.2f}",
                        "; ".join(one.closes),
                    )
                    for one in answer.shop.purchases
                ],
                right=(2,),
                wide=(3,),
            )
        print_lines("", *answer.words)
    finish(answer.fits)


def doubles_command(
    *,
    drawer: DrawerOptions,
    threshold: Annotated[
        float,
        typer.Option(min=0.01, help="Difference (CIEDE2000) below which two markers count as one."),
    ] = 1.0,
    shown: ShownOptions,
) -> None:
    """Find the markers that nobody could tell apart, grouped, under each light.

    Example:  blendkit doubles --threshold 2
    """
    from blendkit.advice.doubles import find_doubles

    answer = find_doubles(drawer.open(), on=drawer.on, threshold=threshold)
    if not shown.tables(answer):
        return
    if answer.doubles:
        lights = [LIGHTS[one].label for one in answer.doubles[0].by_light]
        print_table(
            "",
            ("", "markers", "difference", *lights),
            [
                (
                    strip(one.hex for one in double.markers),
                    ", ".join(one.name for one in double.markers),
                    f"{double.largest:.1f}",
                    *(f"{value:.1f}" for value in double.by_light.values()),
                )
                for double in answer.doubles
            ],
            right=range(2, 3 + len(lights)),
            wide=(1,),
            behind=range(2, 3 + len(lights)),
            numbers=shown.numbers,
            notes=[double.words for double in answer.doubles],
        )
    print_lines(*answer.words)


def kit_command(
    *,
    colours: Annotated[
        list[str] | None,
        typer.Argument(help="Colours to meet, by name or typed.", autocompletion=complete_names),
    ] = None,
    project: Annotated[
        Path | None, typer.Option(help="A project file: its parts with their shadows and lights.")
    ] = None,
    drawer: DrawerOptions,
    tolerance: Annotated[
        float,
        typer.Option(min=0.1, max=50, help="Difference (CIEDE2000; 5 is clear) that a stand-in may be off."),
    ] = 5.0,
    budget: BudgetOption = None,
    makers: Annotated[int, typer.Option(min=1, max=500, help="People who share the kit.")] = 1,
    layered: Annotated[bool, typer.Option(help="Also try one marker over another.")] = True,
    shown: ShownOptions,
) -> None:
    """Choose the fewest markers that colour a project, for one maker or a class.

    Example:  blendkit kit "#c8553d" "#6b8f4e" "#e8b48a" --makers 6
    """
    from blendkit.advice.kit import Target, find_kit

    palette = drawer.open()
    targets = [Target(colour, tolerance) for colour in colours or ()]
    if project is not None:
        from blendkit.project.reading import read_project, targets_of

        targets += targets_of(read_project(project), tolerance, palette)
    answer = find_kit(palette, targets, on=drawer.on, makers=makers, layered=layered, budget=budget)
    if shown.tables(answer):
        print_table(
            f"To bring: {answer.copies}",
            ("", "marker", "copies", "for"),
            [
                (paint(one.marker.hex, 6), one.marker.name, str(one.copies), ", ".join(one.used_for))
                for one in answer.markers
            ],
            right=(2,),
            wide=(3,),
        )
        print_lines("")
        print_table(
            "What each colour is made of",
            ("", "for", "with"),
            [
                (
                    strip((one.wanted.hex, one.made.hex if one.made else one.wanted.hex), 3),
                    one.role or one.wanted.name,
                    one.words,
                )
                for one in answer.targets
            ],
            wide=(2,),
        )
        print_lines("", *answer.words)
    finish(answer.fits)


def skin_command(
    *,
    colour: Annotated[
        str | None,
        typer.Argument(
            help="A measured or picked skin colour; none for all classes.", autocompletion=complete_names
        ),
    ] = None,
    ita: Annotated[
        float | None, typer.Option(help="An individual typology angle in degrees, instead of a colour.")
    ] = None,
    drawer: DrawerOptions,
    taste: TasteOptions,
    shown: ShownOptions,
) -> None:
    """Find base, shadows, light and blush for a skin colour, or for all six classes.

    Example:  blendkit skin --ita 20
    """
    from blendkit.advice.skin import find_skin

    answer = find_skin(drawer.open(), colour, ita=ita, on=drawer.on, taste=taste.taste)
    if shown.tables(answer):
        for one in answer.sets:
            print_table(
                one.tone.capitalize()
                + (f" (class {one.number}, ITA {one.ita:.0f}°)" if shown.numbers else ""),
                ("", "for", "marker", "fit", "why", "score"),
                [
                    (
                        paint(found.marker.hex, 6),
                        found.role,
                        found.marker.name,
                        score_word(found.score) if found.fits else "near miss",
                        found.words,
                        f"{int(found.score)}",
                    )
                    for found in one.markers
                ],
                right=(5,),
                wide=(4,),
                behind=(5,),
                numbers=shown.numbers,
            )
            print_lines("")
        print_lines(*answer.words)
    finish(answer.fits)
