"""Pictures of a plan's sheets: the line image, hatched shadows, places of the numbers, a key of each part."""

import io
import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from blendkit.plan.number_places import NumberGround, number_size_mm
from blendkit.plan.records import PlanPart, PlanRecord, Spot
from blendkit.project.records import Point
from blendkit.project.work import Work

SHADOW_TONE = 0.7
"""Tone from which a place is hatched: the middle of the blend from base to shadow."""

HIGHLIGHT_TONE = 0.14
"""Tone below which the paper is to be left."""

HATCH_MM = 1.15
HATCH_PER_MM = 8.0
LEAST_STROKE_MM = 0.7
CLEAR_LINE = 70
"""Line tone (of 255) above which nothing is hatched."""

SHEET_DPI = 400.0
KEY_PX = 300
KEY_SMALL, KEY_GROW_PX, KEY_RIM_PX = 0.006, 3, 6
"""Side of a key picture; share of it below which a part is shown larger than it is, by how much, with its rim."""

RING_MM = 2.3
LED_RING_MM = 2.3
BARE_SIZES_PT = (8.0, 7.0)
"""Rings around a number, within its area and beside it; sizes of a bare number, where no ring fits. On the page."""

STAGE_PX = 420
STAGES = ("outline", "base coat", "shadow", "blend", "highlight")
"""Pictures of the work after each of its stages, and their longer side."""

MOST_TAGS = 20
"""Numbers that one part gets at most within its areas; its largest areas have them."""

NEAR_MM = 11.0
LEAST_LED_MM2 = 2.0
"""A further area without a number gets a leader line when it is no smaller and farther from its part's numbers."""

Picture = NDArray[np.uint8]
Outline = tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class Tag:
    """A part's number on the drawing.

    Args:
        part: the part's number.
        x_mm, y_mm: middle of the number.
        radius_mm: of the ring around it; 0 for a bare number in a small area.
        end_mm: where a leader line ends in the area, or None.
        size_pt: of a bare number.
    """

    part: int
    x_mm: float
    y_mm: float
    radius_mm: float
    end_mm: Point | None = None
    size_pt: float = 0.0


@dataclass(frozen=True)
class PlanPictures:
    """What the sheets show besides words.

    Args:
        line_png: the line image, grey.
        preview_jpg: the coloured image.
        hatch: strokes over the shadows, in mm.
        highlights: outlines of the paper that is left, in mm.
        tags: the numbers.
        keys: for each part, by number, a small picture of the whole with that part coloured.
    """

    line_png: bytes = field(repr=False)
    preview_jpg: bytes = field(repr=False)
    hatch: tuple[Outline, ...] = field(repr=False)
    highlights: tuple[Outline, ...] = field(repr=False)
    tags: tuple[Tag, ...] = ()
    keys: dict[int, bytes] = field(repr=False, default_factory=dict)


def draw_pictures(record: PlanRecord, work: Work, preview: Picture) -> PlanPictures:
    """Draw what the sheets of a plan show.

    Args:
        record: the plan.
        work: the project at work.
        preview: the coloured image, sRGB, shape (h, w, 3).

    Returns: the pictures.
    """
    shaded = _shaded(record, work)
    return PlanPictures(
        line_png=encode_png(255 - work.regions.line, work.dpi),
        preview_jpg=_preview_jpg(preview, work.dpi),
        hatch=_hatch(work, shaded),
        highlights=_highlights(record, work),
        tags=place_tags(record.parts, work),
        keys=_keys(record, work, preview),
    )


def encode_png(picture: Picture, dpi: float) -> bytes:
    """Give a grey or RGB picture as a PNG file that states its scale."""
    from PIL import Image

    out = io.BytesIO()
    Image.fromarray(picture).save(out, "PNG", dpi=(dpi, dpi), compress_level=6)
    return out.getvalue()


def _preview_jpg(preview: Picture, dpi: float) -> bytes:
    from PIL import Image

    image = Image.fromarray(preview)
    if dpi > SHEET_DPI:
        size = round(image.width * SHEET_DPI / dpi), round(image.height * SHEET_DPI / dpi)
        image = image.resize(size, Image.Resampling.LANCZOS)
    out = io.BytesIO()
    image.save(out, "JPEG", quality=92, subsampling=0)
    return out.getvalue()


# ---------------------------------------------------------------- shadows and highlights


def _shaded(record: PlanRecord, work: Work) -> NDArray[np.bool_]:
    """For each area, whether it has a shadow to lay, shape (areas + 1,)."""
    shaded = np.zeros(len(work.regions.parts) + 1, bool)
    for part in record.parts:
        if part.how not in ("", "plain", "white"):
            shaded[[spot.area for spot in part.areas]] = True
    return shaded


def _hatch(work: Work, shaded: NDArray[np.bool_]) -> tuple[Outline, ...]:
    """Strokes at 45 degrees over every place in shadow, kept off the lines."""
    step = max(1, round(work.per_mm / HATCH_PER_MM))
    tone = work.shades.tone[::step, ::step]
    clear = work.regions.line[::step, ::step] < CLEAR_LINE
    mask = (tone > SHADOW_TONE) & clear & shaded[work.regions.labels[::step, ::step]]
    per_mm = work.per_mm / step
    pitch = max(2, round(HATCH_MM * math.sqrt(2) * per_mm))
    least = LEAST_STROKE_MM / math.sqrt(2) * per_mm
    height, width = mask.shape
    strokes: list[Outline] = []
    flipped = mask[:, ::-1]
    for offset in range(-height + 1, width, pitch):
        run = np.concatenate([[False], np.diagonal(flipped, offset), [False]])
        edges = np.flatnonzero(run[1:] != run[:-1])
        for start, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
            if end - start < least:
                continue
            y = max(0, -offset) + start
            x = width - 1 - (max(0, offset) + start)
            length = end - start - 1
            strokes.append(
                ((_mm(x, per_mm), _mm(y, per_mm)), (_mm(x - length, per_mm), _mm(y + length, per_mm)))
            )
    return tuple(strokes)


def _mm(px: float, per_mm: float) -> float:
    return round((px + 0.5) / per_mm, 2)


def _highlights(record: PlanRecord, work: Work) -> tuple[Outline, ...]:
    """Outlines of what is left as paper toward the light."""
    from skimage.measure import approximate_polygon, find_contours

    left = np.zeros(len(work.regions.parts) + 1, bool)
    for part, own in zip(record.parts, work.project.parts, strict=True):
        if part.base is not None and own.left_toward_light == "paper":
            left[[spot.area for spot in part.areas]] = True
    step = max(1, round(work.per_mm / HATCH_PER_MM))
    tone = work.shades.tone[::step, ::step]
    tone = np.where(left[work.regions.labels[::step, ::step]], tone, 1.0)
    per_mm = work.per_mm / step
    outlines: list[Outline] = []
    for contour in find_contours(np.pad(tone, 1, constant_values=1.0), HIGHLIGHT_TONE):  # type: ignore[no-untyped-call]
        places = (np.asarray(contour) - 1 + 0.5) / per_mm
        y, x = places.T
        if 0.5 * abs(float(x @ np.roll(y, 1) - y @ np.roll(x, 1))) < 0.8:  # mm²: nobody leaves less
            continue
        points = approximate_polygon(places, 0.04)  # type: ignore[no-untyped-call]
        outlines.append(tuple((round(float(x), 2), round(float(y), 2)) for y, x in points))
    return tuple(outlines)


# ---------------------------------------------------------------- numbers


def place_tags(parts: Sequence[PlanPart], work: Work) -> tuple[Tag, ...]:
    """Place every part's number: within its larger areas, or beside a small one with a leader line.

    A part that has no number yet, and its areas far from every number of it, get one beside them.
    """
    ground = NumberGround(work.regions.labels, work.regions.line, work.per_mm)
    tags: list[Tag] = []
    small: list[tuple[int, Spot, list[Spot]]] = []
    spots = [
        (spot, part.number) for part in parts if part.how != "white" for spot in part.areas
    ]  # fmt: skip
    numbered: dict[int, list[Spot]] = {}
    for spot, number in sorted(spots, key=lambda pair: -pair[0].area_mm2):
        near = numbered.setdefault(number, [])
        sizes = [(2 * RING_MM, 2 * RING_MM), *(number_size_mm(str(number), size) for size in BARE_SIZES_PT)]
        place = ground.within(spot.area, sizes) if len(near) < MOST_TAGS else None
        if place is None:
            small.append((number, spot, near))
            continue
        near.append(spot)
        ring, size_pt = (RING_MM, 0.0) if place.size == 0 else (0.0, BARE_SIZES_PT[place.size - 1])
        tags.append(Tag(number, place.x_mm, place.y_mm, ring, size_pt=size_pt))
    for number, spot, near in small:
        if near and (spot.area_mm2 < LEAST_LED_MM2 or _distance(spot, near) < NEAR_MM):
            continue
        near.append(spot)
        place = ground.beside(spot.area, (2 * LED_RING_MM, 2 * LED_RING_MM))
        tags.append(Tag(number, place.x_mm, place.y_mm, LED_RING_MM, place.end_mm))
    return tuple(tags)


def _distance(spot: Spot, others: Sequence[Spot]) -> float:
    return min(math.hypot(spot.x_mm - other.x_mm, spot.y_mm - other.y_mm) for other in others)


# ---------------------------------------------------------------- keys


def _keys(record: PlanRecord, work: Work, preview: Picture) -> dict[int, bytes]:
    """Small pictures, each of the whole drawing in grey lines with one part in its colours."""
    import cv2

    height, width = work.regions.line.shape
    scale = KEY_PX / max(height, width)
    size = max(1, round(width * scale)), max(1, round(height * scale))
    line = cv2.resize(work.regions.line, size, interpolation=cv2.INTER_AREA).astype(np.float32) / 255
    colour = cv2.resize(preview, size, interpolation=cv2.INTER_AREA).astype(np.float32)
    labels = cv2.resize(work.regions.labels, size, interpolation=cv2.INTER_NEAREST)
    part_of = work.part_of()[labels]
    ground = 255 - (255 - 176) * line[..., None] * np.ones(3, np.float32)
    keys: dict[int, bytes] = {}
    for part in record.parts:
        mask = part_of == part.number
        picture = np.where(mask[..., None], colour, ground).astype(np.float32)
        if mask.any() and mask.mean() < KEY_SMALL:
            # a small part is shown larger than it is, on a white rim, so that the eye finds it
            own = colour[mask].mean(axis=0)
            for grown, fill in ((KEY_RIM_PX, np.full(3, 255, np.float32)), (KEY_GROW_PX, own)):
                round_ = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * grown + 1, 2 * grown + 1))
                wide = cv2.dilate(mask.astype(np.uint8), round_) > 0
                picture = np.where(wide[..., None], fill, picture).astype(np.float32)
        keys[part.number] = encode_png(np.asarray(np.round(picture), np.uint8), 300)
    return keys
