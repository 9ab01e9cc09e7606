"""Commands of the main job: pair, order, layer, match, papers, check."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from rich.text import Text

from blendkit.advice.order import STYLES, find_order, predict_layers
from blendkit.advice.pairs import Companion, find_pair
from blendkit.advice.shading_series import DEFAULT_WINDOW, Taste
from blendkit.cli.options import (
    JsonOption,
    OnOption,
    PageOption,
    PaletteOption,
    ReportOption,
    complete_markers,
    complete_names,
    finish,
    open_palette,
    print_json,
    report,
)
from blendkit.cli.tables import console, paint, print_lines, print_table, strip
from blendkit.inked import Swatch
from blendkit.spectrum import LIGHTS

if TYPE_CHECKING:
    from blendkit.advice.schemes import Scheme

HOW_WORDS = {"marker": "marker", "coats": "more coats", "over": "laid over", "under": "laid under"}

LeanOption = Annotated[str, typer.Option(help="Let shadows lean: none, cool or warm.")]
WindowOption = Annotated[
    tuple[float, float], typer.Option(help="Smallest and largest step of L* for a companion.")
]


def _lab(lab: tuple[float, float, float]) -> str:
    return " ".join(f"{value:5.1f}" for value in lab)


def _swatch_line(label: str, swatch: Swatch) -> None:
    mapped = "  (outside sRGB: the screen colour is a stand-in)" if swatch.mapped else ""
    console().print(
        Text(f"{label} "),
        paint(swatch.hex, 6),
        Text(f" {swatch.name}  {swatch.hex}  Lab {_lab(swatch.lab)}{mapped}"),
    )


def _companions(title: str, companions: tuple[Companion, ...]) -> None:
    print_table(
        title,
        ("", "companion", "how", "score", "hex", "step L*", "blend"),
        [
            (
                paint(one.hex),
                one.name + (f" × {one.coats}" if one.how == "coats" else ""),
                HOW_WORDS[one.how],
                f"{int(one.score)}" + ("" if one.fits else " (miss)"),
                one.hex + ("*" if one.mapped else ""),
                f"{one.reasons.lightness_step:.1f}",
                strip(step.hex for step in one.blend),
            )
            for one in companions
        ],
        optional=(4, 6),
        right=(3, 5),
        notes=[one.reasons.words + (f" {one.caution}" if one.caution else "") for one in companions],
    )


def pair_command(
    colour: Annotated[
        str, typer.Argument(help="A marker's name or a typed colour.", autocompletion=complete_names)
    ],
    palette: PaletteOption = None,
    on: OnOption = None,
    lean: LeanOption = "none",
    window: WindowOption = DEFAULT_WINDOW,
    count: Annotated[int, typer.Option(min=1, max=50, help="Companions of each kind.")] = 5,
    all_ways: Annotated[
        bool, typer.Option("--all-ways", help="Also coats, over and under where a marker fits.")
    ] = False,
    json: JsonOption = False,
    report_file: ReportOption = None,
    page: PageOption = None,
) -> None:
    """Find the markers that shade and light a colour, best first, each with its reasons.

    Example:  blendkit pair "rosehip dawn" --lean cool
    """
    drawer = open_palette(palette)
    answer = find_pair(drawer, colour, on=on, taste=Taste(window, lean), count=count, all_ways=all_ways)
    report(report_file, answer, page)
    if json:
        print_json(answer)
    else:
        _swatch_line("Base", answer.base)
        print_lines(f"on {answer.on}", "")
        _companions("Shadows", answer.shadow)
        print_lines("")
        _companions("Lights", answer.light)
        if answer.trios:
            print_lines("")
            print_table(
                "Trios, light to dark",
                ("", "light", "mid", "dark", "score"),
                [
                    (
                        strip((trio.light.hex, trio.mid.hex, trio.dark.hex), 4),
                        trio.light.name,
                        trio.mid.name,
                        trio.dark.name,
                        f"{trio.score:.0f}",
                    )
                    for trio in answer.trios
                ],
                right=(4,),
            )
        print_lines("", *answer.words)
    finish(answer.fits)


def order_command(
    base: Annotated[
        str,
        typer.Argument(help="The part's light marker, or a typed colour.", autocompletion=complete_markers),
    ],
    shadows: Annotated[
        list[str] | None,
        typer.Argument(help="Its shadows; none to let the drawer choose.", autocompletion=complete_markers),
    ] = None,
    palette: PaletteOption = None,
    on: OnOption = None,
    style: Annotated[str, typer.Option(help=f"{STYLES[0]}, or {STYLES[1]}.")] = STYLES[0],
    lean: LeanOption = "none",
    window: WindowOption = DEFAULT_WINDOW,
    json: JsonOption = False,
    report_file: ReportOption = None,
    page: PageOption = None,
) -> None:
    """Give the steps from the dry outline to the blended part, with the colour after each.

    Example:  blendkit order "hedgehog quill dawn" --style dark-first
    """
    drawer = open_palette(palette)
    answer = find_order(drawer, base, shadows or (), on=on, style=style, taste=Taste(window, lean))
    report(report_file, answer, page)
    if json:
        print_json(answer)
    else:
        print_table(
            f"{answer.base.name} on {answer.on}",
            ("step", "", "marker", "hex", "coats", "where"),
            [
                (
                    str(step.number),
                    paint(step.hex, 6),
                    step.marker,
                    step.hex,
                    str(step.coat),
                    step.where + (f". Careful: {step.caution}" if step.caution else ""),
                )
                for step in answer.steps
            ],
            optional=(3,),
            right=(0, 4),
            wide=(5,),
        )
        print_lines(
            "",
            f"The wettest place gets {answer.coats} coat{'s' if answer.coats != 1 else ''}; "
            f"{answer.on} takes {answer.coat_limit}.",
            *answer.words,
        )
    finish(answer.fits)


def layer_command(
    markers: Annotated[
        list[str],
        typer.Argument(
            help="Markers, first laid first; a name twice is two coats.", autocompletion=complete_markers
        ),
    ],
    palette: PaletteOption = None,
    on: OnOption = None,
    json: JsonOption = False,
    report_file: ReportOption = None,
    page: PageOption = None,
) -> None:
    """Predict the colour after each coat of a stack, each coat dry before the next.

    Example:  blendkit layer "lantern glow dawn" "lantern glow dusk" "lantern glow dusk" --on "Kraft pale"
    """
    drawer = open_palette(palette)
    answer = predict_layers(drawer, markers, on=on)
    report(report_file, answer, page)
    if json:
        print_json(answer)
        return
    _swatch_line("Paper", answer.paper)
    print_table(
        "",
        ("coat", "", "marker", "hex", "Lab", "step L*", "careful"),
        [
            (
                str(coat.coat),
                paint(coat.hex, 6),
                coat.marker,
                coat.hex,
                _lab(coat.lab),
                f"{coat.lightness_step:.1f}",
                coat.caution,
            )
            for coat in answer.coats
        ],
        optional=(4,),
        right=(0, 5),
        wide=(6,),
    )
    print_lines("", *answer.words)


def match_command(
    colour: Annotated[
        str, typer.Argument(help="A name of the palette or a typed colour.", autocompletion=complete_names)
    ],
    palette: PaletteOption = None,
    on: OnOption = None,
    kind: Annotated[
        list[str] | None, typer.Option(help="Only paper, ribbon or ink; may be given more than once.")
    ] = None,
    count: Annotated[int, typer.Option(min=1, help="How many to give.")] = 8,
    json: JsonOption = False,
    report_file: ReportOption = None,
    page: PageOption = None,
) -> None:
    """Rank card stock, ribbons and inks against a colour, in words, also under other lights.

    Example:  blendkit match "moss stone noon" --kind paper
    """
    from blendkit.advice.papers import find_matches

    kinds = tuple(kind or ("paper", "ribbon", "ink"))
    for one in kinds:
        if one not in ("paper", "ribbon", "ink"):
            raise typer.BadParameter(
                f"“{one}” is no kind to match; accepted: paper, ribbon, ink", param_hint="--kind"
            )
    drawer = open_palette(palette)
    answer = find_matches(drawer, colour, on=on, kinds=kinds, count=count)
    report(report_file, answer, page)
    if json:
        print_json(answer)
    else:
        _swatch_line("Target", answer.target)
        lights = [LIGHTS[one].label for one in answer.matches[0].by_light] if answer.matches else []
        print_table(
            "",
            ("", "name", "kind", "verdict", "ΔE00", *lights, "contrast"),
            [
                (
                    strip((answer.target.hex, match.hex), 3),
                    match.name,
                    match.kind,
                    match.verdict,
                    f"{match.delta_e_2000:.1f}",
                    *(f"{value:.1f}" for value in match.by_light.values()),
                    f"{match.contrast_wcag:.1f}",
                )
                for match in answer.matches
            ],
            optional=(2, 5 + len(lights), *range(5, 5 + len(lights))),
            right=range(4, 6 + len(lights)),
            notes=[match.words for match in answer.matches],
        )
        print_lines("", *answer.words)
    finish(answer.fits)


def papers_command(
    colours: Annotated[
        list[str],
        typer.Argument(help="The image's colours, the most important first.", autocompletion=complete_names),
    ],
    palette: PaletteOption = None,
    on: OnOption = None,
    relation: Annotated[
        list[str] | None,
        typer.Option(help="Only this relation (neighbour, complement, split, neutral, …); may be repeated."),
    ] = None,
    large_greeting: Annotated[
        bool, typer.Option("--large-greeting", help="The greeting is large (18 pt, or 14 pt bold).")
    ] = False,
    count: Annotated[int, typer.Option(min=1, max=30, help="Schemes to give.")] = 6,
    json: JsonOption = False,
    report_file: ReportOption = None,
    page: PageOption = None,
) -> None:
    """Propose base, mat and accent papers for an image's colours, and check them.

    Example:  blendkit papers "rosehip noon" "hedge leaf noon"
    """
    from blendkit.advice.schemes import find_schemes

    drawer = open_palette(palette)
    answer = find_schemes(
        drawer, colours, on=on, relations=relation, large_greeting=large_greeting, count=count
    )
    report(report_file, answer, page)
    if json:
        print_json(answer)
    else:
        all_pass = bool(answer.schemes) and all(scheme.checks.passed for scheme in answer.schemes)
        print_table(
            "Schemes",
            ("", "relation", "base", "mat", "accent", "greeting"),
            [
                (
                    strip((scheme.base.hex, scheme.mat.hex, scheme.accent.hex), 4),
                    scheme.relation,
                    scheme.base.name,
                    scheme.mat.name,
                    scheme.accent.name,
                    f"{scheme.checks.greeting.ink} {scheme.checks.greeting.contrast_wcag:.1f}"
                    if scheme.checks.greeting
                    else "",
                )
                for scheme in answer.schemes
            ],
            optional=(5,),
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
    json: JsonOption = False,
) -> None:
    """Check a palette file, count its families, and list what has no companion.

    Example:  blendkit check
    """
    from blendkit.advice.check import check_palette

    drawer = open_palette(file or palette)
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
