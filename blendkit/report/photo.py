"""The contact picture of a photo: the photo, its colours with their places and shares, and what matches them."""

import io
from collections.abc import Sequence
from dataclasses import dataclass

from blendkit.art.photo import MainColour, MainColours, shown_photo
from blendkit.page.cautions import SAFETY_LINE
from blendkit.page.page import Circle, Image, Line, Page, Rect, Shape, Sheet, Text
from blendkit.picture import Picture

WIDTH_MM = 297.0
_MARGIN = 11.0
_PHOTO_W, _PHOTO_H = 118.0, 126.0
_STRIP_GAP, _WORDS_GAP, _WORDS_H = 5.0, 15.5, 20.0
_LEFT = _MARGIN + _PHOTO_W + 10.0
_TOP = 30.0
_ROW = 18.6
_ROWS = 9
_CHIPS = 3
_NAMES_W = 47.0
_GREY = "#666666"


@dataclass(frozen=True, slots=True)
class ContactMatch:
    """Something of the drawer that goes with a colour of a photo.

    Attributes:
        name: as in the palette.
        hex: its colour for the screen.
        words: a few words below the name, such as "card stock, ΔE 2.1".
    """

    name: str
    hex: str
    words: str = ""


def draw_photo_contact(
    found: MainColours, picture: Picture, matches: Sequence[Sequence[ContactMatch]] = ()
) -> Sheet:
    """Lay out the contact picture, as wide as A4 on its side and as high as it needs.

    Args:
        found: what ``art.photo.find_main_colours`` gave.
        picture: the photo itself.
        matches: for each colour in turn, what goes with it, best first; up to three are shown of each.

    Returns: the sheet, for ``page.draw_png``, ``draw_pdf`` or ``draw_svg``; further pages where the colours
        don't fit on one.
    """
    colours = found.colours
    groups = [colours[start : start + _ROWS] for start in range(0, len(colours), _ROWS)]
    pages = []
    for number, group in enumerate(groups):
        shapes = [*_heading(found, number, len(groups), bool(matches)), *_photo(found, picture)]
        for place, colour in enumerate(group):
            index = number * _ROWS + place
            own = matches[index] if index < len(matches) else ()
            shapes += _row(index + 1, colour, _TOP + place * _ROW, own, wide=not matches)
        scale = _scale(found)
        words_end = _TOP + found.height_px * scale + _STRIP_GAP + _WORDS_GAP + _WORDS_H
        foot = max(words_end, _TOP + len(group) * _ROW) + 3.0
        shapes.append(Text(_MARGIN, foot, SAFETY_LINE, 6.4, _GREY, width_mm=WIDTH_MM - 2 * _MARGIN))
        height = foot + _MARGIN - 6.0
        pages.append(Page(WIDTH_MM, height, tuple(shapes)))
    return Sheet(f"Colours of {found.picture}", tuple(pages))


def _scale(found: MainColours) -> float:
    """Millimetres a pixel of the photo."""
    return min(_PHOTO_W / found.width_px, _PHOTO_H / found.height_px)


def _heading(found: MainColours, number: int, count: int, matched: bool) -> list[Shape]:
    page = f", page {number + 1} of {count}" if count > 1 else ""
    width = WIDTH_MM - 2 * _MARGIN
    shapes: list[Shape] = [
        Text(
            _MARGIN, 17.0, f"Colours of {found.picture}{page}", 15, bold=True, width_mm=width, min_size_pt=9
        ),
        Line(_MARGIN, 20.5, WIDTH_MM - _MARGIN, 20.5, "#bbbbbb", 0.2),
        Text(_LEFT + 27.0, 25.6, "In the photo", 8, _GREY),
    ]
    if matched:
        shapes.append(
            Text(_LEFT + 27.0 + _NAMES_W + 3.0, 25.6, "Nearest in the drawer, best first", 8, _GREY)
        )
    return shapes


def _photo(found: MainColours, picture: Picture) -> list[Shape]:
    """Draw the photo with a numbered mark for each colour, the strip of shares and the sentences below."""
    from PIL import Image as Pillow

    stream = io.BytesIO()
    Pillow.fromarray(shown_photo(picture, found)).save(stream, "PNG")
    scale = _scale(found)
    width, height = found.width_px * scale, found.height_px * scale
    left = _MARGIN + (_PHOTO_W - width) / 2
    shapes: list[Shape] = [
        Image(left, _TOP, width, height, stream.getvalue()),
        Rect(left, _TOP, width, height, stroke="#888888", stroke_mm=0.15),
    ]
    for index, colour in enumerate(found.colours):
        x, y = left + (colour.x_px + 0.5) * scale, _TOP + (colour.y_px + 0.5) * scale
        x = min(max(x, left + 2.6), left + width - 2.6)
        y = min(max(y, _TOP + 2.6), _TOP + height - 2.6)
        shapes += [
            Circle(x, y, 2.5, "#ffffff", "#222222", 0.25),
            Text(x, y + 1.15, str(index + 1), 8, align="centre", bold=True),
        ]
    if found.spot_px is not None:
        x, y = left + found.spot_px[0] * scale, _TOP + found.spot_px[1] * scale
        shapes += [
            Rect(x - 1.6, y - 1.6, 3.2, 3.2, stroke="#ffffff", stroke_mm=0.7),
            Rect(x - 1.6, y - 1.6, 3.2, 3.2, stroke="#222222", stroke_mm=0.3),
        ]
    strip = _TOP + height + _STRIP_GAP
    shapes += [*_strip(found, strip), *_sentences(found, strip + _WORDS_GAP)]
    return shapes


def _strip(found: MainColours, top: float) -> list[Shape]:
    """Draw the colours side by side, each as wide as its share of the area."""
    shapes: list[Shape] = []
    x = _MARGIN
    for colour in found.colours:
        width = _PHOTO_W * colour.share
        shapes.append(Rect(x, top, width, 7.0, colour.hex))
        x += width
    if _MARGIN + _PHOTO_W - x > 0.3:
        shapes.append(Rect(x, top, _MARGIN + _PHOTO_W - x, 7.0, "#ffffff", "#bbbbbb", 0.15, dash_mm=0.8))
    words = "Each as wide as its share of the photo"
    words += "; the dashed rest is other colours." if found.rest >= 0.005 else "."
    shapes.append(Text(_MARGIN, top + 10.8, words, 7.5, _GREY, width_mm=_PHOTO_W))
    return shapes


def _sentences(found: MainColours, top: float) -> list[Shape]:
    shown = ["The photo is shown as balanced."] if found.spot_px is not None else []
    words = " ".join([found.balance, *shown, *found.notes])
    return [Text(_MARGIN, top, words, 8.5, "#444444", _PHOTO_W, lines=5, min_size_pt=6.5)]


def _row(
    number: int, colour: MainColour, top: float, matches: Sequence[ContactMatch], *, wide: bool
) -> list[Shape]:
    """Draw one colour: its field, its number, words and share, and what matches it."""
    right = WIDTH_MM - _MARGIN
    text = _LEFT + 27.0
    width = (right - text) if wide else _NAMES_W
    share = f"{100 * colour.share:.0f} %" if colour.share >= 0.095 else f"{100 * colour.share:.1f} %"
    kind = "small accent" if colour.is_accent else "of the photo"
    screen = f"{colour.hex} (nearest)" if colour.mapped else colour.hex
    lab = "L* {:.0f}  a* {:.0f}  b* {:.0f}".format(*(value + 0.0 for value in colour.lab))
    shapes: list[Shape] = [
        Rect(_LEFT, top, 23.0, _ROW - 3.4, colour.hex, "#999999", 0.15),
        Circle(_LEFT, top, 2.5, "#ffffff", "#222222", 0.25),
        Text(_LEFT, top + 1.15, str(number), 8, align="centre", bold=True),
        Text(text, top + 3.4, colour.words, 9, bold=True, width_mm=width, min_size_pt=6.5),
        Text(text, top + 7.8, f"{share} {kind}", 8, width_mm=width, min_size_pt=6.5),
        Text(text, top + 11.8, f"{lab}  {screen}", 7, _GREY, width_mm=width, min_size_pt=5.0),
    ]
    chip_w = (right + 2.0 - text - _NAMES_W - 3.0) / _CHIPS
    for place, match in enumerate(matches[:_CHIPS]):
        x = text + _NAMES_W + 3.0 + place * chip_w
        shapes += [
            Rect(x, top, chip_w - 2.0, 6.4, match.hex, "#999999", 0.15),
            Text(x, top + 9.6, match.name, 7.5, width_mm=chip_w - 2.0, lines=1, min_size_pt=6.0),
            Text(x, top + 12.8, match.words, 6.5, _GREY, width_mm=chip_w - 2.0, lines=2, min_size_pt=5.5),
        ]
    return shapes
