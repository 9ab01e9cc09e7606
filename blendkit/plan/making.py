"""A colouring plan: a project and a drawer become the record that the sheets, the page and ``--json`` share."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from blendkit.advice.order import FADE, LIT_PLACE, SHADE_PLACE, Step, find_blender, find_order
from blendkit.art.preview import Ramp
from blendkit.colour import lab_to_hex, srgb1_to_lab
from blendkit.inked import Asked, Inked, Swatch, ink_drawer, swatch_of
from blendkit.palette import Blender, Item, Palette
from blendkit.plan.check import check_plan
from blendkit.plan.layers import cut_papers, lay_layers
from blendkit.plan.order_of_work import number_by_work, order_work
from blendkit.plan.papers import find_echoes, papers_of, read_greeting
from blendkit.plan.records import (
    SHARING,
    NumberedArea,
    PlanPaper,
    PlanPart,
    PlanRecord,
    PullItem,
    Shopping,
    ToBuy,
)
from blendkit.plan.shadow_places import highlight_words, shadow_words
from blendkit.project.part_colours import PartColours, colour_parts, refuse_unknown_names
from blendkit.project.records import Project
from blendkit.project.work import Work, open_work
from blendkit.words import BLENDER_WORDS, Progress, listed, size_words, so_far_words, within

STRIP_PLACES = (0, 51, 102, 153, 204, 255)
"""Places on a part's ramp that the record keeps, from highlight to shadow."""

WHITE_WORDS = "leave the white paper"

_DIRECTIONS = (
    "above",
    "the upper right",
    "the right",
    "the lower right",
    "below",
    "the lower left",
    "the left",
    "the upper left",
)


def light_words(light_deg: float) -> str:
    """Say where light comes from: 315 degrees is "the upper left"."""
    return _DIRECTIONS[round(light_deg / 45.0) % 8]


def make_plan(
    project: Project,
    palette: Palette,
    work: Work | None = None,
    *,
    inked: Inked | None = None,
    progress: Progress | None = None,
    copies: int = 1,
    budget: float | None = None,
) -> PlanRecord:
    """Make a colouring plan.

    Args:
        project: the project.
        palette: the drawer.
        work: the project at work, if at hand; what hasn't changed since is taken from it.
        inked: the drawer on the project's paper, if at hand.
        progress: told each step before it starts.
        copies: how many are made, for what is cut and laid out.
        budget: what the shopping list may cost by the column price, or None for any.

    Returns: the plan; ``fits`` is False when something in it would go wrong, and ``findings`` say what.
    Raises: ProjectError for parts, places, markers, papers or inks that are not there; PictureError for an image
        that can't be used.
    """
    refuse_unknown_names(project, palette)
    work = (
        work
        if work is not None and work.project == project
        else open_work(project, work, within(progress, 0.0, 0.9))
    )
    inked = inked or ink_drawer(palette, project.paper or None)
    colours = colour_parts(project, inked)
    within(progress, 0.0, 1.0)(0.9, "check")
    check = check_plan(project, palette, work, inked=inked, colours=colours)
    total = sum(part.area_px for part in work.regions.parts)
    left_over = sum(part.area_px for part in work.regions.parts if part.number in set(work.free))
    width_mm, height_mm = work.size_mm
    outline = palette.find(project.outline) if project.outline else None
    parts = tuple(_part(number, one, work, inked, total) for number, one in enumerate(colours, 1))
    papers = _papers(project, inked, colours)
    pull = _pull(project, inked, colours)
    layers = lay_layers(project, inked, papers, (width_mm, height_mm), copies)
    parts, order = number_by_work(parts, order_work(parts, project, inked, work))
    return PlanRecord(
        project=project.title,
        image=project.image_path.name,
        width_mm=width_mm,
        height_mm=height_mm,
        size=size_words(width_mm, height_mm, project.told_in),
        dpi=work.dpi,
        light=project.light,
        light_deg=project.light_deg,
        light_words=light_words(project.light_deg),
        on=swatch_of(inked.paper.name, inked.paper.lab),
        outline=None if outline is None else swatch_of(outline.name, outline.lab),
        parts=parts,
        left_over=work.free,
        left_over_share=left_over / total,
        papers=papers,
        greeting=read_greeting(project, inked),
        pull=pull,
        shopping=_shopping(pull, palette, budget, max(1, math.ceil(copies / SHARING))),
        order=order,
        layers=layers,
        cuts=cut_papers(layers, project.sheet, project.told_in),
        copies=copies,
        sets=max(1, math.ceil(copies / SHARING)),
        findings=check.findings,
        page=project.page,
        units=project.told_in,
        notes=project.notes,
        fits=check.fits,
        words=check.words,
    )


def _part(number: int, one: PartColours, work: Work, inked: Inked, total_px: int) -> PlanPart:
    known = {area.number: area for area in work.regions.parts}
    per_mm = work.per_mm
    spots = tuple(
        NumberedArea(
            area,
            known[area].point_px[0] / per_mm,
            known[area].point_px[1] / per_mm,
            known[area].radius_px / per_mm,
            known[area].area_px / per_mm**2,
        )
        for area in work.areas[number - 1]
    )
    places = shadow_words(work, number - 1), highlight_words(work, number - 1)
    steps, words = _steps(one, inked, *places)
    area_px = sum(known[spot.area].area_px for spot in spots)
    return PlanPart(
        number=number,
        name=one.part.name,
        areas=spots,
        area_mm2=area_px / per_mm**2,
        share=area_px / total_px,
        base=_swatch(one.base),
        shadow=_swatch(one.shadow),
        light=_swatch(one.light),
        how=one.how or ("white" if one.part.leave_white else ""),
        chosen=one.chosen,
        strip=_strip(one.ramp),
        steps=steps,
        coats=max((step.coat for step in steps), default=0),
        coat_limit=inked.paper.coat_limit,
        shadow_at=places[0] if one.how not in ("", "plain", "white") else "",
        note=one.part.note,
        words=words,
    )


def _swatch(asked: Asked | None) -> Swatch | None:
    return None if asked is None else asked.swatch


def _strip(ramp: Ramp | None) -> tuple[Swatch, ...]:
    if ramp is None:
        return ()
    return tuple(
        swatch_of(f"{100 * place / 255:.0f} %", srgb1_to_lab(ramp[place] / 255.0)) for place in STRIP_PLACES
    )


# ---------------------------------------------------------------- steps


def _steps(
    one: PartColours, inked: Inked, shade: str, gleam: str
) -> tuple[tuple[Step, ...], tuple[str, ...]]:
    """Steps of a part in working order, without the outline, which the whole image shares.

    Shade and gleam say where the picture has them; what has no highlight there is left no white.
    """
    if one.base is None:
        return (), ()
    if one.how == "plain":
        where = "the whole part, in small circles"
        if one.part.left_toward_light in ("paper", FADE) and gleam:
            where += f"; {WHITE_WORDS} {gleam}"
        found = find_order(inked.palette, one.base.swatch.name, (one.base.swatch.name,), on=inked.paper.name,
                           blender=one.part.blender, inked=inked)  # fmt: skip
        over = [step for step in found.steps if step.do == BLENDER_WORDS]
        steps = [_plan_step(one.base, 1, where), *_placed(over, shade, gleam)]
        return _with_light(one, steps), found.words[-2:] if over else ()
    named = () if one.shadow is None or one.how != "marker" else (one.shadow.swatch.name,)
    found = find_order(
        inked.palette, one.base.swatch.name, named, on=inked.paper.name, style=one.part.order,
        highlight=one.part.left_toward_light in ("paper", FADE) and bool(gleam),
        blender=one.part.blender, inked=inked,
    )  # fmt: skip
    steps = _placed([step for step in found.steps if step.coat > 0], shade, gleam)
    words = found.words[1:] if one.chosen else found.words[-2:] if one.part.blender else ()
    if one.chosen and one.shadow is not None and one.how == "marker":
        reason = "" if one.companion is None else one.companion.reasons.words
        words = (
            f"The drawer chose {one.shadow.swatch.name}: {reason}",
            *found.words[-2:] * bool(one.part.blender),
        )
    return _with_light(one, steps), words


def _placed(steps: Sequence[Step], shade: str, gleam: str) -> list[Step]:
    """Put the picture's own places into steps."""
    return [
        replace(
            step,
            where=step.where.replace(SHADE_PLACE, shade or SHADE_PLACE).replace(
                LIT_PLACE, gleam or LIT_PLACE
            ),
        )
        for step in steps
    ]


def _plan_step(asked: Asked, coat: int, where: str) -> Step:
    return Step(
        0, asked.swatch.name, where, coat, asked.swatch.lab, asked.swatch.hex, so_far=so_far_words(coat)
    )


def _with_light(one: PartColours, steps: Sequence[Step]) -> tuple[Step, ...]:
    """Put the light marker after the first step that lays the base, and number the steps."""
    ordered = list(steps)
    if one.light is not None and one.base is not None:
        at = next(place for place, step in enumerate(ordered) if step.marker == one.base.swatch.name)
        where = "toward the light, over the edge of the base while it is damp, to soften it"
        if one.part.left_toward_light == "paper":
            where += " into the white"
        ordered.insert(at + 1, _plan_step(one.light, 1, where))
    return tuple(replace(step, number=number) for number, step in enumerate(ordered, 1))


# ---------------------------------------------------------------- papers, greeting, what to pull


def _papers(project: Project, inked: Inked, colours: Sequence[PartColours]) -> tuple[PlanPaper, ...]:
    papers = papers_of(project, inked.palette)
    echoes = find_echoes((paper for _, paper in papers), inked, colours)
    found = []
    for one, paper in papers:
        echo = echoes.get(paper.name)
        found.append(
            PlanPaper(
                role=one.role,
                swatch=swatch_of(paper.name, paper.lab),
                kind=paper.kind,
                width_mm=one.width_mm,
                height_mm=one.height_mm,
                size=size_words(one.width_mm, one.height_mm, project.told_in),
                echoes="" if echo is None else f"{echo.part} ({echo.marker})",
                delta_e_2000=None if echo is None else echo.match.delta_e_2000,
                verdict="" if echo is None else echo.match.verdict,
                parts_under=() if echo is None else echo.match.parts_under,
                words="" if echo is None else echo.match.words,
                pattern=tuple((lab_to_hex(part.lab), part.share) for part in paper.pattern),
            )
        )
    return tuple(found)


def _pull(project: Project, inked: Inked, colours: Sequence[PartColours]) -> tuple[PullItem, ...]:
    """Markers by hue family and lightness as the drawer has them, then papers, then inks."""
    users: dict[str, list[str]] = {}
    swatches: dict[str, Swatch] = {}
    for one in colours:
        for asked in one.asked:
            swatches[asked.swatch.name] = asked.swatch
            parts = users.setdefault(asked.swatch.name, [])
            if one.part.name not in parts:
                parts.append(one.part.name)
    items = [
        PullItem("marker", swatches[marker.name], tuple(users[marker.name]))
        for marker in inked.markers
        if marker.name in users
    ]
    papers: dict[str, list[str]] = {inked.paper.name: ["the image"]}
    for one_paper, paper in papers_of(project, inked.palette):
        papers.setdefault(paper.name, []).append(one_paper.role)
    for name, uses in papers.items():
        found = inked.palette.paper(name) if name != inked.paper.name else inked.paper
        items.append(PullItem(found.kind, swatch_of(name, found.lab), tuple(uses)))
    inks: dict[str, list[str]] = {}
    if project.outline:
        inks.setdefault(inked.palette.find(project.outline).name, []).append("the outline")
    if project.greeting is not None:
        inks.setdefault(inked.palette.find(project.greeting.ink).name, []).append("the greeting")
    blended = tuple(one.part.name for one in colours if one.part.blender)
    blender = find_blender(inked.palette, [way for one in colours for way in one.part.blender])
    if blender is not None:
        # without a colour of its own, it is shown as the paper
        items.append(PullItem("blender", swatch_of(blender.name, inked.paper.lab), blended))
    for name, uses in inks.items():
        items.append(PullItem("ink", swatch_of(name, inked.palette.find(name).lab), tuple(uses)))
    return tuple(items)


def _shopping(pull: Sequence[PullItem], palette: Palette, budget: float | None, sets: int) -> Shopping | None:
    """List what of the things to pull isn't at hand; within a budget, what lets most be done."""
    things = {one.name: one for one in (*palette.items, *palette.away, *palette.blenders)}
    out = [
        one for one in pull if (thing := things.get(one.swatch.name)) is not None and _is_away(thing, palette)
    ]
    if not out:
        return None
    copies = [1 if one.kind in ("paper", "ribbon") else sets for one in out]
    each = [things[one.swatch.name].price for one in out]
    prices = [None if price is None else price * count for price, count in zip(each, copies, strict=True)]
    unpriced = [one.swatch.name for one, price in zip(out, prices, strict=True) if price is None]
    buy, exact = [True] * len(out), True
    words = []
    if budget is not None:
        from blendkit.advice.optimum import choose_fewest

        # What needs something without a price can't be reckoned with.
        uses: dict[str, list[int]] = {}
        for place, one in enumerate(out):
            for use in one.used_for:
                uses.setdefault(use, []).append(place)
        priced = {
            use: places for use, places in uses.items() if all(prices[place] is not None for place in places)
        }
        chosen = choose_fewest(
            [[tuple(places)] for places in priced.values()],
            len(out),
            prices=np.array([price or 0.0 for price in prices]),
            budget=budget,
        )
        buy, exact = (chosen.copies > 0).tolist(), chosen.exact
        done = [use for use, way in zip(priced, chosen.way, strict=True) if way >= 0]
        left = [use for use in uses if use not in done]
        words.append(
            f"For {budget:.2f} there is enough for {listed(done)}."
            if done
            else f"Nothing is to be had for {budget:.2f}."
        )
        if left:
            words.append(f"Not for that money: {listed(left)}.")
    cost = sum(price or 0.0 for price, mine in zip(prices, buy, strict=True) if mine)
    if any(price is not None for price in prices):
        words.append(f"It costs {cost:.2f}" + (", by the column price." if budget is None else "."))
    if unpriced:
        words.append(f"Without a price in the palette: {listed(unpriced)}.")
    items = (
        ToBuy(one.kind, one.swatch.name, count, price, one.used_for, mine)
        for one, count, price, mine in zip(out, copies, each, buy, strict=True)
    )
    return Shopping(tuple(items), round(cost, 2), budget, exact, tuple(words))


def _is_away(thing: Item | Blender, palette: Palette) -> bool:
    return thing.out or palette.get_away(thing.name) is not None
