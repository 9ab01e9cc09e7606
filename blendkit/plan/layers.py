"""The layers of the card as they are cut: base and fold, mats and rim, ribbon; and from which sheets."""

from collections.abc import Callable, Sequence
from dataclasses import replace

from blendkit.inked import Inked, swatch_of
from blendkit.plan.cutting import SHEETS_MM, Piece, Slice, plan_cuts
from blendkit.plan.records import CutStep, Layer, PaperCuts, PlanPaper
from blendkit.project.records import Project
from blendkit.words import size_words

RIBBON_TURN_MM = 20.0
"""Ribbon to turn in at each end. Common practice, no source."""

EVEN_MM = 0.25
"""Rims that differ by less look even; own judgement."""


def lay_layers(
    project: Project, inked: Inked, papers: Sequence[PlanPaper], image_mm: tuple[float, float], copies: int
) -> tuple[Layer, ...]:
    """Give the layers from the image outward; a paper without a size is left out, since nothing says how large.

    Args:
        project: the project.
        inked: the drawer on the project's paper.
        papers: the plan's papers.
        image_mm: width and height of the image.
        copies: how many are made.
    """
    sheet = SHEETS_MM[project.sheet]

    def layer(
        role: str,
        name: str,
        hex_: str,
        w: float,
        h: float,
        words: str,
        fold: float | None = None,
        turn: bool = True,
    ) -> Layer:
        size = size_words(w, h, project.told_in)
        return Layer(role, name, hex_, round(w, 2), round(h, 2), size, words, fold, turn, copies)

    own = swatch_of(inked.paper.name, inked.paper.lab)
    found = [layer("image", own.name, own.hex, *image_mm, "stamp it first, cut it out or trim it last")]
    inner = image_mm
    mats = [one for one in papers if one.role == "mat" and one.width_mm and one.height_mm]
    for paper in sorted(mats, key=lambda one: (one.width_mm or 0) * (one.height_mm or 0)):
        assert paper.width_mm
        assert paper.height_mm
        rim = _rim_words(inner, (paper.width_mm, paper.height_mm), project.told_in)
        found.append(layer("mat", paper.swatch.name, paper.swatch.hex, paper.width_mm, paper.height_mm, rim))
        inner = (paper.width_mm, paper.height_mm)
    for paper in papers:
        w, h = paper.width_mm, paper.height_mm
        if not w or not h or paper.role == "mat":
            continue
        if paper.role == "card":
            found.append(_card(layer, paper, w, h, inner, sheet, project.told_in))
        elif paper.role == "ribbon":
            across, along = min(w, h), max(w, h) + 2 * RIBBON_TURN_MM
            words = f"{size_words(RIBBON_TURN_MM, units=project.told_in)} at each end is for turning in"
            if copies > 1:
                words += f"; {size_words(copies * along, units=project.told_in)} in all"
            found.append(layer("ribbon", paper.swatch.name, paper.swatch.hex, across, along, words))
        else:
            words = "keep the pattern the way up that you like" if paper.pattern else ""
            found.append(layer(paper.role, paper.swatch.name, paper.swatch.hex, w, h, words))
    return tuple(found)


def _card(
    layer: Callable[..., Layer],
    paper: PlanPaper,
    w: float,
    h: float,
    inner: tuple[float, float],
    sheet: tuple[float, float],
    units: str,
) -> Layer:
    """A folded card base: twice as wide with the fold at the left, or twice as high with the fold on top."""

    def fits(a: float, b: float) -> bool:
        return (a <= sheet[0] and b <= sheet[1]) or (b <= sheet[0] and a <= sheet[1])

    beside = fits(2 * w, h) or not fits(w, 2 * h)
    wide, high = (2 * w, h) if beside else (w, 2 * h)
    fold = w if beside else h
    rim = _rim_words(inner, (w, h), units)
    score = f"score at {size_words(fold, units=units)}, fold {'at the left' if beside else 'at the top'}"
    # A fold along the grain is smooth: the blank stands so that its fold runs along the sheet's longer side.
    along = (wide, high) if beside else (high, wide)
    square = sheet[0] == sheet[1]
    with_grain = not square and along[0] <= sheet[0] and along[1] <= sheet[1]
    if with_grain:
        grain = "fold along the grain"
    elif square:
        grain = "bend the sheet: the fold goes the way it bends more easily"
    else:
        grain = "the fold runs across the grain of this sheet: score it twice"
    words = "; ".join(one for one in (score, grain, rim) if one)
    if with_grain:
        return layer("card", paper.swatch.name, paper.swatch.hex, *along, words, fold, False)
    return layer("card", paper.swatch.name, paper.swatch.hex, wide, high, words, fold)


def _rim_words(inner: tuple[float, float], outer: tuple[float, float], units: str) -> str:
    """The rim that shows around what lies on a layer."""
    side, end = ((b - a) / 2 for a, b in zip(inner, outer, strict=True))
    if side < 0 or end < 0:
        return "smaller than what lies on it"
    if abs(side - end) <= EVEN_MM:
        return f"an even rim of {size_words(side, units=units)}"
    return f"a rim of {size_words(side, units=units)} at the sides, {size_words(end, units=units)} above and below"


def cut_papers(layers: Sequence[Layer], sheet: str, units: str) -> tuple[PaperCuts, ...]:
    """Plan the cuts of each paper from its own sheets; ribbons are cut from the roll."""
    by_paper: dict[str, list[Layer]] = {}
    for one in layers:
        if one.role != "ribbon":
            by_paper.setdefault(one.name, []).append(one)
    cuts = []
    for name, own in by_paper.items():
        pieces = [Piece(one.role, one.width_mm, one.height_mm, one.count, one.may_turn) for one in own]
        cutting = plan_cuts(pieces, SHEETS_MM[sheet])
        cuts.append(
            PaperCuts(
                name,
                own[0].hex,
                sheet,
                cutting,
                tuple(_steps(one.cuts, units) for one in cutting.sheets),
                _cut_words(sheet, cutting.count, cutting.at_least)
                + "".join(f"; {one} is larger than the sheet" for one in cutting.too_large),
            )
        )
    return tuple(cuts)


def _steps(cuts: Sequence[Slice], units: str) -> tuple[CutStep, ...]:
    """Where each cut goes; those alike that follow each other are one step."""
    steps: list[CutStep] = []
    for place, cut in enumerate(cuts):
        words = f"{size_words(cut.at_mm, units=units)} from the {'left' if cut.down else 'top'}"
        if steps and steps[-1].words == words:
            steps[-1] = replace(steps[-1], count=steps[-1].count + 1)
        else:
            steps.append(CutStep(words, place, 1))
    return tuple(steps)


def _cut_words(sheet: str, count: int, at_least: int) -> str:
    if not count:
        return "no sheet of this size"
    sheets = f"{count} sheet{'s' if count > 1 else ''} of {sheet}"
    if count == 1:
        return sheets
    return (
        f"{sheets}, the fewest there can be"
        if count == at_least
        else f"{sheets}; no way needs fewer than {at_least}"
    )
