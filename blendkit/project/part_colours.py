"""The markers of a project's parts on its paper: named ones, the shadow that the drawer chooses, and the ramp.

This is the cheap half of a plan: a changed marker costs a few calls of the ink model.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from blendkit.advice.order import FADE, LIFT, find_blender
from blendkit.advice.pairs import Companion, find_companions
from blendkit.art.preview import Ramp, draw_ramp, paint, ramp_labs
from blendkit.colour import labs_to_display_srgb1
from blendkit.errors import PaletteError, Problem, ProjectError
from blendkit.inked import Asked, Inked, find_colour, typed_colour
from blendkit.palette import Item, Marker, Palette, Paper, StampInk
from blendkit.project.records import NO_SHADOW, Project, ProjectPart
from blendkit.project.work import Work, material_of

Floats = NDArray[np.float64]

LINE_SRGB255 = (24, 22, 24)
"""Stamped line of a project that names no outline ink."""


@dataclass(frozen=True)
class PartColours:
    """The colours of one part.

    Args:
        part: the part.
        base: its base coat, or None when it has none yet or stays white.
        shadow: the marker of the shadow, or None for more coats of the base or none at all.
        light: the marker toward the light, or None.
        how: how the shadow is made: "marker", "over", "under", "coats", or "plain" for no shadow; "" without a
            base.
        chosen: True when the drawer chose the shadow.
        companion: the drawer's best companion when it was to choose, else None.
        ramp: display colours from highlight to shadow, uint8, shape (256, 3); None without a base.
    """

    part: ProjectPart
    base: Asked | None = None
    shadow: Asked | None = None
    light: Asked | None = None
    how: str = ""
    chosen: bool = False
    companion: Companion | None = None
    ramp: Ramp | None = field(default=None, repr=False)

    @property
    def asked(self) -> tuple[Asked, ...]:
        """Light, base and shadow, those that there are."""
        return tuple(one for one in (self.light, self.base, self.shadow) if one is not None)


def colour_parts(
    project: Project, inked: Inked, known: Mapping[ProjectPart, PartColours] | None = None
) -> tuple[PartColours, ...]:
    """Find the colours of every part; a name that the palette lacks counts as not chosen yet.

    Args:
        project: the project.
        inked: the drawer on the project's paper.
        known: colours found earlier with the same drawer and paper, by part.

    Returns: one entry for each part, in order.
    """
    return tuple(
        _colour_part(part, inked, host)
        if (host := _skin_around(project, part)) is not None
        else (known or {}).get(part) or _colour_part(part, inked)
        for part in project.parts
    )


def _skin_around(project: Project, part: ProjectPart) -> ProjectPart | None:
    """The skin that a blush fades into: the same person's ("girl's cheeks", "girl's skin"), or the only one."""
    if material_of(part).name != "blush" or part.left_toward_light != "none":
        return None
    skins = [one for one in project.parts if material_of(one).name == "skin" and one.base]
    same = [one for one in skins if one.name.split()[0] == part.name.split()[0]]
    face = [one for one in skins if "face" in one.name]
    return next(iter(same or face or (skins if len(skins) == 1 else [])), None)


def _colour_part(part: ProjectPart, inked: Inked, fades_into: ProjectPart | None = None) -> PartColours:
    base = _marker(inked, part.base)
    if part.leave_white or base is None:
        return PartColours(part)
    light = _marker(inked, part.light) if part.left_toward_light in ("paper", "light") else None
    shadow, how, chosen, companion = _marker(inked, part.shadow), "marker", False, None
    if part.shadow == NO_SHADOW:
        how = "plain"
    elif shadow is None:
        here = inked.at_hand
        found = find_companions(here, find_colour(here, base.swatch.name), count=1)
        companion, chosen, how = (found[0] if found else None), True, "plain"
        if companion is not None and companion.fits:
            how = companion.how
            shadow = None if how == "coats" else _marker(inked, companion.name)
    coats = companion.coats if how == "coats" and companion is not None else 1
    stack = [base] * coats if shadow is None else [shadow, base] if how == "under" else [base, shadow]
    toward = light if fades_into is None else _marker(inked, fades_into.base)
    if part.left_toward_light == LIFT:
        lifted = inked.lifted(base)  # without a measured lift the picture shows plain base there
        toward = None if lifted is None else typed_colour("lifted", lifted, inked.model)
    bare = part.left_toward_light in ("paper", FADE)
    ramp = draw_ramp(ramp_labs(inked, stack, base, toward, bare_highlight=bare))
    return PartColours(part, base, shadow, light, how, chosen, companion, ramp)


def _marker(inked: Inked, name: str) -> Asked | None:
    if not name or name == NO_SHADOW:
        return None
    try:
        return find_colour(inked, inked.palette.marker(name).name)
    except PaletteError:
        return None


def ramps_of(work: Work, colours: Sequence[PartColours]) -> dict[int, Ramp]:
    """Give every coloured area, by its number, the ramp of its part, for ``art.preview.paint``."""
    return {
        area: one.ramp
        for one, areas in zip(colours, work.areas, strict=bool(colours))
        if one.ramp is not None
        for area in areas
    }


def paint_work(work: Work, colours: Sequence[PartColours], inked: Inked) -> NDArray[np.uint8]:
    """Colour the line image: sRGB, uint8, shape (h, w, 3); parts without colours stay paper."""
    paper = np.round(labs_to_display_srgb1(inked.paper.lab[None])[0] * 255).astype(np.uint8)
    return paint(work.shades, work.relief, ramps_of(work, colours), paper, line_srgb255(work.project, inked))


def line_srgb255(project: Project, inked: Inked) -> tuple[int, int, int]:
    """Display colour of the stamped line."""
    if not project.outline:
        return LINE_SRGB255
    try:
        lab = inked.palette.find(project.outline).lab
    except PaletteError:
        return LINE_SRGB255
    red, green, blue = np.round(labs_to_display_srgb1(lab[None])[0] * 255).astype(int).tolist()
    return red, green, blue


# ---------------------------------------------------------------- names


def find_unknown_names(project: Project, palette: Palette) -> tuple[Problem, ...]:
    """Find every marker, paper and ink that the project names and the palette lacks, with the nearest names."""
    file = project.path.name if project.path is not None else "project"
    wanted: list[tuple[str, str, Callable[[str], object]]] = [("paper", project.paper, palette.paper)]
    wanted.append(("outline", project.outline, lambda name: _ink(palette, name)))
    for part in project.parts:
        shadow = "" if part.shadow == NO_SHADOW else part.shadow
        for key, name in (("base", part.base), ("shadow", shadow), ("light", part.light)):
            wanted.append((f"part {part.name}, {key}", name, palette.marker))
    wanted += [(f"papers, {paper.role}", paper.name, palette.paper) for paper in project.papers]
    if project.greeting is not None:
        wanted.append(("greeting, ink", project.greeting.ink, lambda name: _ink(palette, name)))
        wanted.append(("greeting, on", project.greeting.on, palette.paper))
    problems: list[Problem] = []
    for where, name, find in wanted:
        if not name:
            continue
        try:
            find(name)
        except PaletteError as error:
            problem = error.problems[0]
            found = Problem(f"{file}, {where}", problem.found, problem.accepted, key=where)
            problems.append(found)
    for part in project.parts:
        try:
            find_blender(palette, part.blender)
        except PaletteError as error:
            where = f"part {part.name}, highlight"
            accepted = f"a blender, which is {error.problems[0].accepted}"
            problems.append(Problem(f"{file}, {where}", f"{part.highlight!r}", accepted, key=where))
    return tuple(problems)


def refuse_unknown_names(project: Project, palette: Palette) -> None:
    """Raise ProjectError, with all of them, for names that the palette lacks."""
    problems = find_unknown_names(project, palette)
    if problems:
        drawer = palette.path.name if palette.path is not None else "the palette"
        file = project.path.name if project.path is not None else "The project"
        raise ProjectError(f"{file} names what is not in {drawer}.", problems)


def _ink(palette: Palette, name: str) -> StampInk:
    item: Item = palette.find(name)
    if not isinstance(item, StampInk):
        kind = "a marker" if isinstance(item, Marker) else "a paper" if isinstance(item, Paper) else "no ink"
        inks = "; ".join(ink.name for ink in palette.inks) or "no ink yet"
        raise PaletteError(
            "not an ink", [Problem(name, f"{name!r}, which is {kind}", f"a stamp ink, one of: {inks}")]
        )
    return item
