"""Commands of the main job: pair, match, papers, greeting, check."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import numpy as np
import typer

from blendkit.advice.pairs import Companion, find_pair
from blendkit.cli.options import (
    DrawerOptions,
    JsonOption,
    NumbersOption,
    OnOption,
    PaletteOption,
    ShownOptions,
    TasteOptions,
    WithoutOption,
    complete_names,
    complete_papers,
    finish,
    open_palette,
    print_json,
)
from blendkit.cli.tables import paint, print_lines, print_swatch, print_table, strip
from blendkit.inked import ink_drawer
from blendkit.records import plain
from blendkit.spectrum import LIGHTS
from blendkit.words import VERDICTS, describe_colour, lightness_words, score_word

if TYPE_CHECKING:
    from blendkit.advice.likeness import NearMarker
    from blendkit.advice.schemes import Scheme

HOW_WORDS = {"marker": "marker", "coats": "more coats", "over": "laid over", "under": "laid under"}


def _companions(title: str, companions: tuple[Companion, ...], numbers: bool) -> None:
    print_table(
        title,
        ("", "companion", "colour", "how", "fit", "step", "blend", "score", "step L*", "hex"),
        [
            (
                paint(one.hex),
                one.name + (f", {one.coats} coats" if one.how == "coats" else ""),
                describe_colour(one.lab),
                HOW_WORDS[one.how],
                score_word(one.score) if one.fits else "near miss",
                lightness_words(
                    one.reasons.lightness_step if title == "Lights" else -one.reasons.lightness_step
                ),
                strip(step.hex for step in one.blend),
                f"{int(one.score)}",
                f"{one.reasons.lightness_step:.1f}",
                one.hex + ("*" if one.mapped else ""),
            )
            for one in companions
        ],
        right=(7, 8),
        behind=(7, 8, 9),
        numbers=numbers,
        notes=[one.reasons.words + (f" {one.caution}" if one.caution else "") for one in companions],
    )


def pair_command(
    *,
    colour: Annotated[
        str, typer.Argument(help="A marker's name or a typed colour.", autocompletion=complete_names)
    ],
    drawer: DrawerOptions,
    taste: TasteOptions,
    count: Annotated[int, typer.Option(min=1, max=50, help="Companions of each kind.")] = 5,
    all_ways: Annotated[
        bool, typer.Option("--all-ways", help="Also coats, over and under where a marker fits.")
    ] = False,
    shown: ShownOptions,
) -> None:
    """Find the markers that shade and light a colour, best first, each with its reasons.

    Example:  blendkit pair "rosehip dawn" --lean cool
    """
    palette = drawer.open()
    inked = ink_drawer(palette, drawer.on)
    answer = find_pair(palette, colour, taste=taste.taste, count=count, all_ways=all_ways, inked=inked)
    near: tuple[NearMarker, ...] = ()
    told: list[str] = []
    if palette.get(colour) is None and palette.get_away(colour) is None:
        from blendkit.advice.likeness import find_near_markers, near_words

        near = find_near_markers(inked, np.array(answer.base.lab), 1)
        told = [near_words(answer.base.name, one) for one in near]
    if shown.tables(answer, nearest=plain(near)):
        print_swatch("Base", answer.base, shown.numbers)
        print_lines(f"on {answer.on}", *told)
        print_lines("")
        _companions("Shadows", answer.shadow, shown.numbers)
        print_lines("")
        _companions("Lights", answer.light, shown.numbers)
        if answer.trios:
            print_lines("")
            print_table(
                "Trios, light to dark",
                ("", "light", "mid", "dark", "fit", "score"),
                [
                    (
                        strip((trio.light.hex, trio.mid.hex, trio.dark.hex), 4),
                        trio.light.name,
                        trio.mid.name,
                        trio.dark.name,
                        score_word(trio.score),
                        f"{trio.score:.0f}",
                    )
                    for trio in answer.trios
                ],
                right=(5,),
                behind=(5,),
                numbers=shown.numbers,
            )
        print_lines("", *answer.words)
    finish(answer.fits)


def match_command(
    *,
    colour: Annotated[
        str, typer.Argument(help="A name of the palette or a typed colour.", autocompletion=complete_names)
    ],
    drawer: DrawerOptions,
    kind: Annotated[
        list[str] | None,
        typer.Option(help="Only paper, ribbon, ink, or marker; else all but markers. May be repeated."),
    ] = None,
    count: Annotated[int, typer.Option(min=1, help="How many to give.")] = 8,
    shown: ShownOptions,
) -> None:
    """Find what comes nearest to a colour: papers, ribbons, inks, or markers with their coats and stacks.

    Example:  blendkit match "#4b4b26" --kind marker
    """
    from blendkit.advice.papers import find_matches

    kinds = tuple(kind or ("paper", "ribbon", "ink"))
    answer = find_matches(drawer.open(), colour, on=drawer.on, kinds=kinds, count=count)
    if shown.tables(answer):
        print_swatch("Target", answer.target, shown.numbers)
        lights = [LIGHTS[one].label for one in answer.matches[0].by_light] if answer.matches else []
        print_table(
            "",
            ("", "name", "kind", "how near", "under lamps", "difference", *lights, "contrast"),
            [
                (
                    strip((answer.target.hex, match.hex), 3),
                    match.name,
                    match.kind,
                    match.verdict,
                    _lamp_words(match.lamps) if match.delta_e_2000 < _MATCHES_BELOW else "",
                    f"{match.delta_e_2000:.1f}",
                    *(f"{least:.1f} to {most:.1f}" for least, most in match.by_light_range.values()),
                    f"{match.contrast_wcag:.1f}",
                )
                for match in answer.matches
            ],
            right=range(5, 7 + len(lights)),
            behind=range(5, 7 + len(lights)),
            numbers=shown.numbers,
            notes=[match.words for match in answer.matches],
        )
        print_lines("", *answer.words)
    finish(answer.fits)


_MATCHES_BELOW = VERDICTS[2].below


def _lamp_words(lamps: dict[str, Any]) -> str:
    """The worst of the verdicts under lamps."""
    return next((word for word in ("parts", "can't tell") if word in lamps.values()), "holds")


def greeting_command(
    paper: Annotated[str, typer.Argument(help="A paper or ribbon, by name.", autocompletion=complete_papers)],
    palette: PaletteOption = None,
    without: WithoutOption = None,
    numbers: NumbersOption = False,
    json: JsonOption = False,
) -> None:
    """Rank the stamp inks by how well a greeting reads on a paper.

    Example:  blendkit greeting "Midnight card"
    """
    from blendkit.advice.greeting import find_greeting_inks

    answer = find_greeting_inks(open_palette(palette, without), paper)
    if json:
        print_json(answer)
    else:
        print_swatch("Paper", answer.paper, numbers)
        print_table(
            "",
            ("", "ink", "colour", "reads", "contrast"),
            [
                (
                    strip((answer.paper.hex, one.ink.hex), 3),
                    one.ink.name,
                    describe_colour(one.ink.lab),
                    one.words,
                    f"{one.contrast_wcag:.1f}",
                )
                for one in answer.inks
            ],
            right=(4,),
            wide=(3,),
            behind=(4,),
            numbers=numbers,
        )
        print_lines("", *answer.words)
    finish(answer.fits)


def papers_command(
    *,
    colours: Annotated[
        list[str],
        typer.Argument(help="The image's colours, the most important first.", autocompletion=complete_names),
    ],
    drawer: DrawerOptions,
    relation: Annotated[
        list[str] | None,
        typer.Option(help="Only this relation (neighbour, complement, split, neutral, …); may be repeated."),
    ] = None,
    base: Annotated[
        str | None,
        typer.Option(help="The card is of this paper; the rest is proposed.", autocompletion=complete_papers),
    ] = None,
    mat: Annotated[
        str | None, typer.Option(help="This paper lies behind the image.", autocompletion=complete_papers)
    ] = None,
    large_greeting: Annotated[
        bool, typer.Option("--large-greeting", help="The greeting is large (18 pt, or 14 pt bold).")
    ] = False,
    count: Annotated[int, typer.Option(min=1, max=30, help="Schemes to give.")] = 6,
    shown: ShownOptions,
) -> None:
    """Propose base, mat and accent papers for an image's colours, and check them.

    Example:  blendkit papers "rosehip noon" "hedge leaf noon"
    """
    from blendkit.advice.schemes import find_schemes

    answer = find_schemes(
        drawer.open(),
        colours,
        on=drawer.on,
        relations=relation,
        base=base,
        mat=mat,
        large_greeting=large_greeting,
        count=count,
    )
    if shown.tables(answer):
        all_pass = bool(answer.schemes) and all(scheme.checks.passed for scheme in answer.schemes)
        print_table(
            "Schemes",
            ("", "relation", "base", "mat", "accent", "greeting", "contrast"),
            [
                (
                    strip((scheme.base.hex, scheme.mat.hex, scheme.accent.hex), 4),
                    scheme.relation,
                    scheme.base.name,
                    scheme.mat.name,
                    scheme.accent.name,
                    scheme.checks.greeting.ink.name if scheme.checks.greeting else "",
                    f"{scheme.checks.greeting.contrast_wcag:.1f}" if scheme.checks.greeting else "",
                )
                for scheme in answer.schemes
            ],
            right=(6,),
            behind=(6,),
            numbers=shown.numbers,
            notes=[_passes(scheme) for scheme in answer.schemes] if not all_pass else (),
        )
        if all_pass:
            print_lines("All pass every check." if len(answer.schemes) > 1 else "It passes every check.")
        print_lines("", *answer.words)
    finish(answer.fits)


def _passes(scheme: "Scheme") -> str:
    """Whether a scheme passes, in a note under its number."""
    return "passes." if scheme.checks.passed else f"near miss: {'; '.join(scheme.checks.words)}."


def check_command(
    file: Annotated[Path | None, typer.Argument(help="A palette file; the same as --palette.")] = None,
    palette: PaletteOption = None,
    on: OnOption = None,
    without: WithoutOption = None,
    numbers: NumbersOption = False,
    json: JsonOption = False,
) -> None:
    """Check a palette file, count its families, and list what has no companion.

    Example:  blendkit check
    """
    from blendkit.advice.check import check_palette

    drawer = open_palette(file or palette, without)
    answer = check_palette(drawer, on=on)
    if json:
        print_json(answer)
        return
    print_lines(*answer.words, "")
    print_table(
        "Families",
        ("family", "markers", "", "light to dark"),
        [
            (
                family.name,
                str(len(family.markers)),
                strip(one.hex for one in family.markers),
                ", ".join(one.name for one in family.markers),
            )
            for family in answer.families
        ],
        right=(1,),
        wide=(3,),
    )
    if answer.without_shadow:
        print_lines("", "No fitting shadow in the drawer: " + ", ".join(answer.without_shadow))
    if answer.without_light:
        print_lines("", "No fitting light in the drawer: " + ", ".join(answer.without_light))
