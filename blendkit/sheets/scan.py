"""A coloured chart's photos or scans become measurements: Lab of every box, and how far it can be trusted.

:func:`read_scan` joins the steps: :mod:`blendkit.sheets.find_page` places the page in the picture,
:mod:`blendkit.sheets.box_colour` evens the light and reads the boxes, :mod:`blendkit.sheets.correct_colour`
puts the colour right by what the picture holds. Nothing is written; a picture that can't be trusted is
refused in a sentence.

A camera is no spectrophotometer. Two devices differ by about 3.5 CIEDE2000 on the same sheet, but what one
device gets wrong it gets wrong alike for like colours: each reading therefore has two figures, its whole
uncertainty and the smaller one for comparing colours read together.
"""

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

from blendkit.colour import delta_e_2000
from blendkit.errors import PaletteError, Problem, SheetError
from blendkit.palette import Palette
from blendkit.picture import Picture, read_picture
from blendkit.sheets.box_colour import BoxColour, PaperLight, find_paper_light, measure_boxes, measure_spots
from blendkit.sheets.chart_file import BoxSpec, ChartSpec, PageSpec, read_chart_file
from blendkit.sheets.chart_layout import marks_on_page
from blendkit.sheets.correct_colour import Anchors, Correction, fit_correction
from blendkit.sheets.find_page import (
    MARKS_A_PAGE,
    PageFit,
    find_marks,
    find_pages,
    fit_page,
    measure_blur_mm,
    name_marks,
)
from blendkit.sheets.page import PAGE_SIZES_MM
from blendkit.sheets.scan_record import FLAG_WORDS, BoxReading, Lab, PageReading, ScanRecord, as_lab
from blendkit.sheets.target import TargetSpec, find_target, read_target_file

__all__ = ["read_scan"]

Floats = NDArray[np.float64]
Source = str | os.PathLike[str] | bytes | Picture

_LEAST_PX_PER_MM = 1.6
_WIDEST_EDGE_MM = 1.7
"""Edges wider than this reach from outside into the read part of the smallest boxes."""
_DARKEST_PAPER = 0.05
_MOST_UNUSABLE = 0.5
_MOST_APART = 5.0
"""Median CIEDE2000 between two pictures of one page above which they don't show the same page."""
_NOTED_APART = 2.0
_STREAKY = 5.0
"""Spread of lightness within a box, L*, from which it is called streaky."""
_UNEVEN = 0.035


@dataclass(frozen=True)
class _PageColours:
    """One page of one picture: its colours before they become readings."""

    spec: PageSpec
    report: PageReading
    colours: tuple[BoxColour, ...]
    lab: Floats
    uncertainty: Floats
    within: Floats
    flags: tuple[tuple[str, ...], ...]


def read_scan(
    images: Source | Sequence[Source],
    chart: ChartSpec | Palette | str | os.PathLike[str] | None = None,
    *,
    palette: Palette | None = None,
    paper_lab: ArrayLike | None = None,
    target: TargetSpec | str | os.PathLike[str] | None = None,
    setup: str = "",
    progress: Callable[[str], None] | None = None,
) -> ScanRecord:
    """Read the boxes of a coloured chart from photos or scans of its pages.

    Args:
        images: picture files, their bytes, or pictures already read; each may show any page of the chart.
        chart: the chart's description, or the path of its description file. Without it, or with the palette
            that the chart was made from, the description is rebuilt from the codes on the pages.
        palette: the drawer; gives the paper's colour when it holds the chart's paper, and the measured
            colours of anchor boxes.
        paper_lab: Lab (D50 / 2 degree) of the paper; None takes the palette's, or a white card.
        target: a colour target that lies in every picture, or the path of its file
            (:mod:`blendkit.sheets.target`).
        setup: a name for this camera and light, kept with the readings.
        progress: told in a few words what is being done, once for every picture.

    Returns: the readings, the pages they came from, and notes.
    Raises: PictureError for what is no picture; SheetError for a chart that can't be found in it or read well
        enough, each with what to do about it.
    """
    if isinstance(chart, Palette) and palette is None:
        palette = chart
    card = target if isinstance(target, TargetSpec) or target is None else read_target_file(Path(target))
    sources = [images] if isinstance(images, str | os.PathLike | bytes | Picture) else list(images)
    if not sources:
        raise SheetError("no picture was given; give at least one photo or scan of the coloured chart")
    if isinstance(chart, ChartSpec):
        spec = chart
    elif chart is None or isinstance(chart, Palette):
        pictures = [source if isinstance(source, Picture) else read_picture(source) for source in sources]
        spec = _rebuild(pictures, chart)
        sources = list(pictures)
    else:
        spec = read_chart_file(Path(chart))
    paper = _paper_lab(spec, palette, paper_lab)
    setup = setup.strip() or "unnamed set-up"
    parts: list[_PageColours] = []
    for number, source in enumerate(sources, 1):
        picture = source if isinstance(source, Picture) else read_picture(source)
        if progress is not None:
            progress(f"reading {picture.name} ({number} of {len(sources)})")
        parts += _read_picture_pages(picture, spec, palette, paper, card, setup)
    return _join(spec, parts, setup, paper_known=paper is not None)


def _rebuild(pictures: Sequence[Picture], palette: Palette | None) -> ChartSpec:
    """Give the chart's description from the codes that its pages carry."""
    from blendkit.sheets.chart import rebuild_chart

    codes: dict[str, None] = {}
    for picture in pictures:
        found = [text for text in _find_codes(_grey(picture)) if text.startswith("BK1:")]
        if not found:
            raise SheetError(
                f"{picture.name}: the page's code could not be read, so it can't be told which chart this is. "
                "Give the description file that was written beside the chart, or a sharper picture"
            )
        codes.update(dict.fromkeys(found))
    return rebuild_chart(tuple(codes), palette)


def _find_codes(grey: NDArray[np.uint8]) -> list[str]:
    """Texts of the QR codes in a picture: as it is, else with each page of marks seen laid flat and enlarged."""
    texts = _read_codes(grey)
    if texts:
        return texts
    marks = find_marks(grey)
    per_mm = 12.0
    for number in sorted({mark // MARKS_A_PAGE + 1 for mark in marks}):
        for width, height in PAGE_SIZES_MM.values():
            for size in ((width, height), (height, width)):
                page = PageSpec(number, size, "", (0.0, 0.0, 1.0, 1.0), marks_on_page(number, size), ())
                try:
                    fit = fit_page(marks, page, (grey.shape[1], grey.shape[0]), forgive=False)
                except SheetError:
                    continue
                texts += _read_codes(_flatten(grey, fit, (0.0, 0.0, size[0], 60.0), per_mm))
    return texts


def _read_codes(grey: NDArray[np.uint8]) -> list[str]:
    import zxingcpp

    kinds = zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode)
    return [code.text for code in zxingcpp.read_barcodes(grey, formats=kinds)]


def _flatten(
    grey: NDArray[np.uint8], fit: PageFit, part_mm: tuple[float, float, float, float], per_mm: float
) -> NDArray[np.uint8]:
    """A part of the page (x, y, width, height) seen flat from above."""
    import cv2

    x, y, w, h = part_mm
    xs, ys = np.meshgrid(
        x + (np.arange(round(w * per_mm)) + 0.5) / per_mm, y + (np.arange(round(h * per_mm)) + 0.5) / per_mm
    )
    px = fit.map(np.stack([xs, ys], axis=-1)).astype(np.float32)
    flat = cv2.remap(grey, px[..., 0], px[..., 1], cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(flat, dtype=np.uint8)


def _paper_lab(spec: ChartSpec, palette: Palette | None, given: ArrayLike | None) -> Lab | None:
    """Lab of the paper: as given, else as the palette has the chart's paper, else unknown."""
    if given is not None:
        lab = np.asarray(given, dtype=np.float64)
        if lab.shape != (3,) or not np.all(np.isfinite(lab)) or not 10 <= lab[0] <= 101:
            raise SheetError(f"the paper's Lab must be three numbers, L from 10 to 101, not {given!r}")
        return as_lab(lab)
    if palette is not None and spec.paper:
        try:
            return as_lab(palette.paper(spec.paper).lab)
        except PaletteError:
            return None
    return None


def _grey(picture: Picture) -> NDArray[np.uint8]:
    import cv2

    pixels = picture.pixels if picture.pixels.dtype == np.uint8 else (picture.pixels >> 8).astype(np.uint8)
    return np.asarray(cv2.cvtColor(np.ascontiguousarray(pixels), cv2.COLOR_RGB2GRAY), dtype=np.uint8)


def _read_picture_pages(
    picture: Picture,
    spec: ChartSpec,
    palette: Palette | None,
    paper: Lab | None,
    target: TargetSpec | None,
    setup: str,
) -> list[_PageColours]:
    grey = _grey(picture)
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
) -> _PageColours:
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
    if light is not None and _brighter_than_paper(colours) > 0.25:
        # what was taken for bare paper is darker than many boxes: the sheet was coloured between them too
        light = None
        colours = measure_spots(picture, fit, None, page.boxes)
    _check_exposure(picture, page, colours)
    anchors, anchor_notes = _find_anchors(picture, fit, light, colours, page, palette, target)
    notes += anchor_notes
    correction = fit_correction(
        picture.encoding.matrix,
        paper_lab=paper,
        picture_paper=None if light is not None else np.ones(3),
        anchors=anchors,
    )
    if fit.marks_missing:
        notes.append(f"marks not found: {name_marks(fit.marks_missing)}")
    return _colours_to_lab(picture, fit, light, colours, correction, blur_mm, setup, tuple(notes))


def _brighter_than_paper(colours: Sequence[BoxColour]) -> float:
    """Share of boxes that are clearly brighter than what was taken for paper about them."""
    return float(np.mean([colour.relative.mean() > 1.1 for colour in colours])) if colours else 0.0


def _check_in_picture(picture: Picture, fit: PageFit) -> None:
    """Refuse a page that reaches out of the picture where boxes lie."""
    boxes = fit.page.boxes
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
    crop = _flatten(grey, fit, (x - margin, y - margin, w + 2 * margin, h + 2 * margin), 14.0)
    texts = _read_codes(crop)
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
) -> _PageColours:
    relative = np.array([colour.relative for colour in colours])
    lab = correction.to_lab(relative)
    noise = np.array(
        [
            np.hypot(colour.scatter / 5 * (1 + 4 * colour.bare), 0.25 * colour.light_doubt + 0.002)
            for colour in colours
        ]
    )
    whole, within = correction.uncertainty(relative, noise)
    flags = []
    for box, colour in zip(fit.page.boxes, colours, strict=True):
        here = []
        if box.kind != "paper" and light is not None and _is_empty(colour):
            here.append("empty")
        elif box.kind != "paper" and colour.bare > 0.13:
            here.append("half filled")
        if colour.over_exposed:
            here.append("over-exposed")
        if colour.under_exposed:
            here.append("under-exposed")
        if colour.clipped:
            here.append("out of gamut")
        if colour.light_doubt > _UNEVEN:
            here.append("uneven light")
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
    return _PageColours(fit.page, report, colours, lab, whole * wider, within * wider, tuple(flags))


def _join(spec: ChartSpec, parts: list[_PageColours], setup: str, *, paper_known: bool) -> ScanRecord:
    """One record of all pages; pictures of one page are compared, then averaged."""
    notes: list[str] = []
    readings: list[BoxReading] = []
    for page in spec.pages:
        same = [part for part in parts if part.spec.page == page.page]
        if not same:
            continue
        if len(same) > 1:
            notes += _compare(same)
        readings += [_reading(page, box, index, same) for index, box in enumerate(page.boxes)]
    seen = {part.spec.page for part in parts}
    missing = tuple(page.page for page in spec.pages if page.page not in seen)
    if missing:
        notes.append(f"no picture shows page {', '.join(map(str, missing))} of {len(spec.pages)}")
    if not paper_known:
        notes.append(
            "the paper's own colour isn't known, so a white card was assumed; measure the paper, or name it in "
            "the palette, for surer readings"
        )
    notes.append(
        "a camera or scanner is no spectrophotometer: compare colours read together by the smaller figure, and "
        "colours of another set-up only by the larger one"
    )
    return ScanRecord(
        chart_id=spec.chart_id,
        title=spec.title,
        setup=setup,
        readings=tuple(readings),
        pages=tuple(part.report for part in parts),
        pages_missing=missing,
        notes=tuple(notes),
    )


def _filled(part: _PageColours) -> NDArray[np.bool_]:
    bad = ("empty", "over-exposed", "under-exposed")
    return np.array(
        [
            box.kind != "paper" and not any(flag in bad for flag in flags)
            for box, flags in zip(part.spec.boxes, part.flags, strict=True)
        ]
    )


def _compare(same: Sequence[_PageColours]) -> list[str]:
    """Refuse pictures of one page that show different things; say how far they differ."""
    notes = []
    first = same[0]
    for other in same[1:]:
        names = f"{first.report.picture} and {other.report.picture}"
        both = _filled(first) & _filled(other)
        colourable = np.array([box.kind != "paper" for box in first.spec.boxes])
        differ = np.array(
            [("empty" in a) != ("empty" in b) for a, b in zip(first.flags, other.flags, strict=True)]
        )
        apart = delta_e_2000(first.lab[both], other.lab[both]) if both.any() else np.zeros(1)
        median = float(np.median(apart))
        far = float(np.mean(apart > 12.0))
        if median > _MOST_APART or far > 0.1 or differ.sum() > max(2.0, 0.05 * colourable.sum()):
            raise SheetError(
                f"{names} show page {first.spec.page} differently (median {median:.1f} CIEDE2000 apart, "
                f"{int(differ.sum())} boxes coloured in one only). Give pictures of the same sheet under the "
                "same light, or read them one at a time"
            )
        if median > _NOTED_APART:
            notes.append(
                f"{names} differ by {median:.1f} CIEDE2000 in the middle: they look like two set-ups; their mean "
                "was taken, but better read them one at a time"
            )
    return notes


def _reading(page: PageSpec, box: BoxSpec, index: int, same: Sequence[_PageColours]) -> BoxReading:
    """One box from all pictures of its page."""
    usable = [part for part in same if box.kind == "paper" or _filled(part)[index]]
    used = usable or list(same)
    flags = tuple(flag for flag in FLAG_WORDS if any(flag in part.flags[index] for part in used))
    if not usable:
        return BoxReading(
            page.page, box.label, box.kind, box.markers, box.coats, box.ratio, None, None, None,
            box.expected_lab, None, flags, _words(flags),
        )  # fmt: skip
    weight = np.array([1 / part.uncertainty[index] ** 2 for part in usable])
    lab = (np.array([part.lab[index] for part in usable]) * weight[:, None]).sum(axis=0) / weight.sum()
    spread = max((float(delta_e_2000(lab, part.lab[index])) for part in usable), default=0.0)
    expected = None if box.expected_lab is None else float(delta_e_2000(np.array(box.expected_lab), lab))
    return BoxReading(
        page=page.page,
        label=box.label,
        kind=box.kind,
        markers=box.markers,
        coats=box.coats,
        ratio=box.ratio,
        lab=as_lab(lab),
        uncertainty=max(spread, min(float(part.uncertainty[index]) for part in usable)),
        within_setup=max(spread, min(float(part.within[index]) for part in usable)),
        expected_lab=box.expected_lab,
        delta_e_2000=expected,
        flags=flags,
        words=_words(flags),
    )


def _words(flags: Sequence[str]) -> str:
    return "; ".join(FLAG_WORDS[flag] for flag in flags)
