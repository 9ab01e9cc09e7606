"""What would go wrong in a colouring plan, told before anything is drawn or coloured.

Limits without a source named beside them are our own judgement.
"""

from collections.abc import Sequence

import numpy as np

from blendkit.advice.shading_series import DEFAULT_WINDOW
from blendkit.colour import delta_e_2000
from blendkit.errors import Problem, ProjectError
from blendkit.inked import Inked, ink_drawer
from blendkit.palette import Palette
from blendkit.plan.cut_line import find_cut_line
from blendkit.plan.papers import check_greeting, check_papers
from blendkit.plan.records import Finding, PlanCheck
from blendkit.project.part_colours import PartColours, colour_parts, find_unknown_names
from blendkit.project.questions import LEAST_MM2, find_questions
from blendkit.project.records import Project
from blendkit.project.work import Work, open_work

RUN_TOGETHER = 8.0
"""CIEDE2000 below which neighbours with no line between them read as one part."""

SEEN = 5.0
"""CIEDE2000 that a shadow keeps from its base coat: the last limit of the paper verdicts, "near"."""

FAR_STEP = DEFAULT_WINDOW[1] + 15.0
"""L* beyond which a shadow no longer blends: the window's end and one comfortable step."""

HARDLY_SHOWS = 4.0
"""CIEDE2000 below which a base coat hardly shows on its paper."""

OPEN_MM = 1.0
LINE_NEAR_MM = 0.3
DARK_LINE = 100
"""A border is open where no line as dark as this (of 255) lies within 0.3 mm; less than 1 mm of it is a gap."""


def check_plan(
    project: Project,
    palette: Palette,
    work: Work | None = None,
    *,
    inked: Inked | None = None,
    colours: Sequence[PartColours] | None = None,
) -> PlanCheck:
    """Find what would go wrong, without drawing.

    Args:
        project: the project.
        palette: the drawer.
        work: the project at work, if at hand.
        inked: the drawer on the project's paper, if at hand.
        colours: the parts' colours, if at hand.

    Returns: the findings; names that the palette lacks are among them.
    Raises: PictureError or ProjectError for an image or areas that can't be used; PaletteError when the drawer
        has no marker at all.
    """
    work = work if work is not None and work.project == project else open_work(project, work)
    unknown = find_unknown_names(project, palette)
    inked = inked or drawer_for(project, palette, unknown)
    colours = colours if colours is not None else colour_parts(project, inked)
    findings = [
        *(
            Finding("fault", "unknown", one.where, f"{one.found} is not there; {one.accepted}.")
            for one in unknown
        ),
        *_check_parts(work, inked, colours),
        *_check_neighbours(work, inked, colours),
        *check_papers(project, inked, colours),
        *check_greeting(project, inked),
        *_check_areas(work),
        *_check_cut(work),
        *_check_overlaps(work),
        *(Finding("look", "scale", project.image, note) for note in work.notes),
    ]
    findings.sort(key=lambda finding: finding.level != "fault")
    faults = sum(finding.level == "fault" for finding in findings)
    looks = len(findings) - faults
    words = (
        "Nothing would go wrong."
        if not findings
        else f"{_count(faults, 'thing')} would go wrong; {_count(looks, 'thing')} worth a look."
        if faults
        else f"Nothing would go wrong; {_count(looks, 'thing')} worth a look."
    )
    return PlanCheck(project.title, inked.paper.name, tuple(findings), unknown, not faults, (words,))


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" + ("" if number == 1 else "s")


def drawer_for(project: Project, palette: Palette, unknown: Sequence[Problem]) -> Inked:
    """Give the drawer on the project's paper, or on its usual paper when that one is not in the palette."""
    missing = any(one.key == "paper" for one in unknown)
    return ink_drawer(palette, None if missing else project.paper or None)


# ---------------------------------------------------------------- parts


def _check_parts(work: Work, inked: Inked, colours: Sequence[PartColours]) -> list[Finding]:
    findings: list[Finding] = []
    bare: list[str] = []
    for one, areas in zip(colours, work.areas, strict=True):
        name = one.part.name
        if not areas:
            words = "no area of the image belongs to it; give it a place, a loop, or take it out."
            findings.append(Finding("fault", "missing", name, words))
        if one.part.leave_white:
            continue
        if one.base is None:
            if not one.part.base:
                bare.append(name)
            continue
        findings += _check_pair(inked, one)
    if bare:
        each = " for each" if len(bare) > 1 else ""
        words = f"no base marker is chosen; choose one{each}, or set leave_white = true."
        findings.append(Finding("fault", "missing", ", ".join(bare), words))
    return findings


def _check_pair(inked: Inked, one: PartColours) -> list[Finding]:
    name, base = one.part.name, one.base
    assert base is not None
    findings: list[Finding] = []
    shows = float(delta_e_2000(inked.paper.lab, base.lab))
    if shows < HARDLY_SHOWS:
        words = f"{base.swatch.name} hardly shows on {inked.paper.name}; a deeper base would."
        findings.append(Finding("look", "too close", name, words, shows, HARDLY_SHOWS))
    if one.chosen and one.how in ("plain", "coats", "over", "under"):
        findings.append(_made_shadow(one))
    if one.shadow is not None and not one.chosen:
        step = float(base.lab[0] - one.shadow.lab[0])
        seen = _shadow_seen(inked, one)
        pair = f"{one.shadow.swatch.name} on {base.swatch.name}"
        if step <= 0.0:
            words = f"{one.shadow.swatch.name} is not darker than {base.swatch.name}: it can't be its shadow."
            findings.append(Finding("fault", "too close", name, words, step, 0.0))
        elif seen < SEEN:
            words = f"the shadow won't be seen: {pair} differ by {seen:.1f}, and it takes {SEEN:g}."
            findings.append(Finding("fault", "too close", name, words, seen, SEEN))
        elif step < DEFAULT_WINDOW[0]:
            words = (
                f"a quiet shadow: {pair} is a step of {step:.0f} L*; from {DEFAULT_WINDOW[0]:g} it is clear."
            )
            findings.append(Finding("look", "too close", name, words, step, DEFAULT_WINDOW[0]))
        elif step > FAR_STEP:
            words = (
                f"too far to blend: {pair} is a step of {step:.0f} L*; put a marker in between, "
                f"or take a shadow within {DEFAULT_WINDOW[1]:g}."
            )
            findings.append(Finding("fault", "too far", name, words, step, FAR_STEP))
        elif step > DEFAULT_WINDOW[1]:
            words = f"a big step: {pair} is {step:.0f} L*; blend it with a marker in between."
            findings.append(Finding("look", "too far", name, words, step, DEFAULT_WINDOW[1]))
    if one.light is not None and one.light.lab[0] <= base.lab[0]:
        words = f"{one.light.swatch.name} is not lighter than {base.swatch.name}: it can't be its light."
        step = float(one.light.lab[0] - base.lab[0])
        findings.append(Finding("fault", "too close", name, words, step, 0.0))
    rough = [asked.swatch.name for asked in one.asked if asked.rough]
    if rough:
        words = f"{' and '.join(rough)}: the finish changes with the angle, so the prediction is rough."
        findings.append(Finding("look", "coats", name, words))
    return findings


def _made_shadow(one: PartColours) -> Finding:
    """What to say where the drawer has no marker for the shadow."""
    assert one.base is not None
    base, companion = one.base.swatch.name, one.companion
    if one.how == "plain":
        miss = "" if companion is None else f"; the nearest miss is {companion.name}"
        words = (
            f"nothing in the drawer shades {base}{miss}. Name a shadow, or shadow = none for a plain coat."
        )
        return Finding("fault", "no pair", one.part.name, words)
    assert companion is not None
    way = {
        "coats": f"{companion.coats} coats of it",
        "over": f"{companion.name} laid over it",
        "under": f"{companion.name} laid under it",
    }[one.how]
    words = f"no marker of the drawer shades {base} by itself; {way} will."
    return Finding("look", "no pair", one.part.name, words, companion.score)


def _shadow_seen(inked: Inked, one: PartColours) -> float:
    """CIEDE2000 between one coat of the base and the shadow laid on it."""
    assert one.base is not None
    assert one.shadow is not None
    labs = inked.lab_after(inked.lay_asked([one.base, one.shadow]))
    return float(delta_e_2000(labs[0], labs[1]))


# ---------------------------------------------------------------- neighbours


def find_open_borders(work: Work) -> dict[tuple[int, int], float]:
    """Where two parts meet with no line between them.

    Returns: for each pair of parts, numbered from 1 and the smaller first, how many mm of their border are open.
    """
    import cv2

    part_of = work.part_of()
    radius = max(1, round(LINE_NEAR_MM * work.per_mm))
    kernel = np.ones((2 * radius + 1, 2 * radius + 1), np.uint8)
    near = cv2.dilate(work.regions.line, kernel)
    parts = part_of[work.regions.labels]
    size = len(work.areas) + 1
    steps = np.zeros((2, size * size))
    for axis in (0, 1):
        here = np.s_[:-1, :] if axis == 0 else np.s_[:, :-1]
        there = np.s_[1:, :] if axis == 0 else np.s_[:, 1:]
        one, other = parts[here], parts[there]
        border = (one != other) & (one > 0) & (other > 0) & (near[here] < DARK_LINE)
        low, high = np.minimum(one[border], other[border]), np.maximum(one[border], other[border])
        steps[axis] = np.bincount(low * size + high, minlength=size * size)
    # pixel steps overstate a border: straight ones are the root of their squares long, curved ones about pi/4
    lengths = np.maximum(np.hypot(*steps), np.pi / 4 * steps.sum(axis=0)) / work.per_mm
    return {
        (int(key) // size, int(key) % size): float(lengths[key]) for key in np.flatnonzero(lengths >= OPEN_MM)
    }


def _check_neighbours(work: Work, inked: Inked, colours: Sequence[PartColours]) -> list[Finding]:
    findings = []
    for (low, high), length in sorted(find_open_borders(work).items()):
        one, other = colours[low - 1], colours[high - 1]
        labs = [
            inked.paper.lab if each.base is None else each.base.lab
            for each in (one, other)
            if each.base is not None or each.part.leave_white
        ]
        if len(labs) < 2:
            continue
        apart = float(delta_e_2000(labs[0], labs[1]))
        if apart < RUN_TOGETHER:
            words = (
                f"they run together: {length:.0f} mm of their border has no line, and their bases differ by "
                f"{apart:.1f}; from {RUN_TOGETHER:g} the edge shows."
            )
            where = f"{one.part.name} and {other.part.name}"
            findings.append(Finding("fault", "run together", where, words, apart, RUN_TOGETHER))
    return findings


def _check_areas(work: Work) -> list[Finding]:
    if not work.free:
        return []
    areas = {part.number: part for part in work.regions.parts}
    total = sum(part.area_px for part in work.regions.parts)
    share = sum(areas[number].area_px for number in work.free) / total
    large = sorted(work.free, key=lambda number: -areas[number].area_px)[:3]
    places = "; ".join(
        f"[{areas[n].point_px[0] / work.per_mm:.1f}, {areas[n].point_px[1] / work.per_mm:.1f}]" for n in large
    )
    words = (
        f"{_count(len(work.free), 'closed area')} ({100 * share:.0f} % of the figure) in no part: "
        f"white paper will be left there. The largest: {places}."
    )
    return [Finding("look", "areas", work.project.image, words, float(len(work.free)))]


def _check_cut(work: Work) -> list[Finding]:
    """What the cut line would cut off, and the pieces that it cuts out by themselves."""
    try:
        line = find_cut_line(work)
    except ProjectError as error:
        return [Finding("look", "cut line", "[cut]", error.message)]
    faults = [
        Finding("fault", "cut line", f"[{one.place_mm[0]:g}, {one.place_mm[1]:g}]", one.words, one.size_mm)
        for one in line.faults
    ]
    looks = [
        Finding(
            "look",
            "cut line",
            f"[{x:g}, {y:g}]",
            f"a piece lies apart there and is cut out by itself; leave = [[{x:g}, {y:g}]] in [cut] leaves it out.",
        )
        for x, y in line.apart
    ]
    return faults + looks


def _check_overlaps(work: Work) -> list[Finding]:
    """The overlaps that are a guess, those that change the picture most first."""
    return [
        Finding(
            "look",
            "overlap",
            f"{one.front} and {one.behind}",
            f"{one.words} It is a guess; look, and decide: {one.decision}, front first.",
            one.changes_mm2,
            LEAST_MM2,
        )
        for one in find_questions(work)
    ]
