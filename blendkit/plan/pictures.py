"""Pictures of a plan's sheets: the line image, hatched shadows, places of the numbers, a key of each part."""

import io
import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from blendkit.advice.order import FADE
from blendkit.art.shading import LEFT_WHITE, STRUCK
from blendkit.inked import Inked
from blendkit.plan.number_places import NumberGround, number_size_mm
from blendkit.plan.records import NumberedArea, PlanPart, PlanRecord
from blendkit.plan.stages import draw_stages
from blendkit.project.part_colours import PartColours
from blendkit.project.records import Point
from blendkit.project.work import Work

HATCH_MM = 1.15
HATCH_PER_MM = 8.0
LEAST_STROKE_MM = 0.7
CLEAR_LINE = 70
"""Line tone (of 255) above which nothing is hatched."""

SHEET_DPI = 400.0
PREVIEW_DPI = 220.0
"""Scale of the pictures on sheets: lines as sharp as a printer prints them, soft colours less. Own judgement."""
SHADOW_DPI = 250.0
"""Scale of the picture of shadows: flat colours need no more."""

RING_MM = 2.3
LED_RING_MM = 2.3
BARE_SIZES_PT = (8.0, 7.0)
"""Rings around a number, within its area and beside it; sizes of a bare one. On the page."""

STAGE_PX = 420
"""Longer side of a stage's picture on a sheet, which is some 35 mm there."""

MOST_TAGS = 12
"""Numbers that one part gets at most within its areas; its largest areas have them."""

MOST_LED = 3
NEAR_MM = 16.0
LEAST_LED_MM2 = 2.0
"""A further area without a number gets a leader line when it is no smaller and farther from its part's numbers,
and its part has fewer such lines."""

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
        shadow_png: the line image with every shadow in its one colour.
        hatch: strokes over the shadows, in mm; those that other parts cast are closer.
        highlights: outlines of the paper that is left, in mm.
        stages: the work after each of ``stages.STAGES``, small.
        work: the project at work, for the places of numbers.
    """

    line_png: bytes = field(repr=False)
    preview_jpg: bytes = field(repr=False)
    shadow_png: bytes = field(repr=False)
    hatch: tuple[Outline, ...] = field(repr=False)
    highlights: tuple[Outline, ...] = field(repr=False)
    stages: tuple[bytes, ...] = field(repr=False)
    work: Work = field(repr=False)


def draw_pictures(
    record: PlanRecord, work: Work, preview: Picture, colours: Sequence[PartColours], inked: Inked
) -> PlanPictures:
    """Draw what the sheets of a plan show.

    Args:
        record: the plan.
        work: the project at work.
        preview: the coloured image, sRGB, shape (h, w, 3).
        colours: the parts' colours.
        inked: the drawer on the project's paper.

    Returns: the pictures.
    """
    shaded = _shaded(record, work)
    return PlanPictures(
        line_png=_line_png(work),
        preview_jpg=_preview_jpg(preview, work.dpi),
        shadow_png=_shadow_png(record, work, shaded),
        hatch=_hatch(work, shaded),
        highlights=_highlights(record, work),
        stages=tuple(_jpg(_smaller(one.picture)) for one in draw_stages(work, colours, inked)),
        work=work,
    )


def _line_png(work: Work) -> bytes:
    """The line image in at most 16 greys at the sheets' scale: small, and as sharp as a printer prints."""
    import cv2

    line, dpi = work.regions.line, work.dpi
    if dpi > SHEET_DPI:
        size = round(line.shape[1] * SHEET_DPI / dpi), round(line.shape[0] * SHEET_DPI / dpi)
        line, dpi = np.asarray(cv2.resize(line, size, interpolation=cv2.INTER_AREA)), SHEET_DPI
    return encode_png(np.asarray(255 - (line // 17) * 17, np.uint8), dpi)


def _shadow_png(record: PlanRecord, work: Work, shaded: NDArray[np.bool_]) -> bytes:
    """The line image over white, every shadow in the one colour that it ends in."""
    import cv2

    scale = min(1.0, SHADOW_DPI / work.dpi)
    size = tuple(max(1, round(side * scale)) for side in work.regions.size_px)
    line = cv2.resize(work.regions.line, size, interpolation=cv2.INTER_AREA)[..., None] / 255.0
    labels = cv2.resize(work.regions.labels, size, interpolation=cv2.INTER_NEAREST)
    tone = cv2.resize(work.shades.tone, size, interpolation=cv2.INTER_AREA)
    colours = np.full((len(work.regions.parts) + 1, 3), 255.0)
    for part in record.parts:
        if part.strip:
            code = part.strip[-1].hex.lstrip("#")
            colours[[spot.area for spot in part.areas]] = [int(code[k : k + 2], 16) for k in (0, 2, 4)]
    laid = (tone > STRUCK) & shaded[labels]
    picture = np.where(laid[..., None], colours[labels], 255.0) * (1 - line) + 30 * line
    from PIL import Image

    out = io.BytesIO()
    few = Image.fromarray(np.asarray(np.round(picture), np.uint8)).quantize(128, dither=Image.Dither.NONE)
    few.save(out, "PNG", optimize=True)
    return out.getvalue()


def encode_png(picture: Picture, dpi: float) -> bytes:
    """Give a grey or RGB picture as a PNG file that states its scale."""
    from PIL import Image

    out = io.BytesIO()
    Image.fromarray(picture).save(out, "PNG", dpi=(dpi, dpi), compress_level=6)
    return out.getvalue()


def _preview_jpg(preview: Picture, dpi: float) -> bytes:
    import cv2

    if dpi > PREVIEW_DPI:
        size = round(preview.shape[1] * PREVIEW_DPI / dpi), round(preview.shape[0] * PREVIEW_DPI / dpi)
        preview = np.asarray(cv2.resize(preview, size, interpolation=cv2.INTER_AREA))
    return _jpg(preview)


def _jpg(picture: Picture) -> bytes:
    from PIL import Image

    out = io.BytesIO()
    Image.fromarray(picture).save(out, "JPEG", quality=88, subsampling=0)
    return out.getvalue()


def _smaller(picture: Picture) -> Picture:
    import cv2

    scale = min(1.0, STAGE_PX / max(picture.shape[:2]))
    size = round(picture.shape[1] * scale), round(picture.shape[0] * scale)
    return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), np.uint8)


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
    mask = (tone > STRUCK) & clear & shaded[work.regions.labels[::step, ::step]]
    cast = mask & (work.shades.cast[::step, ::step] > 0.5)
    per_mm = work.per_mm / step
    pitch = max(4, 2 * round(HATCH_MM / math.sqrt(2) * per_mm))
    return (*_strokes(mask, per_mm, pitch, 0), *_strokes(cast, per_mm, pitch, pitch // 2))


def _strokes(mask: NDArray[np.bool_], per_mm: float, pitch: int, start_at: int) -> tuple[Outline, ...]:
    """Strokes at 45 degrees over a mask, every *pitch* pixels."""
    least = LEAST_STROKE_MM / math.sqrt(2) * per_mm
    height, width = mask.shape
    strokes: list[Outline] = []
    flipped = mask[:, ::-1]
    for offset in range(-height + 1 + start_at, width, pitch):
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
        if part.base is not None and own.left_toward_light in ("paper", FADE):
            left[[spot.area for spot in part.areas]] = True
    step = max(1, round(work.per_mm / HATCH_PER_MM))
    tone = work.shades.tone[::step, ::step]
    tone = np.where(left[work.regions.labels[::step, ::step]], tone, 1.0)
    per_mm = work.per_mm / step
    outlines: list[Outline] = []
    for contour in find_contours(np.pad(tone, 1, constant_values=1.0), LEFT_WHITE):  # type: ignore[no-untyped-call]
        places = (np.asarray(contour) - 1 + 0.5) / per_mm
        y, x = places.T
        if 0.5 * abs(float(x @ np.roll(y, 1) - y @ np.roll(x, 1))) < 0.8:  # mm²: nobody leaves less
            continue
        points = approximate_polygon(places, 0.04)  # type: ignore[no-untyped-call]
        outlines.append(tuple((round(float(x), 2), round(float(y), 2)) for y, x in points))
    return tuple(outlines)


# ---------------------------------------------------------------- numbers


def place_tags(parts: Sequence[PlanPart], work: Work, scale: float = 1.0) -> tuple[Tag, ...]:
    """Place every part's number: within its larger areas, or beside a small one with a leader line.

    A part that has no number yet, and its areas far from every number of it, get one beside them.

    Args:
        parts: the plan's parts.
        work: the project at work.
        scale: of the drawing on the page; numbers keep their size there.
    """
    ground = NumberGround(work.regions.labels, work.regions.line, work.per_mm)
    tags: list[Tag] = []
    small: list[tuple[int, NumberedArea, list[NumberedArea]]] = []
    spots = [(spot, part.number) for part in parts if part.how != "white" for spot in part.areas]
    numbered: dict[int, list[NumberedArea]] = {}
    led: dict[int, int] = {}
    ring = 2 * RING_MM / scale
    for spot, number in sorted(spots, key=lambda pair: -pair[0].area_mm2):
        near = numbered.setdefault(number, [])
        bare = [number_size_mm(str(number), size) for size in BARE_SIZES_PT]
        sizes = [(ring, ring), *((w / scale, h / scale) for w, h in bare)]
        place = ground.within(spot.area, sizes) if len(near) < MOST_TAGS else None
        if place is None:
            small.append((number, spot, near))
            continue
        near.append(spot)
        radius, size_pt = (RING_MM, 0.0) if place.size == 0 else (0.0, BARE_SIZES_PT[place.size - 1])
        tags.append(Tag(number, place.x_mm, place.y_mm, radius, size_pt=size_pt))
    for number, spot, near in small:
        if near and (
            spot.area_mm2 < LEAST_LED_MM2 or led.get(number, 0) >= MOST_LED or _distance(spot, near) < NEAR_MM
        ):
            continue
        near.append(spot)
        led[number] = led.get(number, 0) + 1
        place = ground.beside(spot.area, (2 * LED_RING_MM / scale, 2 * LED_RING_MM / scale))
        tags.append(Tag(number, place.x_mm, place.y_mm, LED_RING_MM, place.end_mm))
    return tuple(tags)


def _distance(spot: NumberedArea, others: Sequence[NumberedArea]) -> float:
    return min(math.hypot(spot.x_mm - other.x_mm, spot.y_mm - other.y_mm) for other in others)
