"""One page of a coloured chart in one picture: found, its boxes measured, its colour put right."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blendkit.chart.box_colour import BoxColour, PaperLight, find_paper_light, measure_boxes, measure_spots
from blendkit.chart.correct_colour import ASSUMED_PAPER_LAB, Anchors, Correction, fit_correction
from blendkit.chart.description import BoxSpec, ChartSpec, PageSpec
from blendkit.chart.find_page import (
    MARKS_A_PAGE,
    PageFit,
    find_marks,
    find_pages,
    fit_page,
    measure_blur_mm,
    name_marks,
    stretch_words,
)
from blendkit.chart.page_code import flatten, read_codes
from blendkit.chart.scan_record import Lab, PageReading
from blendkit.chart.target import TargetSpec, find_target
from blendkit.colour import lab_to_xyz1
from blendkit.errors import PaletteError, Problem, SheetError
from blendkit.palette import Palette
from blendkit.picture import Picture

Floats = NDArray[np.float64]

_LEAST_PX_PER_MM = 1.6
_FEWEST_MARKS = 4
_COLOURFUL, _COLOURFUL_BOXES = 15.0, 2
"""Chroma expected of a box that must show colour, and how many such boxes there must be. Own judgement."""
_GREY = 0.02
"""Largest spread of a box's channels, cube roots relative to the paper, in a grey picture: about 3 of chroma."""
_WIDEST_EDGE_MM = 1.7
"""Edges wider than this reach from outside into the read part of the smallest boxes."""
_DARKEST_PAPER = 0.05
_MOST_UNUSABLE = 0.5
_LEAST_BARE = 0.4
"""Share of the places between boxes that must look like one and the same paper for it to be taken for bare."""
_BRIGHTEST = 1.1
"""Light of a box relative to the bare paper about it that no ink reaches."""
_MOST_BRIGHTER = 0.15
"""Share of boxes brighter than that from which on what was taken for paper can't be bare."""
_STREAKY = 5.0
"""Spread of lightness within a box, L*, from which it is called streaky."""
_PATCHY = 0.06
"""Distance of cube roots between a part of a box and the whole from which it is called patchy: about 7 L*. On
sound pages of both simulators the 95th percentile is 0.02 to 0.03, the worst 0.05."""
_STEP_FROM, _STEP_DOUBT, _STEPPED = 0.05, 0.35, 0.12
"""Step of light across a box up to which it is taken to fall evenly, the share of the rest that is doubted, and
the step from which uneven light is spoken of. Sound pages: 0.05 at most."""
_UNEVEN = 0.035
"""How far paper may lean from a soft surface before a shadow's edge is spoken of, relative."""
_TINTED = 0.15
"""Log between the brightest and darkest channel of the paper, against its own colour, called tinted light."""
_TINT_FROM, _TINT_DOUBT = 0.1, 0.1
"""Under tinted light a sensor's channels can't be set by the paper one by one: relative doubt of each channel,
for every step of tint beyond the first."""


@dataclass(frozen=True)
class PageColours:
    """One page of one picture: its colours before they become readings."""

    spec: PageSpec
    report: PageReading
    colours: tuple[BoxColour, ...]
    lab: Floats
    uncertainty: Floats
    within: Floats
    flags: tuple[tuple[str, ...], ...]


def to_grey(picture: Picture) -> NDArray[np.uint8]:
    """Give a picture in grey, 8 bit, shape (h, w)."""
    import cv2

    pixels = picture.pixels if picture.pixels.dtype == np.uint8 else (picture.pixels >> 8).astype(np.uint8)
    return np.asarray(cv2.cvtColor(np.ascontiguousarray(pixels), cv2.COLOR_RGB2GRAY), dtype=np.uint8)


def read_picture_pages(
    picture: Picture,
    spec: ChartSpec,
    palette: Palette | None,
    paper: Lab | None,
    target: TargetSpec | None,
    setup: str,
) -> list[PageColours]:
    """Read every page of the chart that a picture shows.

    Args:
        picture: the picture.
        spec: the chart.
        palette: the drawer, for measured colours of anchor boxes, or None.
        paper: Lab of the paper, or None to assume a white card.
        target: a colour target in the picture, or None.
        setup: name of camera and light.

    Returns: one entry a page, the best seen first.
    Raises: SheetError for a picture without the chart's marks, or a page that can't be read well enough.
    """
    grey = to_grey(picture)
    marks = find_marks(grey)
    pages = find_pages(marks, spec.pages)
    _check_marks(picture, spec, marks, pages)
    well_seen = [page for page in pages if sum(mark.id in marks for mark in page.marks) >= 4]
    return [
        _read_page(picture, grey, marks, page, spec, palette, paper, target, setup)
        for page in well_seen or pages[:1]
    ]


def _check_marks(picture: Picture, spec: ChartSpec, marks: dict[int, Floats], pages: list[PageSpec]) -> None:
    """Refuse a picture without marks, or with those of other pages only."""
    if not marks:
        raise SheetError(
            f"{picture.name}: none of the square marks at the page's corners and sides could be found. "
            "Photograph the whole page, sharp, evenly lit, from straight above, filling most of the picture"
        )
    if not pages:
        seen = sorted({number // MARKS_A_PAGE + 1 for number in marks})
        known = ", ".join(str(page.page) for page in spec.pages)
        raise SheetError(
            f"{picture.name} shows marks of page {', '.join(map(str, seen))}, but the chart {spec.chart_id} "
            f"has only page {known}. Give the description file of the chart in the picture"
        )


def _read_page(
    picture: Picture,
    grey: NDArray[np.uint8],
    marks: dict[int, Floats],
    page: PageSpec,
    spec: ChartSpec,
    palette: Palette | None,
    paper: Lab | None,
    target: TargetSpec | None,
    setup: str,
) -> PageColours:
    try:
        fit = fit_page(marks, page, (picture.width_px, picture.height_px))
    except SheetError as error:
        raise SheetError(f"{picture.name}: {error.message}", error.problems) from error
    _check_in_picture(picture, fit)
    notes = list(_check_code(picture, grey, fit, spec))
    blur_mm = measure_blur_mm(grey, fit)
    if fit.px_per_mm < _LEAST_PX_PER_MM or blur_mm > _WIDEST_EDGE_MM:
        raise SheetError(
            f"{picture.name}: page {page.page} is too small or too blurred to read (edges {blur_mm:.1f} mm "
            f"wide, {fit.px_per_mm:.1f} pixels a millimetre). Hold still, focus on the page, go closer"
        )
    light = find_paper_light(picture, fit)
    if light is not None and light.mean.max() < _DARKEST_PAPER:
        raise SheetError(
            f"{picture.name}: the picture is under-exposed, the paper itself is nearly black. "
            "Photograph with more light"
        )
    colours = (
        measure_boxes(picture, fit, light)
        if light is not None
        else measure_spots(picture, fit, None, page.boxes)
    )
    if light is not None and (
        light.share < _LEAST_BARE or _brighter_than_paper(page, colours) > _MOST_BRIGHTER
    ):
        # what was taken for bare paper is darker than many boxes: the sheet was coloured between them too
        light = None
        colours = measure_spots(picture, fit, None, page.boxes)
    _check_exposure(picture, page, colours)
    _check_colourful(picture, page, colours)
    anchors, anchor_notes = _find_anchors(picture, fit, light, colours, page, palette, target)
    notes += anchor_notes
    correction = fit_correction(
        picture.encoding.matrix,
        paper_lab=paper,
        picture_paper=None if light is not None else np.ones(3),
        anchors=anchors,
        scanned=fit.looks_scanned,
    )
    if fit.marks_missing:
        notes.append(f"marks not found: {name_marks(fit.marks_missing)}")
    if len(fit.marks_found) == _FEWEST_MARKS and not fit.looks_scanned:
        notes.append(
            "only four marks were found, which can't tell a flat page from a curled one: check in the contact "
            "picture that every outline lies on its box"
        )
    if words := stretch_words(fit):
        notes.append(words)
    tint = np.zeros(len(colours)) if light is None else _tint(picture, colours, paper)
    if np.mean(tint > _TINTED) > _MOST_UNUSABLE:
        notes.append(
            "the paper looks tinted in this picture: daylight, or the camera's white balance set on the bare "
            "paper, gives surer readings; if the paper itself isn't white, give its colour"
        )
    return _colours_to_lab(picture, fit, light, colours, correction, blur_mm, setup, tuple(notes), tint)


def _tint(picture: Picture, colours: Sequence[BoxColour], paper: Lab | None) -> Floats:
    """How coloured the light on each box is: log of its paper's strongest over its weakest channel, (n,).

    The paper's own colour, known or assumed, is allowed for.
    """
    own = np.linalg.solve(picture.encoding.matrix, lab_to_xyz1(np.array(paper or ASSUMED_PAPER_LAB)))
    seen = np.array([colour.paper for colour in colours])
    return np.asarray(np.ptp(np.log(np.maximum(seen / own, 1e-4)), axis=1), dtype=np.float64)


def _brighter_than_paper(page: PageSpec, colours: Sequence[BoxColour]) -> float:
    """Share of boxes that are clearly brighter than what was taken for paper about them."""
    bright = [
        colour.relative.mean() > _BRIGHTEST
        for box, colour in zip(page.boxes, colours, strict=True)
        if box.kind != "paper"
    ]
    return float(np.mean(bright)) if bright else 0.0


def _check_in_picture(picture: Picture, fit: PageFit) -> None:
    """Refuse a page that reaches out of the picture where boxes to colour lie."""
    boxes = [box for box in fit.page.boxes if box.kind != "paper"]
    if not boxes:
        return
    sides = np.array([[0, 0], [1, 0], [1, 1], [0, 1]])
    corners = np.array([[box.x_mm, box.y_mm] for box in boxes])[:, None, :]
    corners = corners + sides * np.array([[box.w_mm, box.h_mm] for box in boxes])[:, None, :]
    px = fit.map(corners)
    beyond = np.any((px < 0) | (px > [picture.width_px - 1, picture.height_px - 1]), axis=(1, 2))
    out = [box for box, is_out in zip(boxes, beyond, strict=True) if is_out]
    if out:
        named = ", ".join(box.label for box in out[:4]) + (" …" if len(out) > 4 else "")
        raise SheetError(
            f"{picture.name}: page {fit.page.page} is cut off by the picture's edge; "
            f"{len(out)} of its boxes lie outside ({named}). Photograph the whole page"
        )


def _check_code(picture: Picture, grey: NDArray[np.uint8], fit: PageFit, spec: ChartSpec) -> tuple[str, ...]:
    """Read the page's QR code and refuse another chart's page."""
    if not fit.page.code:
        return ()
    x, y, w, h = fit.page.code_box_mm
    margin = 3.0
    crop = flatten(grey, fit, (x - margin, y - margin, w + 2 * margin, h + 2 * margin), 14.0)
    texts = read_codes(crop)
    if not texts:
        return (
            "the page's code could not be read, so nothing but the marks says that this is the chart "
            f"{spec.chart_id}; check a label or two",
        )
    if fit.page.code not in texts:
        raise SheetError(
            f"{picture.name} shows another chart: its code reads {texts[0]!r}, the description file is for "
            f"{fit.page.code!r}. Give the description file that was written beside this chart"
        )
    return ()


def _check_exposure(picture: Picture, page: PageSpec, colours: Sequence[BoxColour]) -> None:
    for name, hint in (("over_exposed", "less light or a lower exposure"), ("under_exposed", "more light")):
        boxes = [box for box, colour in zip(page.boxes, colours, strict=True) if getattr(colour, name)]
        if len(boxes) > _MOST_UNUSABLE * len(page.boxes):
            raise SheetError(
                f"{picture.name}: page {page.page} is {name.replace('_', '-')} ({len(boxes)} of "
                f"{len(page.boxes)} boxes). Photograph it with {hint}",
                [Problem(box.label, name.replace("_", "-"), hint) for box in boxes[:3]],
            )


def _check_colourful(picture: Picture, page: PageSpec, colours: Sequence[BoxColour]) -> None:
    """Refuse a picture without colour, where the chart expects some."""
    expected = [box.expected_lab for box in page.boxes if box.expected_lab is not None]
    colourful = [lab for lab in expected if np.hypot(lab[1], lab[2]) > _COLOURFUL]
    roots = np.cbrt(np.maximum([colour.relative for colour in colours], 0.0))
    if len(colourful) >= _COLOURFUL_BOXES and float(np.ptp(roots, axis=1).max()) < _GREY:
        raise SheetError(
            f"{picture.name} is grey: no box of page {page.page} has any colour, though {len(colourful)} should. "
            "Scan or photograph in colour, without a black-and-white setting"
        )


def _find_anchors(
    picture: Picture,
    fit: PageFit,
    light: PaperLight | None,
    colours: Sequence[BoxColour],
    page: PageSpec,
    palette: Palette | None,
    target: TargetSpec | None,
) -> tuple[Anchors | None, list[str]]:
    """Known colours in the picture: anchor boxes of this page, and the target."""
    relative: list[Floats] = []
    known: list[Floats] = []
    beside: list[bool] = []
    notes: list[str] = []
    empty = []
    for box, colour in zip(page.boxes, colours, strict=True):
        lab = _anchor_lab(box, palette)
        if lab is None:
            continue
        if _is_empty(colour) or colour.bare > 0.13 or colour.over_exposed or colour.under_exposed:
            empty.append(box.label)
            continue
        relative.append(colour.relative)
        known.append(lab)
        beside.append(False)
    if empty:
        notes.append(f"anchor boxes not used, since they are empty or not filled: {', '.join(empty)}")
    if target is not None:
        placed = find_target(picture, fit, light, target)
        notes += placed.notes
        relative += list(placed.relative)
        known += list(placed.lab)
        beside += [True] * len(placed.lab)
    if not known:
        return None, notes
    return Anchors(np.array(relative), np.array(known), np.array(beside)), notes


def _anchor_lab(box: BoxSpec, palette: Palette | None) -> Floats | None:
    """Known Lab of an anchor box: the palette's reading of its marker, else what its chart expected."""
    if box.kind != "anchor":
        return None
    if palette is not None and box.markers:
        try:
            return palette.marker(box.markers[0]).lab
        except PaletteError:
            pass
    return None if box.expected_lab is None else np.array(box.expected_lab)


def _is_empty(colour: BoxColour) -> bool:
    return colour.contrast < max(0.008, 1.2 * colour.noise) or colour.bare > 0.9


def _colours_to_lab(
    picture: Picture,
    fit: PageFit,
    light: PaperLight | None,
    colours: tuple[BoxColour, ...],
    correction: Correction,
    blur_mm: float,
    setup: str,
    notes: tuple[str, ...],
    tint: Floats,
) -> PageColours:
    relative = np.array([colour.relative for colour in colours])
    lab = correction.to_lab(relative)
    lab[:, 0] = np.clip(lab[:, 0], 0.0, 100.0)
    noise = np.array(
        [
            np.hypot(
                colour.scatter / 5 * (1 + 4 * colour.bare),
                0.25 * colour.light_doubt
                + 0.002
                + _TINT_DOUBT * max(0.0, tinted - _TINT_FROM)
                + _STEP_DOUBT * max(0.0, colour.step - _STEP_FROM),
            )
            for colour, tinted in zip(colours, tint, strict=True)
        ]
    )
    whole, within = correction.uncertainty(relative, noise)
    flags = []
    for box, colour, tinted in zip(fit.page.boxes, colours, tint, strict=True):
        here = []
        if box.kind != "paper" and light is not None and _is_empty(colour):
            here.append("empty")
        elif box.kind != "paper" and colour.bare > 0.13:
            here.append("half filled")
        if colour.over_exposed:
            here.append("over-exposed")
        if light is not None and box.kind != "paper" and colour.relative.mean() > _BRIGHTEST:
            here.append("brighter than paper")
        if colour.under_exposed:
            here.append("under-exposed")
        if colour.clipped:
            here.append("out of gamut")
        if colour.patchy > _PATCHY:
            here.append("patchy")
        if colour.light_edge > _UNEVEN or colour.step > _STEPPED:
            here.append("uneven light")
        if tinted > _TINTED:
            here.append("tinted light")
        # L* = 116 Y^(1/3) - 16, so a relative step s of light is 116 / 3 Y^(1/3) s
        if float((116 / 3 * np.cbrt(np.maximum(colour.relative, 0)) * colour.scatter).mean()) > _STREAKY:
            here.append("streaky")
        flags.append(tuple(here))
    wider = np.array(
        [1.5 if "half filled" in f or "out of gamut" in f or "uneven light" in f else 1.0 for f in flags]
    )
    report = PageReading(
        page=fit.page.page,
        picture=picture.name,
        marks_found=len(fit.marks_found),
        marks_missing=tuple(name_marks([number]) for number in fit.marks_missing),
        residual_mm=fit.residual_mm,
        doubt_mm=fit.doubt_mm,
        covered=fit.covered,
        curl_mm=fit.curl_mm,
        px_per_mm=fit.px_per_mm,
        blur_mm=blur_mm,
        paper_evenness=None if light is None else light.evenness,
        method=correction.method,
        correction=correction.words,
        lightness_only=correction.method == "lightness only",
        setup=setup,
        notes=notes,
        fit=fit,
        pixels=picture,
    )
    # a part that looks otherwise may be the ink, and the rest the mistake
    patches = 100 * np.maximum([colour.patchy - _PATCHY / 2 for colour in colours], 0.0)
    whole, within = np.hypot(whole * wider, patches), np.hypot(within * wider, patches)
    return PageColours(fit.page, report, colours, lab, whole, within, tuple(flags))
