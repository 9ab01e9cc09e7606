"""Commands of laying one on another: order, layer."""

from typing import Annotated

import typer

from blendkit.advice.order import FADE, LIFT, STYLES, find_order, predict_layers
from blendkit.cli.options import (
    DrawerOptions,
    ShownOptions,
    TasteOptions,
    complete_markers,
    finish,
)
from blendkit.cli.tables import lab_words, paint, print_lines, print_swatch, print_table
from blendkit.words import count_of, describe_colour, lightness_words


def order_command(
    *,
    base: Annotated[
        str,
        typer.Argument(help="The part's light marker, or a typed colour.", autocompletion=complete_markers),
    ],
    shadows: Annotated[
        list[str] | None,
        typer.Argument(help="Its shadows; none to let the drawer choose.", autocompletion=complete_markers),
    ] = None,
    drawer: DrawerOptions,
    style: Annotated[str, typer.Option(help=f"{STYLES[0]}, or {STYLES[1]}.")] = STYLES[0],
    how: Annotated[
        str,
        typer.Option(
            help="A named shadow: marker (into the damp base), over (on the dry base), or under it."
        ),
    ] = "marker",
    fade: Annotated[
        bool, typer.Option("--fade", help="Fade the part's edge to white paper with the colourless blender.")
    ] = False,
    lift: Annotated[
        bool, typer.Option("--lift", help="Lift the highlight with it, instead of leaving paper bare.")
    ] = False,
    taste: TasteOptions,
    shown: ShownOptions,
) -> None:
    """Give the steps from the dry outline to the blended part, with the colour after each.

    Example:  blendkit order "hedgehog quill dawn" --style dark-first
    """
    answer = find_order(
        drawer.open(),
        base,
        shadows or (),
        on=drawer.on,
        style=style,
        taste=taste.taste,
        blender=(*[FADE] * fade, *[LIFT] * lift),
        how=how,
    )
    if shown.tables(answer):
        print_table(
            f"{answer.base.name} on {answer.on}",
            ("step", "", "marker", "do", "where", "coats so far", "hex"),
            [
                (
                    str(step.number),
                    paint(step.hex, 6) if step.hex else "",
                    step.marker,
                    step.do,
                    step.where + (f". Careful: {step.caution}" if step.caution else ""),
                    str(step.coat) if step.coat else "",
                    step.hex,
                )
                for step in answer.steps
            ],
            right=(0, 5),
            wide=(4,),
            behind=(6,),
            numbers=shown.numbers,
        )
        print_lines(
            "",
            f"The wettest place gets {count_of(answer.coats, 'coat')}; "
            f"{answer.on} takes {answer.coat_limit}.",
            *answer.words,
        )
    finish(answer.fits)


def layer_command(
    *,
    markers: Annotated[
        list[str],
        typer.Argument(
            help="Markers, first laid first; a name twice is two coats.", autocompletion=complete_markers
        ),
    ],
    drawer: DrawerOptions,
    shown: ShownOptions,
) -> None:
    """Predict the colour after each coat of a stack, each coat dry before the next.

    Example:  blendkit layer "lantern glow dawn" "lantern glow dusk" "lantern glow dusk" --on "Kraft pale"
    """
    answer = predict_layers(drawer.open(), markers, on=drawer.on)
    if not shown.tables(answer):
        return
    print_swatch("Paper", answer.paper, shown.numbers)
    print_table(
        "",
        ("coat", "", "marker", "colour", "step", "careful", "hex", "Lab", "step L*"),
        [
            (
                str(coat.coat),
                paint(coat.hex, 6),
                coat.marker,
                describe_colour(coat.lab),
                lightness_words(coat.lightness_step),
                coat.caution,
                coat.hex,
                lab_words(coat.lab),
                f"{coat.lightness_step:.1f}",
            )
            for coat in answer.coats
        ],
        right=(0, 8),
        wide=(5,),
        behind=(6, 7, 8),
        numbers=shown.numbers,
    )
    print_lines("", *answer.words)
