"""Pages of shapes in millimetres, to PDF, SVG and PNG from one description. Knows no markers.

A :class:`Document` is plain data: pages, each a size and a tuple of shapes, drawn in order. All places and sizes
are millimetres, x to the right and y **down** from the page's top left corner; letters are sized in points.
Colours are ``"#rrggbb"`` or ``"#rrggbbaa"``; a neutral one is printed with black ink alone. An outline is
centred on the edge of its shape.

>>> card = Document("A box", (Page(60, 40, (Rect(10, 10, 30, 12, stroke="#888888"), Text(10, 8, "Lantern"))),))
>>> draw_pdf(card)[:5]
b'%PDF-'

The same sheet gives the same bytes on every computer, as long as its letters are all in the package's own
fonts. :func:`find_unshown` tells of letters that no font at hand can show.

Typst sets the sheet: one source for the three formats, fonts embedded.
"""

import math
import re
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from blendkit.errors import PaletteError, SheetError
from blendkit.page.typeface import Typeface, find_typeface, spell
from blendkit.page.typeset import Form, compile_pages, font_list
from blendkit.palette import replace_file
from blendkit.words import MM_PER_INCH

PAGE_SIZES_MM = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4), "A5": (148.0, 210.0)}
"""Portrait width and height. Source: ISO 216; ANSI/ASME Y14.1 size A (8.5 by 11 in)."""

CAP_HEIGHT_MM = 0.714 * MM_PER_INCH / 72
"""Height of a capital letter per point of letter size, in the package's own font."""

LINE_PITCH_EM = 1.25
"""From line to line, in letter sizes. Own choice."""
Align = Literal["left", "centre", "right"]
Hang = Literal["first", "middle", "last"]
Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Gradient:
    """A run of colour from the left to the right edge, or top to bottom if ``down``.

    ``stops`` are (place 0 to 1, colour), in order, the first at 0 and the last at 1; between two stops the
    printed numbers (sRGB) change evenly.
    """

    stops: tuple[tuple[float, str], ...]
    down: bool = False


@dataclass(frozen=True, slots=True)
class Rect:
    """A rectangle; ``dash_mm`` makes its outline dashed, ``radius_mm`` rounds its corners."""

    x_mm: float
    y_mm: float
    w_mm: float
    h_mm: float
    fill: str | Gradient | None = None
    stroke: str | None = None
    stroke_mm: float = 0.2
    radius_mm: float = 0.0
    dash_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Circle:
    """A circle about its centre."""

    x_mm: float
    y_mm: float
    radius_mm: float
    fill: str | None = None
    stroke: str | None = None
    stroke_mm: float = 0.2


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line with flat ends."""

    x1_mm: float
    y1_mm: float
    x2_mm: float
    y2_mm: float
    stroke: str = "#000000"
    stroke_mm: float = 0.2
    dash_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Path2D:
    """One or more outlines of straight edges, filled as one shape.

    A place inside an even number of outlines is a hole (even-odd rule). ``closed`` joins each outline's last
    point to its first; a fill closes it anyway.
    """

    outlines_mm: tuple[tuple[Point, ...], ...]
    fill: str | None = None
    stroke: str | None = None
    stroke_mm: float = 0.2
    closed: bool = True


@dataclass(frozen=True, slots=True)
class Text:
    """Words at a place: *y_mm* is a baseline; *x_mm* the left, middle or right of the words by *align*.

    The baseline is the first line's, the last line's, or midway between the two, by ``hang``.

    With ``width_mm`` the words break into at most ``lines`` lines of that width. What is still too long is
    set smaller, down to ``min_size_pt``, then cut and ended with an ellipsis: nothing runs past the width.
    Without a width the words stand on one line and are never changed. ``turn_deg`` turns them clockwise
    about (x_mm, y_mm).
    """

    x_mm: float
    y_mm: float
    text: str
    size_pt: float = 9.0
    fill: str = "#222222"
    width_mm: float | None = None
    lines: int = 1
    min_size_pt: float | None = None
    align: Align = "left"
    bold: bool = False
    turn_deg: float = 0.0
    hang: Hang = "first"


@dataclass(frozen=True, slots=True)
class Image:
    """A picture, given as the bytes of a PNG or JPEG file, stretched to the rectangle."""

    x_mm: float
    y_mm: float
    w_mm: float
    h_mm: float
    data: bytes


Shape = Rect | Circle | Line | Path2D | Text | Image


@dataclass(frozen=True, slots=True)
class Page:
    """One page: its size and what stands on it, the last shape on top."""

    width_mm: float
    height_mm: float
    shapes: tuple[Shape, ...]


@dataclass(frozen=True, slots=True)
class Document:
    """Pages that belong together; ``title`` is what a PDF reader shows, ``language`` an ISO 639 code."""

    title: str
    pages: tuple[Page, ...]
    language: str = "en"


def draw_pdf(sheet: Document) -> bytes:
    """Give *sheet* as one PDF, fonts embedded, with no date in it.

    Raises: SheetError when the sheet has no page, or typst can't set it (such as a broken picture).
    """
    (pdf,) = _compile(sheet, "pdf", None)
    return pdf


def draw_svg(sheet: Document) -> tuple[bytes, ...]:
    """Give every page of *sheet* as an SVG file, letters as outlines. Raises as :func:`draw_pdf`."""
    return _compile(sheet, "svg", None)


def draw_png(sheet: Document, dpi: float = 150.0) -> tuple[bytes, ...]:
    """Give every page of *sheet* as a PNG file of *dpi* pixels an inch. Raises as :func:`draw_pdf`."""
    return _compile(sheet, "png", dpi)


def write_sheet(sheet: Document, path: Path, dpi: float = 150.0) -> tuple[Path, ...]:
    """Write *sheet* as the format that the ending of *path* names: .pdf, .svg or .png.

    A sheet of several pages becomes one PDF, or ``name-1.png``, ``name-2.png`` and so on.

    Returns: the files written.
    Raises: SheetError for another ending, or a place that can't be written.
    """
    draw: dict[str, Callable[[], tuple[bytes, ...]]] = {
        ".pdf": lambda: (draw_pdf(sheet),),
        ".svg": lambda: draw_svg(sheet),
        ".png": lambda: draw_png(sheet, dpi),
    }
    suffix = path.suffix.lower()
    if suffix not in draw:
        raise SheetError(
            f"{path}: a sheet is written as .pdf, .svg or .png, not {path.suffix or 'without an ending'}"
        )
    files = draw[suffix]()
    if len(files) == 1:
        paths: tuple[Path, ...] = (path,)
    else:
        paths = tuple(
            path.with_name(f"{path.stem}-{number}{path.suffix}") for number in range(1, len(files) + 1)
        )
    for target, data in zip(paths, files, strict=True):
        try:
            replace_file(target, data)
        except PaletteError as error:
            raise SheetError(f"{target} can't be written", error.problems) from None
    return paths


def drawing_source(
    name: str, width_mm: float, height_mm: float, shapes: Sequence[Shape]
) -> tuple[str, dict[str, bytes]]:
    """Give shapes as a Typst file for a template, which places them as one drawing of true size.

    Args:
        name: of the drawing in the file, and of its pictures; letters alone.
        width_mm, height_mm: of the drawing; places count from its top left corner.
        shapes: what stands on it; words in the package's own font.

    Returns: the source, for ``typeset.Setting``, and the picture files that it names.
    """
    typeface = find_typeface(shape.text for shape in shapes if isinstance(shape, Text))
    lines, pictures = _lines(shapes, typeface, name)
    size = f"width: {_number(width_mm)}mm, height: {_number(height_mm)}mm"
    return f"{_PREAMBLE}\n#let {name} = box({size})[#{{\n{lines}\n}}]\n", pictures


def find_unshown(sheet: Document) -> tuple[str, ...]:
    """Find the words of *sheet* with letters that no font at hand can show.

    They are spelled by Unicode number on the sheet instead.

    Returns: each such text once, in the order of the sheet; empty when everything is shown.
    """
    texts = _texts(sheet)
    unshown = find_typeface(texts).unshown
    hit = (text for text in texts if unshown.intersection(unicodedata.normalize("NFC", text)))
    return tuple(dict.fromkeys(hit))


def ruler(x_mm: float, y_mm: float, ink: str = "#444444") -> tuple[Shape, ...]:
    """Draw a ruler of 100 mm with one of 4 inches below it, to check a print's scale with.

    It covers 101.6 mm from *x_mm* rightwards, and from 5.2 mm above to 5.2 mm below *y_mm*. The first mark's
    and the last mark's middles are 100 mm (4 in) apart.
    """
    shapes: list[Shape] = [Line(x_mm, y_mm, x_mm + 101.6, y_mm, ink, 0.15)]
    for step in range(101):
        length = 2.6 if step % 10 == 0 else 1.8 if step % 5 == 0 else 1.0
        shapes.append(Line(x_mm + step, y_mm - length, x_mm + step, y_mm, ink, 0.15))
    for centimetre in range(11):
        label = "0" if centimetre == 0 else f"{centimetre} cm" if centimetre == 10 else str(centimetre)
        shapes.append(Text(x_mm + 10 * centimetre, y_mm - 3.1, label, 8, ink, align="centre"))
    for step in range(33):
        length = 2.6 if step % 8 == 0 else 1.8 if step % 4 == 0 else 1.0
        shapes.append(Line(x_mm + step * 3.175, y_mm, x_mm + step * 3.175, y_mm + length, ink, 0.15))
    for inch in range(5):
        label = "0" if inch == 0 else f"{inch} in" if inch == 4 else str(inch)
        shapes.append(Text(x_mm + MM_PER_INCH * inch, y_mm + 5.2, label, 8, ink, align="centre"))
    return tuple(shapes)


# --- to typst ---------------------------------------------------------------------------------------------

_PREAMBLE = """
#let at(x, y, body) = place(top + left, dx: x * 1mm, dy: y * 1mm, body)
#let rc(x, y, w, h, f, s, r) = at(x, y,
  rect(width: w * 1mm, height: h * 1mm, fill: f, stroke: s, radius: r * 1mm))
#let ci(x, y, r, f, s) = at(x - r, y - r, circle(radius: r * 1mm, fill: f, stroke: s))
#let ln(x, y, u, v, s) = place(top + left,
  line(start: (x * 1mm, y * 1mm), end: (u * 1mm, v * 1mm), stroke: s))
#let pa(f, s, closed, ..outlines) = place(top + left, curve(fill: f, fill-rule: "even-odd", stroke: s,
  ..outlines.pos().map(points => {
    let moves = (curve.move(points.at(0).map(v => v * 1mm)),)
    moves += points.slice(1).map(p => curve.line(p.map(v => v * 1mm)))
    if closed { moves.push(curve.close(mode: "straight")) }
    moves
  }).flatten()))
#let tx(x, y, words, size, least, width, lines, turn, side, hang, ..look) = at(x, y, context {
  let set-at(size, words) = text(size: size * 1pt,
    top-edge: "baseline", bottom-edge: "baseline", ..look, words)
  let flowing(size, words) = {
    set par(leading: PITCHem, justify: false)
    set text(size: size * 1pt)
    set-at(size, words)
  }
  let broken(size, words) = block(width: width * 1mm,
    align(if side == 0 { left } else if side == 0.5 { center } else { right }, flowing(size, words)))
  let fits(size, words) = {
    if lines == 1 { return measure(set-at(size, words)).width <= width * 1mm }
    // A line too long for the width is measured as wide as it; every other line is narrower.
    let room = measure(width: width * 1mm, flowing(size, words))
    let rows = calc.round(room.height / (PITCH * size * 1pt)) + 1
    rows <= lines and room.width < width * 1mm - 0.01pt
  }
  let body = if width == none { set-at(size, words) } else {
    let size = size
    while size > least and not fits(size, words) { size = calc.max(least, size - 0.25) }
    let words = words
    if not fits(size, words) {
      let letters = words.clusters()
      let (low, high) = (0, letters.len())
      while high - low > 1 {
        let middle = calc.quo(low + high, 2)
        let cut = letters.slice(0, middle).join().trim(at: end) + "…"
        if fits(size, cut) { low = middle } else { high = middle }
      }
      words = if low == 0 { "…" } else { letters.slice(0, low).join().trim(at: end) + "…" }
    }
    if lines == 1 { set-at(size, words) } else { broken(size, words) }
  }
  let wide = if width != none and lines > 1 { width * 1mm } else { measure(body).width }
  rotate(turn * 1deg, origin: top + left,
    box(width: 0pt, height: 0pt, place(top + left, dx: -side * wide, dy: -hang * measure(body).height,
      box(width: wide + 0.5pt, body))))
})
""".replace("PITCH", str(LINE_PITCH_EM))


def _compile(sheet: Document, form: Form, dpi: float | None) -> tuple[bytes, ...]:
    if not sheet.pages:
        raise SheetError(f"the sheet “{sheet.title}” has no page to draw")
    typeface = find_typeface(_texts(sheet))
    source, pictures = _source(sheet, typeface)
    return compile_pages(source, {}, pictures, typeface.files, form, dpi, sheet.title)


def _texts(sheet: Document) -> tuple[str, ...]:
    return tuple(shape.text for page in sheet.pages for shape in page.shapes if isinstance(shape, Text)) + (
        "…",
    )


def _source(sheet: Document, typeface: Typeface) -> tuple[str, dict[str, bytes]]:
    """Give the typst source of *sheet* and the picture files that it names."""
    pictures: dict[str, bytes] = {}
    parts = [
        _PREAMBLE,
        f"#set document(title: {_string(sheet.title)}, date: none)\n",
        f"#set text(font: {font_list(typeface.families)}, fallback: false, hyphenate: false, overhang: false)\n",
        f"#set text(lang: {_string(sheet.language)})\n",
    ]
    for number, page in enumerate(sheet.pages):
        body, own = _lines(page.shapes, typeface, f"page{number}n")
        pictures |= own
        parts.append(
            f"#page(width: {_number(page.width_mm)}mm, height: {_number(page.height_mm)}mm, margin: 0mm)"
            f"[#{{\n{body}\n}}]\n"
        )
    return "".join(parts), pictures


def _lines(shapes: Sequence[Shape], typeface: Typeface, name: str) -> tuple[str, dict[str, bytes]]:
    """Give shapes as lines of typst, and the picture files that they name."""
    pictures: dict[str, bytes] = {}
    names: dict[bytes, str] = {}

    def picture_name(data: bytes) -> str:
        if data not in names:
            ending = "png" if data.startswith(b"\x89PNG") else "jpg"
            names[data] = f"{name}{len(names)}.{ending}"
            pictures[names[data]] = data
        return names[data]

    return "\n".join(_shape(shape, typeface, picture_name) for shape in shapes), pictures


def _shape(shape: Shape, typeface: Typeface, picture_name: Callable[[bytes], str]) -> str:
    match shape:
        case Rect():
            numbers = _numbers(shape.x_mm, shape.y_mm, shape.w_mm, shape.h_mm)
            stroke = _stroke(shape.stroke, shape.stroke_mm, shape.dash_mm)
            return f"rc({numbers}, {_fill(shape.fill)}, {stroke}, {_number(shape.radius_mm)})"
        case Circle():
            numbers = _numbers(shape.x_mm, shape.y_mm, shape.radius_mm)
            return f"ci({numbers}, {_fill(shape.fill)}, {_stroke(shape.stroke, shape.stroke_mm)})"
        case Line():
            numbers = _numbers(shape.x1_mm, shape.y1_mm, shape.x2_mm, shape.y2_mm)
            return f"ln({numbers}, {_stroke(shape.stroke, shape.stroke_mm, shape.dash_mm)})"
        case Path2D():
            outlines = ", ".join(
                "(" + "".join(f"({_numbers(*point)})," for point in outline) + ")"
                for outline in shape.outlines_mm
            )
            closed = "true" if shape.closed else "false"
            return f"pa({_fill(shape.fill)}, {_stroke(shape.stroke, shape.stroke_mm)}, {closed}, {outlines})"
        case Text():
            return _text(shape, typeface)
        case Image():
            size = f"width: {_number(shape.w_mm)}mm, height: {_number(shape.h_mm)}mm"
            name = _string(picture_name(shape.data))
            return f'at({_numbers(shape.x_mm, shape.y_mm)}, image({name}, {size}, fit: "stretch"))'


def _text(shape: Text, typeface: Typeface) -> str:
    text = " ".join(shape.text.split("\n")) if shape.lines == 1 else shape.text
    words = _string(spell(text, typeface.unshown))
    least = shape.min_size_pt if shape.min_size_pt is not None else 0.7 * shape.size_pt
    width = "none" if shape.width_mm is None else _number(shape.width_mm)
    side = {"left": 0, "centre": 0.5, "right": 1}[shape.align]
    hang = {"first": 0, "middle": 0.5, "last": 1}[shape.hang]
    weight = '"bold"' if shape.bold else '"regular"'
    return (
        f"tx({_numbers(shape.x_mm, shape.y_mm)}, {words}, {_numbers(shape.size_pt, least)}, "
        f"{width}, {shape.lines}, {_number(shape.turn_deg)}, {side}, {hang}, "
        f"fill: {_fill(shape.fill)}, weight: {weight})"
    )


def _number(value: float) -> str:
    if not math.isfinite(value):
        raise ValueError(f"a shape holds {value}; lengths must be finite")
    return f"{round(value, 4) + 0.0:.4f}".rstrip("0").rstrip(".")


def _numbers(*values: float) -> str:
    return ", ".join(map(_number, values))


def _string(text: str) -> str:
    """Give *text* as a typst string; controls other than the line break, and soft hyphens, are left out."""
    kept = "".join(
        letter
        for letter in text
        if letter == "\n" or (unicodedata.category(letter) != "Cc" and letter != "\u00ad")
    )
    escaped = kept.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
    return f'"{escaped}"'


def _fill(colour: str | Gradient | None) -> str:
    if colour is None:
        return "none"
    if isinstance(colour, Gradient):
        return _gradient(colour)
    if not re.fullmatch(r"#([0-9a-fA-F]{6}|[0-9a-fA-F]{8})", colour):
        raise ValueError(f"{colour!r} is not a colour of a shape; give #rrggbb or #rrggbbaa")
    digits = colour[1:].lower()
    if len(digits) == 6 and digits[:2] == digits[2:4] == digits[4:]:
        return f"luma({int(digits[:2], 16)})"
    return f'rgb("#{digits}")'


def _gradient(gradient: Gradient) -> str:
    places = [place for place, _ in gradient.stops]
    if len(places) < 2 or places[0] != 0 or places[-1] != 1 or places != sorted(places):
        raise ValueError(f"a gradient's stops must rise from 0 to 1, not {places}")
    stops = ", ".join(f'(rgb("{colour}"), {_number(100 * place)}%)' for place, colour in gradient.stops)
    angle = ", angle: 90deg" if gradient.down else ""
    return f"gradient.linear({stops}, space: rgb{angle})"


def _stroke(colour: str | None, width_mm: float, dash_mm: float = 0.0) -> str:
    if colour is None:
        return "none"
    look = f"paint: {_fill(colour)}, thickness: {_number(width_mm)}mm"
    if dash_mm:
        look += f", dash: ({_number(dash_mm)}mm, {_number(dash_mm)}mm)"
    return f"({look})"
