"""What a colouring plan says, as frozen records: the same numbers and words are printed, shown and dumped."""

from dataclasses import dataclass

from blendkit.advice.order import Step
from blendkit.errors import Problem
from blendkit.inked import Swatch
from blendkit.plan.cutting import CuttingPlan

SHARING = 4
"""Seats that share one set of markers; own judgement."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that the check found.

    Args:
        level: "fault" for what would go wrong; "look" for what is worth a look.
        topic: unknown, missing, no pair, too close, too far, coats, run together, papers, greeting, areas,
            overlap, cut line, open or scale.
        where: the part, paper or greeting.
        words: what, why, and what to do.
        value: the number that it hangs on, or None.
        limit: the limit of that number, or None.
    """

    level: str
    topic: str
    where: str
    words: str
    value: float | None = None
    limit: float | None = None


@dataclass(frozen=True, slots=True)
class PlanCheck:
    """Answer to “what would go wrong?”

    Args:
        project: its title.
        on: the paper that the image is coloured on.
        findings: faults first.
        unknown: names that the palette lacks, each with where it stands and the nearest names.
        fits: whether there is no fault.
        words: what to know.
    """

    project: str
    on: str
    findings: tuple[Finding, ...]
    unknown: tuple[Problem, ...]
    fits: bool
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class GreetingRead:
    """The stamped words, and how well they read.

    Args:
        text, size_pt, bold: the words, their size in points, and whether they are bold.
        ink, on: ink and paper.
        contrast_wcag: their contrast ratio, 1 to 21; on a patterned sheet the least over its colours.
        contrast_seen: the least as seen with a colour-vision deficiency.
        deficiency: with which one.
        needed: the ratio that words of that size need (W3C WCAG 2.2, 1.4.3).
        reads: whether both reach it.
        better: the ink of the palette that reads best there, or "" when that is the chosen one.
        better_contrast: the lesser of its two.
        words: how well they read, to stand after ink and paper.
    """

    text: str
    size_pt: float
    bold: bool
    ink: Swatch
    on: Swatch
    contrast_wcag: float
    contrast_seen: float
    deficiency: str
    needed: float
    reads: bool
    better: str
    better_contrast: float
    words: str


@dataclass(frozen=True, slots=True)
class NumberedArea:
    """A closed area that carries its part's number: where the number stands, and how much room is there."""

    area: int
    x_mm: float
    y_mm: float
    radius_mm: float
    area_mm2: float


@dataclass(frozen=True, slots=True)
class PlanPart:
    """One part of the plan.

    Args:
        number: on the sheets, from 1, in the order of the work; what is left white comes last.
        name: its name.
        areas: its closed areas, the largest first.
        area_mm2: all of them together.
        share: of the figure's parts, 0 to 1.
        base, shadow, light: one coat of each on the paper, or None.
        how: how the shadow is made: "marker", "over", "under", "coats", "plain"; "white" for a part left
            white, "" for one without a base yet.
        chosen: True when the drawer chose the shadow.
        strip: the blend from highlight to shadow.
        steps: in working order.
        coats: coats in the wettest place.
        coat_limit: coats that the paper takes.
        shadow_at: where the picture has its shadow, such as "under the scarf and along the left"; "" for none.
        note: the owner's words.
        words: what to know.
    """

    number: int
    name: str
    areas: tuple[NumberedArea, ...]
    area_mm2: float
    share: float
    base: Swatch | None
    shadow: Swatch | None
    light: Swatch | None
    how: str
    chosen: bool
    strip: tuple[Swatch, ...]
    steps: tuple[Step, ...]
    coats: int
    coat_limit: int
    shadow_at: str
    note: str
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PlanPaper:
    """A paper or ribbon of the card, and what of the image it echoes.

    Args:
        role: card, mat, accent or ribbon.
        swatch: the paper.
        kind: "paper" or "ribbon".
        width_mm, height_mm: its size, or None.
        size: the same in words, or "".
        echoes: the part and marker that it comes nearest to, or "".
        delta_e_2000: CIEDE2000 to that, or None.
        verdict: a word of ``advice.papers.VERDICTS``, or "".
        parts_under: lights under which that match parts.
        words: the verdict in a sentence.
        pattern: of a patterned sheet each colour for the screen and its share; the swatch is their mean.
    """

    role: str
    swatch: Swatch
    kind: str
    width_mm: float | None
    height_mm: float | None
    size: str
    echoes: str
    delta_e_2000: float | None
    verdict: str
    parts_under: tuple[str, ...]
    words: str
    pattern: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class PullItem:
    """Something to pull from the drawer, and what for."""

    kind: str
    swatch: Swatch
    used_for: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ToBuy:
    """Something that the plan needs and that isn't at hand.

    Args:
        kind: "marker", "paper", "ribbon", "ink" or "blender".
        name: its name.
        copies: how many: of all but papers and ribbons one for each set of a class.
        price: what one costs, or None.
        used_for: what for.
        buy: whether it is within the budget, and worth it: bought with it, something can be done.
    """

    kind: str
    name: str
    copies: int
    price: float | None
    used_for: tuple[str, ...]
    buy: bool


@dataclass(frozen=True, slots=True)
class Shopping:
    """What to buy for a plan.

    Args:
        items: what isn't at hand, in the order of what is pulled.
        cost: what those to be bought cost together, by the column price.
        budget: what it may cost, or None.
        exact: whether no other choice for that money lets more be done.
        words: what to know.
    """

    items: tuple[ToBuy, ...]
    cost: float
    budget: float | None
    exact: bool
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class OrderMarker:
    """A marker of a step of the whole work: what it does there, and whether it is used for the first time."""

    role: str
    swatch: Swatch
    first: bool


@dataclass(frozen=True, slots=True)
class OrderStep:
    """One step of the whole work: the parts that take the same markers in the same way.

    Args:
        number: from 1, in working order.
        stage: "skin first", "light to dark" or "glow last".
        parts: numbers of the parts.
        names: their names.
        markers: base, shadow, light.
        how: how the shadow is made, as in :class:`PlanPart`.
        differs: how it differs from the usual method, and which of the parts do.
        dry_first: numbers of touching parts of the step before, which must be dry.
    """

    number: int
    stage: str
    parts: tuple[int, ...]
    names: tuple[str, ...]
    markers: tuple[OrderMarker, ...]
    how: str
    differs: tuple[tuple[str, tuple[int, ...]], ...]
    dry_first: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Layer:
    """A layer of the card and how to cut it.

    Args:
        role: image, card, mat, accent or ribbon.
        name: the paper.
        hex: what a screen can show of it.
        width_mm, height_mm: as cut; of a ribbon its width and its length.
        size: the same in words.
        words: where to fold, what rim it leaves, what to allow.
        fold_mm: where a card base is scored and folded, across its width; None elsewhere.
        may_turn: False where the grain decides which way it lies on its sheet.
        count: how many.
    """

    role: str
    name: str
    hex: str
    width_mm: float
    height_mm: float
    size: str
    words: str
    fold_mm: float | None
    may_turn: bool
    count: int


@dataclass(frozen=True, slots=True)
class CutStep:
    """A step of cutting: where from the edge, such as "94 mm from the left", the first of its cuts, how many."""

    words: str
    first: int
    count: int


@dataclass(frozen=True, slots=True)
class PaperCuts:
    """How one paper is cut.

    Args:
        name, hex: the paper.
        sheet: what it is cut from, one of ``cutting.SHEETS_MM``.
        cutting: the sheets, their pieces and cuts.
        steps: for each kind of sheet its cuts in order, those alike together.
        words: how many sheets, and whether fewer are proven to be impossible.
    """

    name: str
    hex: str
    sheet: str
    cutting: CuttingPlan
    steps: tuple[tuple[CutStep, ...], ...]
    words: str


@dataclass(frozen=True, slots=True)
class PlanRecord:
    """A colouring plan.

    Args:
        project: its title.
        image: the image's file name.
        width_mm, height_mm, size: of the image on paper.
        dpi: pixels an inch.
        light: where the light comes from, as typed.
        light_deg: the same, degrees clockwise from the top.
        light_words: the same in words.
        on: the paper that is coloured on.
        outline: the ink of the lines, or None.
        parts: in the project's order.
        left_over: closed areas that no part has.
        left_over_share: of the figure, 0 to 1.
        papers: card, mats, accents, ribbons.
        greeting: the stamped words, or None.
        pull: what to pull from the drawer, markers first.
        shopping: what of it isn't at hand, or None when all is.
        order: the whole work in steps.
        layers: the layers of the card, as cut.
        cuts: how each paper is cut from its sheets.
        copies: how many are made: 1, or the seats of a class.
        sets: sets of the markers to lay out; one for SHARING seats.
        findings: what would go wrong, faults first.
        page: size of the sheets.
        units: what lengths are told in: "mm" or "inch".
        notes: the owner's words.
        fits: whether there is no fault.
        words: what to know.
    """

    project: str
    image: str
    width_mm: float
    height_mm: float
    size: str
    dpi: float
    light: str
    light_deg: float
    light_words: str
    on: Swatch
    outline: Swatch | None
    parts: tuple[PlanPart, ...]
    left_over: tuple[int, ...]
    left_over_share: float
    papers: tuple[PlanPaper, ...]
    greeting: GreetingRead | None
    pull: tuple[PullItem, ...]
    shopping: Shopping | None
    order: tuple[OrderStep, ...]
    layers: tuple[Layer, ...]
    cuts: tuple[PaperCuts, ...]
    copies: int
    sets: int
    findings: tuple[Finding, ...]
    page: str
    units: str
    notes: str
    fits: bool
    words: tuple[str, ...]
