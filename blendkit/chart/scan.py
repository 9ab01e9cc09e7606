"""A coloured chart's photos or scans become measurements: Lab of every box, and how far it can be trusted.

:func:`read_scan` joins the steps: :mod:`blendkit.chart.find_page` places the page in the picture,
:mod:`blendkit.chart.box_colour` evens the light and reads the boxes, :mod:`blendkit.chart.correct_colour`
puts the colour right by what the picture holds. Nothing is written; a picture that can't be trusted is
refused in a sentence.

A camera is no spectrophotometer. Two devices differ by about 3.5 CIEDE2000 on the same sheet, but what one
device gets wrong it gets wrong alike for like colours: each reading therefore has two figures, its whole
uncertainty and the smaller one for comparing colours read together.
"""

import os
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

from blendkit.chart.code import VERSIONS
from blendkit.chart.description import BoxSpec, ChartSpec, PageSpec, read_chart_file
from blendkit.chart.page_code import find_codes
from blendkit.chart.plausible import judge
from blendkit.chart.scan_page import PageColours, read_picture_pages, to_grey
from blendkit.chart.scan_record import UNUSABLE, BoxReading, Lab, ScanRecord, as_lab
from blendkit.chart.target import TargetSpec, read_target_file
from blendkit.colour import delta_e_2000
from blendkit.errors import PaletteError, SheetError
from blendkit.palette import Palette
from blendkit.picture import Picture, read_picture
from blendkit.words import FLAG_WORDS, Progress, flag_words

Floats = NDArray[np.float64]
Source = str | os.PathLike[str] | bytes | Picture

_MOST_APART = 5.0
"""Median CIEDE2000 between two pictures of one page above which they don't show the same page."""
_NOTED_APART = 2.0
"""The same above which it is noted. Both are own judgement."""


def read_scan(
    images: Source | Sequence[Source],
    chart: ChartSpec | Palette | str | os.PathLike[str] | None = None,
    *,
    palette: Palette | None = None,
    paper_lab: ArrayLike | None = None,
    target: TargetSpec | str | os.PathLike[str] | None = None,
    setup: str = "",
    progress: Progress | None = None,
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
            (:mod:`blendkit.chart.target`).
        setup: a name for this camera and light, kept with the readings.
        progress: told each picture before it is read.

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
    parts: list[PageColours] = []
    for number, source in enumerate(sources, 1):
        picture = source if isinstance(source, Picture) else read_picture(source)
        if progress is not None:
            progress((number - 1) / len(sources), "open", picture.name)
        parts += read_picture_pages(picture, spec, palette, paper, card, setup)
    return judge(_join(spec, parts, setup, paper_known=paper is not None))


def _rebuild(pictures: Sequence[Picture], palette: Palette | None) -> ChartSpec:
    """Give the chart's description from the codes that its pages carry."""
    from blendkit.chart.chart import rebuild_chart

    codes: dict[str, None] = {}
    for picture in pictures:
        found = [text for text in find_codes(to_grey(picture)) if text.startswith(VERSIONS)]
        if not found:
            raise SheetError(
                f"{picture.name}: the page's code could not be read, so it can't be told which chart this is. "
                "Give the description file that was written beside the chart, or a sharper picture"
            )
        codes.update(dict.fromkeys(found))
    return rebuild_chart(tuple(codes), palette)


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


def _join(spec: ChartSpec, parts: list[PageColours], setup: str, *, paper_known: bool) -> ScanRecord:
    """One record of all pages; pictures of one page are compared, then averaged."""
    notes: list[str] = []
    readings: list[BoxReading] = []
    for page in spec.pages:
        same = [part for part in parts if part.spec.page == page.page]
        if not same:
            continue
        if len(same) > 1:
            notes += _compare(same)
        filled = [_filled(part) for part in same]
        readings += [_reading(page, box, index, same, filled) for index, box in enumerate(page.boxes)]
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
        paper=spec.paper,
        setup=setup,
        readings=tuple(readings),
        pages=tuple(part.report for part in parts),
        pages_missing=missing,
        notes=tuple(notes),
    )


def _filled(part: PageColours) -> NDArray[np.bool_]:
    return np.array(
        [
            box.kind != "paper" and not UNUSABLE.intersection(flags)
            for box, flags in zip(part.spec.boxes, part.flags, strict=True)
        ]
    )


def _compare(same: Sequence[PageColours]) -> list[str]:
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


def _reading(
    page: PageSpec,
    box: BoxSpec,
    index: int,
    same: Sequence[PageColours],
    filled: Sequence[NDArray[np.bool_]],
) -> BoxReading:
    """One box from all pictures of its page."""
    usable = [part for part, has in zip(same, filled, strict=True) if box.kind == "paper" or has[index]]
    used = usable or list(same)
    flags = tuple(flag for flag in FLAG_WORDS if any(flag in part.flags[index] for part in used))
    if not usable:
        return BoxReading(
            page.page, box.label, box.kind, box.markers, box.coats, box.ratio, None, None, None,
            box.expected_lab, None, flags, flag_words(flags),
        )  # fmt: skip
    weight = np.array([1 / part.uncertainty[index] ** 2 for part in usable])
    lab = (np.array([part.lab[index] for part in usable]) * weight[:, None]).sum(axis=0) / weight.sum()
    spread = 0.0
    if len(usable) > 1:
        spread = max(float(delta_e_2000(lab, part.lab[index])) for part in usable)
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
        words=flag_words(flags),
    )
