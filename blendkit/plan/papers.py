"""The papers and the greeting of a project against its coloured image: what echoes, what fights, what reads."""

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from blendkit.advice.greeting import InkContrast, contrast_needed, read_ink
from blendkit.advice.papers import Match, find_matches
from blendkit.advice.schemes import IMAGE_APART, PAPERS_APART
from blendkit.colour import delta_e_2000, lab_to_lch, srgb1_to_lab
from blendkit.errors import PaletteError
from blendkit.inked import Inked, swatch_of
from blendkit.palette import Palette, Paper
from blendkit.plan.records import Finding, GreetingRead
from blendkit.project.part_colours import PartColours
from blendkit.project.records import Project, ProjectPaper
from blendkit.spectrum import LIGHTS
from blendkit.words import MATCH_LIMIT

ALMOST_SAME = 2.0
"""CIEDE2000 from which two papers that were meant to be the same are seen not to be."""

LOUD_CHROMA = 15.0
"""Chroma by which a paper outshouts the most vivid colour of the image."""

LEAST_RIM_MM = 0.5
"""A narrower rim doesn't part the image from what lies behind it."""


@dataclass(frozen=True, slots=True)
class Echo:
    """The colour of the image that a paper comes nearest to: its part, its marker, and the match."""

    part: str
    marker: str
    match: Match


def image_labs(colours: Sequence[PartColours]) -> tuple[tuple[str, ...], NDArray[np.float64]]:
    """Names and colours, (n, 3), of the coloured image: every base, and every shadow as its ramp ends."""
    names: list[str] = []
    labs: list[NDArray[np.float64]] = []
    for one in colours:
        if one.base is None or one.ramp is None:
            continue
        names.append(one.part.name)
        labs.append(one.base.lab)
        if one.how != "plain":
            names.append(f"{one.part.name}, shadow")
            labs.append(srgb1_to_lab(one.ramp[255] / 255.0))
    return tuple(names), np.array(labs).reshape(-1, 3)


def papers_of(project: Project, palette: Palette) -> list[tuple[ProjectPaper, Paper]]:
    """Give the project's papers that the palette has, with their rows of it."""
    found = []
    for one in project.papers:
        try:
            found.append((one, palette.paper(one.name)))
        except PaletteError:
            continue
    return found


def find_echoes(papers: Iterable[Paper], inked: Inked, colours: Sequence[PartColours]) -> dict[str, Echo]:
    """For each paper, by its name, find the marker of the image that it comes nearest to."""
    markers: list[tuple[str, str, NDArray[np.float64]]] = []
    for one in colours:
        known = {name for _, name, _ in markers}
        markers += [
            (one.part.name, asked.swatch.name, asked.lab)
            for asked in one.asked
            if asked.swatch.name not in known
        ]
    echoes: dict[str, Echo] = {}
    if not markers:
        return echoes
    labs = np.array([lab for _, _, lab in markers])
    found: dict[str, dict[str, Match]] = {}
    # A project may name a paper that is yet to be bought.
    held, ribbons = (
        tuple(replace(paper, out=False) for paper in some)
        for some in (inked.palette.papers, inked.palette.ribbons)
    )
    inked = replace(inked, palette=replace(inked.palette, papers=held, ribbons=ribbons))
    for paper in papers:
        # the same colours of a patterned sheet that find_matches looks at
        own = [part.lab for part in paper.main_colours] or [paper.lab]
        nearest = int(np.argmin(delta_e_2000(labs[:, None], np.array(own)[None]).min(axis=1)))
        part_name, marker, _ = markers[nearest]
        if marker not in found:
            matches = find_matches(inked.palette, marker, kinds=("paper", "ribbon"), inked=inked).matches
            found[marker] = {match.name: match for match in matches}
        echoes[paper.name] = Echo(part_name, marker, found[marker][paper.name])
    return echoes


def check_papers(project: Project, inked: Inked, colours: Sequence[PartColours]) -> list[Finding]:
    """Find papers that fight with each other, with the image's own paper, or with the image."""
    papers = papers_of(project, inked.palette)
    if not papers:
        return []
    # from the image outward: its own paper, the mats (the last named lies lowest), the card
    layers = [("image's paper", inked.paper)]
    layers += [(one.role, paper) for one, paper in papers if one.role == "mat"]
    layers += [(one.role, paper) for one, paper in papers if one.role == "card"]
    findings: list[Finding] = []
    for one, other in itertools.pairwise(layers):
        findings += _check_edge(one, other)
    touches = [(one.role, paper) for one, paper in papers if one.role in ("accent", "ribbon")]
    for touch in touches:
        for layer in layers[1:]:
            findings += _check_edge(touch, layer)
    names, labs = image_labs(colours)
    if not len(labs):
        return findings
    vivid = float(lab_to_lch(labs)[:, 1].max())
    for role, paper in layers[1:]:
        chroma = float(lab_to_lch(paper.lab)[1])
        if chroma > vivid + LOUD_CHROMA:
            words = f"{paper.name} is louder than anything in the image; a calmer paper lets the image speak."
            findings.append(Finding("fault", "papers", role, words, chroma, vivid + LOUD_CHROMA))
    if len(layers) > 1 and project.cut.rim_mm < LEAST_RIM_MM:
        role, behind = layers[1]
        apart = delta_e_2000(labs, behind.lab)
        nearest = int(np.argmin(apart))
        if float(apart[nearest]) < IMAGE_APART:
            words = (
                f"{names[nearest]} melts into {behind.name}, {apart[nearest]:.1f} apart; leave a white rim, "
                f"or take a paper {IMAGE_APART:g} and more apart."
            )
            findings.append(Finding("fault", "papers", role, words, float(apart[nearest]), IMAGE_APART))
    for name, echo in find_echoes((paper for _, paper in touches), inked, colours).items():
        if echo.match.parts_under and echo.match.delta_e_2000 < MATCH_LIMIT:
            lights = " and ".join(LIGHTS[light].under for light in echo.match.parts_under)
            words = f"{name} matches {echo.part} ({echo.marker}) in daylight, but they part {lights}."
            findings.append(Finding("look", "papers", name, words, echo.match.delta_e_2000))
    return findings


def _check_edge(one: tuple[str, Paper], other: tuple[str, Paper]) -> list[Finding]:
    """Say whether two papers that touch are two colours, one, or something unlucky in between."""
    (role, paper), (other_role, beside) = one, other
    if paper.name == beside.name:
        return []
    apart = float(delta_e_2000(paper.lab, beside.lab))
    where = f"{role} and {other_role}"
    if apart < ALMOST_SAME:
        words = f"{paper.name} and {beside.name} look the same, so no edge shows between them."
        return [Finding("look", "papers", where, words, apart, ALMOST_SAME)]
    if apart < PAPERS_APART:
        words = (
            f"{paper.name} and {beside.name} fight: {apart:.1f} apart is too little to show as two and too "
            f"much to pass as one; take the same, or {PAPERS_APART:g} and more apart."
        )
        return [Finding("fault", "papers", where, words, apart, PAPERS_APART)]
    return []


def read_greeting(project: Project, inked: Inked) -> GreetingRead | None:
    """Judge the greeting; None where there is none, or its ink or paper isn't in the palette."""
    greeting = project.greeting
    if greeting is None:
        return None
    palette = inked.palette
    try:
        ink = palette.find(greeting.ink)
        paper = palette.paper(greeting.on) if greeting.on else inked.paper
    except PaletteError:
        return None
    needed = contrast_needed(greeting.size_pt, greeting.bold)
    read = read_ink(ink.lab, paper)
    others = (
        {one.name: read_ink(one.lab, paper).least for one in palette.inks} if not read.reads(needed) else {}
    )
    best = max(others, key=lambda name: others[name], default=ink.name)
    best_contrast = others.get(best, read.least)
    return GreetingRead(
        text=greeting.words,
        size_pt=greeting.size_pt,
        bold=greeting.bold,
        ink=swatch_of(ink.name, ink.lab),
        on=swatch_of(paper.name, paper.lab),
        contrast_wcag=read.contrast_wcag,
        contrast_seen=read.contrast_seen,
        deficiency=read.deficiency,
        needed=needed,
        reads=read.reads(needed),
        better=best if best_contrast > read.least else "",
        better_contrast=best_contrast,
        words=_greeting_words(read, needed),
    )


def _greeting_words(read: InkContrast, needed: float) -> str:
    """Say how well a greeting reads, after its ink and paper."""
    need = f"and words of this size need {needed:g}"
    if read.reads(needed):
        return f"reads well: contrast {read.contrast_wcag:.1f}, {need}."
    if read.contrast_wcag < needed:
        return f"does not read: contrast {read.contrast_wcag:.1f}, {need}."
    return (
        f"does not read for everybody: contrast {read.contrast_wcag:.1f}, but {read.contrast_seen:.1f} as seen "
        f"with a {read.deficiency} deficiency, {need}."
    )


def check_greeting(project: Project, inked: Inked) -> list[Finding]:
    """Find a greeting that doesn't read on its paper."""
    read = read_greeting(project, inked)
    if read is None or read.reads:
        return []
    words = f"{read.ink.name} on {read.on.name} {read.words}"
    if read.better:
        words = f"{words.removesuffix('.')}; {read.better} would reach {read.better_contrast:.1f}."
    return [
        Finding(
            "fault", "greeting", "greeting", words, min(read.contrast_wcag, read.contrast_seen), read.needed
        )
    ]
