"""A plan's sheets: table page, shadows, papers, cut; and the class set. The layout is the templates'.

Here stand only what a template can't know: the drawings of true size, as shapes in millimetres, and how large the
map may be once all else has its room.
"""

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from blendkit.page.marks import mark_shape
from blendkit.page.page import (
    CAP_HEIGHT_MM,
    PAGE_SIZES_MM,
    Circle,
    Image,
    Line,
    Path2D,
    Rect,
    Shape,
    Text,
    drawing_source,
)
from blendkit.page.typeset import Setting
from blendkit.plan.cut_line import CutLine
from blendkit.plan.number_places import NumberGround, number_size_mm
from blendkit.plan.pictures import PlanPictures, Tag, encode_png, place_tags
from blendkit.plan.records import SHARING, PlanRecord
from blendkit.plan.shadow_places import join_words, short_name
from blendkit.plan.stages import STAGES
from blendkit.project.work import Work
from blendkit.records import plain
from blendkit.words import SAFETY_LINE, size_words

INK, GREY = "#222222", "#666666"
HATCH = "#858585"
AREA_INK = "#b03030"
AREA_SIZES_PT = (9.0, 8.0, 7.0)
BESIDE_SIZE_PT = 7.0
"""Sizes of the numbers on the map of areas: within an area, the largest that fits; and beside it."""

MARGIN_MM = 12.0
"""Blank edge of a sheet; printers leave about 6 mm. Common practice, no source."""

MOST_SCALE = 2.0
"""A drawing is enlarged no further: its lines would look coarse. Own judgement."""

BETWEEN_MM = 6.0
BESIDE_MM = 45.0
"""Least width of the coloured picture beside the map, which is enlarged no more than leaves it. Own judgement."""

BRIDGED_MM = 0.3
LEAST_BRIDGED_MM2 = 0.6
"""White paper inside the cut line that is farther from ink than the rim and this is told to be a bridge, unless it
is so small that nobody would cut it out. Own judgement."""

MARK_MM = 10.0
"""Side of a registration mark: at 300 pixels an inch each of its 8 cells is 15 pixels wide."""


def draw_plan(
    record: PlanRecord, pictures: PlanPictures, line: CutLine | None = None, *, black: bool = False
) -> Setting:
    """Lay out a plan: the table page, the shadow page, the papers page and, with a cut line, the cut page.

    Args:
        record: the plan.
        pictures: from ``pictures.draw_pictures``.
        line: the cut line, for the last page.
        black: for a printer of one ink: swatches in grey, their names beside them as ever.

    Returns: the sheets, to be drawn.
    """
    width, height = (side - 2 * MARGIN_MM for side in PAGE_SIZES_MM[record.page])
    data = _data(record, black)
    title = f"{record.project}: colouring plan"
    empty: dict[str, tuple[str, dict[str, bytes]]] = {
        name: (_nothing(name), {}) for name in ("map", "shadows", "cut")
    }
    asked = _setting(
        "plan",
        data | {"asking": True, "map_words": _scale_words(0.88), "shadow_words": _scale_words(0.88)},
        title,
        pictures,
        empty,
    )
    table_mm, shadow_scale = asked.ask("rooms")
    map_scale = _map_scale(record, width, table_mm)
    drawings = {
        "map": _map(record, pictures, map_scale, shadows=False, black=black),
        "shadows": _map(record, pictures, shadow_scale, shadows=True, black=black),
        "cut": (_nothing("cut"), {}) if line is None else _cut(record, pictures, line, width, height),
    }
    data |= {
        "asking": False,
        "map_words": _scale_words(map_scale),
        "shadow_words": _scale_words(shadow_scale),
        "shadow_scale": shadow_scale,
        "preview_mm": _beside(record, width, map_scale, table_mm),
        "map_mm": map_scale * record.width_mm,
        "cut": None if line is None else plain(_cut_facts(record, line, pictures.work)),
    }
    return _setting("plan", data, title, pictures, drawings)


def draw_class(record: PlanRecord, pictures: PlanPictures, *, black: bool = False) -> Setting:
    """Lay out the class set: one page for the teacher, two for each pupil."""
    width = PAGE_SIZES_MM[record.page][0] - 2 * MARGIN_MM
    height = PAGE_SIZES_MM[record.page][1] - 2 * MARGIN_MM - 42.0
    scale = _scale(record, width, height)
    data = _data(record, black) | {
        "map_words": _scale_words(scale),
        "sharing": SHARING,
    }
    drawings = {"pupil": _map(record, pictures, scale, shadows=False, black=black, name="pupil")}
    return _setting("class", data, f"{record.project}: class set", pictures, drawings)


def draw_cut_sheet(record: PlanRecord, line: CutLine, pictures: PlanPictures) -> Setting:
    """Lay out the page to print and cut: the drawing at true size with the cut file's registration marks."""
    data = _data(record, False) | {"cut": plain(_cut_facts(record, line, pictures.work))}
    drawings = {"sheet": _print_and_cut(record, line, pictures)}
    return _setting("cut", data, f"{record.project}: print and cut", pictures, drawings)


def draw_areas(record: PlanRecord, work: Work) -> Setting:
    """Lay out the map of closed areas, with a grid in mm, for writing a project by hand.

    Returns: a sheet of one page. A number stands in its area where it can be read there, else beside it, in a box
        with a leader line.
    """
    width, height = (side - 2 * MARGIN_MM for side in PAGE_SIZES_MM[record.page])
    margin = 6.0
    scale = _scale(record, width - margin, height - margin - 34.0)
    drawing = drawing_source(
        "areas",
        margin + scale * record.width_mm,
        margin + scale * record.height_mm,
        _areas(record, work, margin, scale),
    )
    data = _data(record, False) | {"map_words": _scale_words(scale)}
    return _setting("areas", data, f"{record.project}: closed areas", None, {"areas": drawing})


# ---------------------------------------------------------------- data


def _template(name: str) -> Path:
    return Path(__file__).with_name(f"{name}.typ")


def _data(record: PlanRecord, black: bool) -> dict[str, Any]:
    return {
        "plan": plain(record),
        "page_mm": PAGE_SIZES_MM[record.page],
        "margin_mm": MARGIN_MM,
        "safety": SAFETY_LINE,
        "grey": black,
        "stages": plain(STAGES),
        "cut": None,
    }


def _small(pictures: PlanPictures) -> dict[str, bytes]:
    named = {f"stage{number}.jpg": one for number, one in enumerate(pictures.stages)}
    return named | {"preview.jpg": pictures.preview_jpg}


def _setting(
    name: str,
    data: dict[str, Any],
    title: str,
    pictures: PlanPictures | None,
    drawings: dict[str, tuple[str, dict[str, bytes]]],
) -> Setting:
    files = {} if pictures is None else _small(pictures)
    sources = {}
    for key, (source, own) in drawings.items():
        sources[f"{key}-drawing.typ"] = source
        files |= own
    return Setting(_template(name), data, title, files, sources)


def _nothing(name: str) -> str:
    return f"#let {name} = none\n"


def _scale(record: PlanRecord, width: float, height: float) -> float:
    """How large the drawing may be, in whole hundredths, and no larger than it bears."""
    scale = math.floor(100 * min(width / record.width_mm, height / record.height_mm, MOST_SCALE) + 1e-9) / 100
    # a drawing that nearly fills its room at its true size is better true than a little larger
    return 1.0 if 1.0 <= scale < 1.08 else max(scale, 0.01)


def _map_scale(record: PlanRecord, width: float, height: float) -> float:
    """As :func:`_scale`, but enlarged no more than leaves the coloured picture its room beside the map."""
    whole = _scale(record, width, height)
    beside = _scale(record, width - BESIDE_MM - BETWEEN_MM, height)
    return min(whole, max(1.0, beside))


def _scale_words(scale: float) -> str:
    return "true size" if scale == 1.0 else f"{100 * scale:.0f} % of true size"


def _beside(record: PlanRecord, width: float, scale: float, room_mm: float) -> float:
    """Width of the coloured picture beside the map, in mm; 0 where there is no room for one to be of use."""
    left = width - scale * record.width_mm - BETWEEN_MM
    wide = min(left, record.width_mm * room_mm / record.height_mm, scale * record.width_mm)
    return wide if wide >= 0.6 * BESIDE_MM else 0.0


# ---------------------------------------------------------------- drawings


def _map(
    record: PlanRecord, pictures: PlanPictures, scale: float, *, shadows: bool, black: bool, name: str = ""
) -> tuple[str, dict[str, bytes]]:
    """The line image with its numbers; with the shadows as they are laid, if asked for."""
    w, h = scale * record.width_mm, scale * record.height_mm
    name = name or ("shadows" if shadows else "map")
    shapes: list[Shape] = [
        Image(0, 0, w, h, pictures.line_png if black or not shadows else pictures.shadow_png)
    ]
    if shadows:
        strokes = tuple(_scaled(outline, scale) for outline in pictures.hatch)
        shapes += [Path2D(strokes, None, HATCH, 0.17, closed=False)] if strokes else []
        rings = tuple(_scaled(outline, scale) for outline in pictures.highlights)
        shapes += [Path2D(rings, None, GREY, 0.25)] if rings else []
    for tag in place_tags(record.parts, pictures.work, scale):
        shapes += _tag(tag, scale)
    return drawing_source(name, w, h, shapes)


def _scaled(outline: Sequence[tuple[float, float]], scale: float) -> tuple[tuple[float, float], ...]:
    return tuple((scale * x, scale * y) for x, y in outline)


def _tag(tag: Tag, scale: float) -> list[Shape]:
    """A part's number, in a ring where there is room, with a leader line where it stands beside its area."""
    x, y = scale * tag.x_mm, scale * tag.y_mm
    text = str(tag.part)
    if not tag.radius_mm:
        return [_halo(x, y, text, tag.size_pt), _centred(x, y, text, tag.size_pt)]
    shapes: list[Shape] = []
    if tag.end_mm is not None:
        shapes += _leader(x, y, scale * tag.end_mm[0], scale * tag.end_mm[1], INK)
    size = 8.0 if len(text) < 3 else 7.0
    return [*shapes, Circle(x, y, tag.radius_mm, "#ffffff", INK, 0.25), _centred(x, y, text, size)]


def _halo(x: float, y: float, text: str, size_pt: float) -> Shape:
    """The white ground of a bare number, about its middle."""
    w, h = number_size_mm(text, size_pt)
    return Rect(x - w / 2 - 0.15, y - h / 2 - 0.25, w + 0.3, h + 0.5, "#ffffff", None, 0, 0.5)


def _leader(x1: float, y1: float, x2: float, y2: float, fill: str) -> list[Shape]:
    """A leader line with a dot at its end, both with a white rim, so that they show on ink too."""
    return [
        Line(x1, y1, x2, y2, "#ffffff", 0.55),
        Line(x1, y1, x2, y2, fill, 0.2),
        Circle(x2, y2, 0.3, fill, "#ffffff", 0.15),
    ]


def _centred(x: float, y: float, text: str, size: float, fill: str = INK) -> Text:
    return Text(x, y + size * CAP_HEIGHT_MM / 2, text, size, fill, align="centre", bold=True)


def _areas(record: PlanRecord, work: Work, margin: float, scale: float) -> list[Shape]:
    width, height = scale * record.width_mm, scale * record.height_mm
    x = y = margin
    shapes: list[Shape] = [Image(x, y, width, height, encode_png(255 - work.regions.line, work.dpi))]
    for step in range(0, int(record.width_mm) + 1, 10):
        at = x + scale * step
        shapes.append(Line(at, y, at, y + height, "#bbbbbb80", 0.12))
        shapes.append(Text(at, y - 1.0, str(step), 8, GREY, align="centre"))
    for step in range(0, int(record.height_mm) + 1, 10):
        at = y + scale * step
        shapes.append(Line(x, at, x + width, at, "#bbbbbb80", 0.12))
        if step:
            shapes.append(Text(x - 1.0, at + 1.0, str(step), 8, GREY, align="right"))
    ground = NumberGround(work.regions.labels, work.regions.line, work.per_mm)

    def sizes(text: str) -> list[tuple[float, float]]:
        return [(w / scale, h / scale) for w, h in (number_size_mm(text, size) for size in AREA_SIZES_PT)]

    placed = {one.number: ground.within(one.number, sizes(str(one.number))) for one in work.regions.parts}
    lines: list[Shape] = []
    numbers: list[Shape] = []
    for number, place in placed.items():
        text = str(number)
        if place is None:
            w, h = (side + 1.2 for side in number_size_mm(text, BESIDE_SIZE_PT))
            place = ground.beside(number, (w / scale, h / scale))
            at_x, at_y = x + scale * place.x_mm, y + scale * place.y_mm
            if place.end_mm is not None:
                lines += _leader(
                    at_x, at_y, x + scale * place.end_mm[0], y + scale * place.end_mm[1], AREA_INK
                )
            numbers.append(Rect(at_x - w / 2, at_y - h / 2, w, h, "#ffffff", AREA_INK, 0.18, 0.6))
            numbers.append(_centred(at_x, at_y, text, BESIDE_SIZE_PT, AREA_INK))
        else:
            size = AREA_SIZES_PT[place.size]
            at_x, at_y = x + scale * place.x_mm, y + scale * place.y_mm
            numbers += [_halo(at_x, at_y, text, size), _centred(at_x, at_y, text, size, AREA_INK)]
    return [*shapes, *lines, *numbers]


# ---------------------------------------------------------------- the cut


def sheet_place(
    record: PlanRecord, line: CutLine
) -> tuple[tuple[float, float], tuple[tuple[float, float], ...]]:
    """Where the image and the registration marks stand on the printed page.

    Returns: the image's top left corner, and the marks' top left corners, mm from the page's own; the image is in
        the middle, lower where the heading needs it.
    """
    wide, high = PAGE_SIZES_MM[record.page]
    left = min(x for outline in line.outlines for x, _ in outline)
    top = min(y for outline in line.outlines for _, y in outline)
    x = (wide - line.width_mm) / 2 - left
    y = max(MARGIN_MM + MARK_MM + 22.0, (high - line.height_mm) / 2) - top
    low = high - MARGIN_MM - 22.0 - MARK_MM
    right = wide - MARGIN_MM - MARK_MM
    upper = MARGIN_MM + 18.0
    return (x, y), ((MARGIN_MM, upper), (right, upper), (MARGIN_MM, low))


def _cut_facts(record: PlanRecord, line: CutLine, work: Work) -> dict[str, Any]:
    bridged = _bridged(work, line)
    return {
        "words": line.words,
        "size": size_words(line.width_mm, line.height_mm, record.units),
        "fits": _fits_page(record, line),
        "grey": bool(bridged),
        "beside": _beside_bridges(work, bridged),
    }


def _fits_page(record: PlanRecord, line: CutLine) -> bool:
    """Whether the figure and the marks have room on the page."""
    wide, high = PAGE_SIZES_MM[record.page]
    return (
        line.width_mm <= wide - 2 * MARGIN_MM and line.height_mm <= high - 2 * MARGIN_MM - 2 * MARK_MM - 40.0
    )


def _cut(
    record: PlanRecord, pictures: PlanPictures, line: CutLine, width: float, height: float
) -> tuple[str, dict[str, bytes]]:
    """The cut line at true size, the drawing pale inside it; smaller where the page is too small."""
    scale = min(1.0, width / line.width_mm, (height - 52.0) / line.height_mm)
    left = min(x for outline in line.outlines for x, _ in outline)
    top = min(y for outline in line.outlines for _, y in outline)
    wide, high = line.width_mm, line.height_mm
    x, y, w, h, inner = _cropped(pictures.line_png, record, (left, top, left + wide, top + high))
    place = (scale * (x - left), scale * (y - top), scale * w, scale * h)
    shapes: list[Shape] = [
        Image(*place, inner),
        Rect(*place, "#ffffffa8"),  # a veil
        *(
            Path2D((tuple((scale * (a - left), scale * (b - top)) for a, b in one),), "#cccccc", GREY, 0.15)
            for one in _bridged(pictures.work, line)
        ),
        Path2D(
            tuple(tuple((scale * (a - left), scale * (b - top)) for a, b in one) for one in line.outlines),
            None,
            "#111111",
            0.25,
        ),
    ]
    return drawing_source("cut", scale * wide, scale * high, shapes)


def _cropped(
    png: bytes, record: PlanRecord, box_mm: tuple[float, float, float, float]
) -> tuple[float, float, float, float, bytes]:
    """What of the line image lies in a box, mm from its corner to its corner: place, size and PNG."""
    import io

    from PIL import Image as Picture

    whole = Picture.open(io.BytesIO(png))
    per_mm = whole.width / record.width_mm
    left, top = (max(0, math.ceil(value * per_mm)) for value in box_mm[:2])
    right, bottom = math.floor(box_mm[2] * per_mm), math.floor(box_mm[3] * per_mm)
    right, bottom = min(whole.width, right), min(whole.height, bottom)
    out = io.BytesIO()
    whole.crop((left, top, right, bottom)).save(out, "PNG")
    size = (right - left) / per_mm, (bottom - top) / per_mm
    return left / per_mm, top / per_mm, *size, out.getvalue()


def _bridged(work: Work, line: CutLine) -> list[tuple[tuple[float, float], ...]]:
    """Outlines, mm, of the white paper that the line bridges: inside it, and farther from ink than the rim."""
    import cv2

    per_mm, pad = 5.0, 10.0
    size = tuple(round((side + 2 * pad) * per_mm) for side in work.size_mm)
    small = tuple(round(side * per_mm) for side in work.size_mm)
    inside = np.zeros((size[1], size[0]), np.uint8)
    corners = [np.round((np.array(one) + pad) * per_mm).astype(np.int32) for one in line.outlines]
    cv2.fillPoly(inside, corners, 255)
    ink = np.zeros_like(inside)
    figure = ((work.regions.labels > 0) | (work.regions.line > 128)).astype(np.uint8) * 255
    at = round(pad * per_mm)
    shown = cv2.resize(figure, small, interpolation=cv2.INTER_AREA)
    ink[at : at + small[1], at : at + small[0]] = shown
    away = cv2.distanceTransform((ink < 64).astype(np.uint8), cv2.DIST_L2, 5) / per_mm
    left = ((inside > 0) & (away > line.rim_mm + BRIDGED_MM)).astype(np.uint8)
    found, _ = cv2.findContours(left, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    return [
        tuple((float(x) / per_mm - pad, float(y) / per_mm - pad) for x, y in one[:, 0])
        for one in found
        if cv2.contourArea(one) >= LEAST_BRIDGED_MM2 * per_mm**2
    ]


def _beside_bridges(work: Work, bridged: Sequence[Sequence[tuple[float, float]]]) -> str:
    """The coloured parts nearest to the bridged paper, the one with most of it first; "" without any."""
    part_of = work.part_of()
    y, x = np.nonzero(work.regions.labels)
    step = max(1, len(x) // 20_000)
    places = np.stack([x[::step], y[::step]], axis=1) / work.per_mm
    white = [k for k, part in enumerate(work.project.parts, 1) if part.leave_white]
    owners = part_of[work.regions.labels[y[::step], x[::step]]]
    owners = np.where(np.isin(owners, white), 0, owners)
    found: dict[str, int] = {}
    for outline in bridged:
        away = np.linalg.norm(places[:, None] - np.array(outline)[None], axis=2).min(axis=1)
        owner = int(owners[np.argmin(np.where(owners > 0, away, np.inf))])
        if owner:
            name = short_name(work.project.parts[owner - 1].name)
            found[name] = found.get(name, 0) + len(outline)
    return join_words([f"the {name}" for name in sorted(found, key=lambda name: -found[name])])


def _print_and_cut(record: PlanRecord, line: CutLine, pictures: PlanPictures) -> tuple[str, dict[str, bytes]]:
    wide, high = PAGE_SIZES_MM[record.page]
    (x, y), marks = sheet_place(record, line)
    shapes: list[Shape] = [Image(x, y, record.width_mm, record.height_mm, pictures.line_png)]
    if _fits_page(record, line):
        shapes += [mark_shape(number, *place, MARK_MM) for number, place in enumerate(marks)]
    return drawing_source("sheet", wide, high, shapes)


def cut_file(record: PlanRecord, line: CutLine) -> bytes:
    """Give the cut line as an SVG file as large as the printed page: layers "cut line" and "registration marks".

    Source: SVG 1.1, W3C; lengths in mm, the page's top left corner is the origin.
    """
    from xml.sax.saxutils import escape

    wide, high = PAGE_SIZES_MM[record.page]
    (x, y), marks = sheet_place(record, line)
    cut = " ".join(
        "M " + " L ".join(f"{a + x:.3f},{b + y:.3f}" for a, b in outline) + " Z" for outline in line.outlines
    )
    layers = [
        f'<g id="cut-line"><title>cut line</title><path d="{cut}" fill="none" stroke="#000000" '
        'stroke-width="0.1"/></g>'
    ]
    if _fits_page(record, line):
        shapes = []
        for number, place in enumerate(marks):
            outlines = mark_shape(number, *place, MARK_MM).outlines_mm
            path = " ".join("M " + " L ".join(f"{a:.3f},{b:.3f}" for a, b in one) + " Z" for one in outlines)
            shapes.append(f'<path d="{path}" fill-rule="evenodd"/>')
        layers.append(f'<g id="registration-marks"><title>registration marks</title>{"".join(shapes)}</g>')
    body = "\n".join(layers)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:g}mm" height="{high:g}mm" '
        f'viewBox="0 0 {wide:g} {high:g}">\n<title>{escape(record.project)}: cut line</title>\n{body}\n</svg>\n'
    ).encode()
