"""A project as frozen records: a line image, its parts with their markers, its papers and its greeting.

Lengths are millimetres; places are millimetres from the image's top left corner, x to the right and y down.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Annotated, Any, cast

from blendkit.advice.order import BLENDER_WAYS, STYLES
from blendkit.art.material import MATERIALS
from blendkit.art.region_edits import Edits
from blendkit.art.shading import light_to_deg
from blendkit.errors import Problem, ProjectError
from blendkit.forms import At, Flag, Number, Numbers, Own, Record, Rows, Words
from blendkit.palette import name_key

Point = tuple[float, float]
Spot = int | Point
"""One closed area of the line image: its number on the map of areas, or a place in it, in mm."""
Loop = tuple[Point, ...]
"""A line around some areas."""
End = Spot | str
"""One side of an overlap: an area, or the name of a part with all its areas."""
Front = tuple[End, End]
"""What lies in front, and what it lies in front of."""

HIGHLIGHTS = ("paper", "light", "none", *BLENDER_WAYS[::-1])
"""What is left toward the light: bare paper, the light marker, nothing (an even base), what a colourless blender
lifts there, or white paper that it fades the base into."""
NO_SHADOW = "none"
"""In place of a shadow's name: the part is laid in plain base coats."""
ROLES = ("card", "mat", "accent", "ribbon")
SPIKES = ("bridge", "cut")
PAGES = ("A4", "Letter")
SHEETS = ("A4", "Letter", "12 x 12 in")
"""Sheets that the user's papers come in."""
UNITS = ("mm", "inch")

MAX_PARTS = 400
MAX_PAPERS = 40
MAX_PLACES = 4000
"""Most that a project holds: more is no colouring plan, but a mistake. Own judgement."""

_POINT = Numbers(2, -1000, 5000)
_PLACE_WORDS = "a place [x, y] in mm, or a list of such places"
_AREA = Number(1, whole=True)


def _read_places(value: Any, at: At) -> Any:
    """One place, or a list of them."""
    rows = [value] if _POINT.fits(value) else value
    if not isinstance(rows, list) or not 1 <= len(rows) <= MAX_PLACES:
        return at.fault(value, f"{_PLACE_WORDS}; area numbers go into areas")
    for row in rows:
        if not _POINT.fits(row):
            return at.fault(row, f"{_PLACE_WORDS}; area numbers go into areas")
    return tuple((float(x), float(y)) for x, y in rows)


def _read_areas(value: Any, at: At) -> Any:
    """The number of an area, or a list of them."""
    rows = value if isinstance(value, list) else [value]
    for row in rows:
        if not _AREA.fits(row):
            return at.fault(row, "the number of an area from 1, or a list of them")
    return tuple(rows)


def _read_loops(value: Any, at: At) -> Any:
    """One loop, or a list of them."""
    accepted = "three or more places [x, y] in mm around some areas, or a list of such loops"
    if not isinstance(value, list) or len(value) > MAX_PLACES:
        return at.fault(value, accepted)
    for loop in (loops := [value] if value and _POINT.fits(value[0]) else value):
        if not isinstance(loop, list) or len(loop) < 3 or not all(map(_POINT.fits, loop)):
            return at.fault(loop, accepted)
    return tuple(tuple((float(x), float(y)) for x, y in loop) for loop in loops)


def _read_end(value: Any) -> End | None:
    if isinstance(value, str) or _AREA.fits(value):
        return cast(End, value)
    return (float(value[0]), float(value[1])) if _POINT.fits(value) else None


def _read_fronts(value: Any, at: At) -> Any:
    """Pairs of what lies in front and what behind; those that can't be read are left out."""
    if not isinstance(value, list) or len(value) > MAX_PLACES:
        return at.fault(value, f"a list of at most {MAX_PLACES}")
    accepted = "[what lies in front, what lies behind], each a part's name, an area or a place"
    fronts = []
    for number, row in enumerate(value, 1):
        ends = [_read_end(end) for end in row] if isinstance(row, list) else []
        if len(ends) != 2 or None in ends:
            at.row(number).fault(row, accepted)
        else:
            fronts.append(tuple(ends))
    return tuple(fronts)


def _read_light_of_file(value: Any, at: At) -> Any:
    """A clock position or degrees: a whole number up to 12 is the former, every other number degrees."""
    if Number().fits(value):
        return f"{value}" if isinstance(value, int) and 1 <= value <= 12 else f"{value:g}°"
    try:
        read_light(value if isinstance(value, str) else "")
    except ProjectError:
        return at.fault(value, 'a clock position such as "10:30", or degrees such as "315°"')
    return value.strip()


def _check_part(part: "ProjectPart", given: Mapping[str, Any], at: At) -> None:
    """Note what is wrong between the fields of a part."""
    if not part.rest and not {"at", "areas", "around"} & set(given):
        at.of("at").fault(None, f"{_PLACE_WORDS}; or areas, around, or rest = true")
    if part.highlight == "light" and not part.light:
        at.of("highlight").fault("light", "a light marker as well, or highlight = paper or none")
    if part.leave_white and (part.base or part.light):
        accepted = "either markers or leave_white = true"
        at.of("leave_white").fault("true, and markers too", accepted, words=True)


_SHADOW_MM, _SOFTNESS_MM = Number(0.2, 100, "mm"), Number(0.1, 100, "mm")
_SIZE_MM = Number(1, 2000, "mm")


@dataclass(frozen=True, slots=True)
class ProjectPart:
    """A part as the colourist speaks of it: a jumper, a scarf; one closed area of the line image or many.

    Args:
        name: its name, unlike every other.
        at: places in mm; each gives it the closed area that lies there.
        areas: the same by number, as the map of areas shows them; they shift when the image is scanned anew.
        around: loops in mm; every area not named elsewhere whose middle lies inside one belongs to it.
        rest: True for the part that takes every area that no other part has.
        base: marker of the base coat; "" when it isn't chosen yet.
        shadow: marker of the shadow; "" to let the drawer choose, "none" for a plain base coat.
        light: marker toward the light, or "".
        highlight: one of :data:`HIGHLIGHTS`; None for "paper", or "light" where a light marker is named.
        leave_white: True when the part stays bare paper on purpose.
        shadow_mm: width of its shadow; None for the project's.
        softness_mm: width of the blend; None for the project's.
        order: layering order, one of ``advice.order.STYLES``.
        material: what it is made of, one of :data:`blendkit.art.material.MATERIALS`; "" to guess from its name.
        dark, bright: dabs of the person's own: places in mm where it is to be darker, or lighter.
        note: words for the table.
    """

    name: Annotated[str, Words(needed="the part's name, such as scarf")]
    at: Annotated[tuple[Point, ...], Own(_read_places)] = ()
    areas: Annotated[tuple[int, ...], Own(_read_areas)] = ()
    around: Annotated[tuple[Loop, ...], Own(_read_loops)] = ()
    rest: Annotated[bool, Flag()] = False
    base: Annotated[str, Words()] = ""
    shadow: Annotated[str, Words()] = ""
    light: Annotated[str, Words()] = ""
    highlight: Annotated[str | None, Words(HIGHLIGHTS)] = None
    leave_white: Annotated[bool, Flag()] = False
    shadow_mm: Annotated[float | None, _SHADOW_MM] = None
    softness_mm: Annotated[float | None, _SOFTNESS_MM] = None
    order: Annotated[str, Words(STYLES)] = STYLES[0]
    material: Annotated[str, Words(tuple(MATERIALS))] = ""
    dark: Annotated[tuple[Point, ...], Own(_read_places)] = ()
    bright: Annotated[tuple[Point, ...], Own(_read_places)] = ()
    note: Annotated[str, Words()] = ""

    @property
    def blender(self) -> tuple[str, ...]:
        """What a blender does to it, of ``advice.order.BLENDER_WAYS``; nothing where it has no ink."""
        here = self.base and not self.leave_white and self.highlight in BLENDER_WAYS
        return (self.highlight,) if here and self.highlight else ()

    @property
    def left_toward_light(self) -> str:
        """What is left toward the light, with the default put in."""
        return self.highlight or ("light" if self.light else "paper")


_PART = Record(ProjectPart, "tables, each opened by [[parts]]", _check_part)


@dataclass(frozen=True, slots=True)
class ProjectPaper:
    """A paper or ribbon of the card, and its size; None for a size that isn't decided."""

    role: Annotated[str, Words(ROLES)]
    name: Annotated[str, Words(needed="a paper's or ribbon's name")]
    width_mm: Annotated[float | None, _SIZE_MM] = None
    height_mm: Annotated[float | None, _SIZE_MM] = None


_PAPER = Record(ProjectPaper, "tables, each opened by [[papers]]", usual=(("role", ROLES[1]),))


@dataclass(frozen=True, slots=True)
class Greeting:
    """Stamped words: in which ink, how large, on which paper ("" for the paper that the image is on)."""

    words: Annotated[str, Words(needed="the words")]
    ink: Annotated[str, Words(needed="a stamp ink's name")]
    size_pt: Annotated[float, Number(3, 400, "pt")] = 18.0
    bold: Annotated[bool, Flag()] = False
    on: Annotated[str, Words()] = ""


@dataclass(frozen=True, slots=True)
class Cut:
    """The cut line around the figure.

    Args:
        rim_mm: white rim.
        spikes: "bridge" wraps hairs and other thin things in the rim; "cut" goes straight past them.
        thin_mm: what is narrower than this is thin.
        leave: places in mm, each on a piece apart from the figure that isn't cut out.
    """

    rim_mm: Annotated[float, Number(0, 50, "mm")] = 2.0
    spikes: Annotated[str, Words(SPIKES)] = SPIKES[0]
    thin_mm: Annotated[float, Number(0.1, 20, "mm")] = 2.0
    leave: Annotated[tuple[Point, ...], Own(_read_places)] = ()


@dataclass(frozen=True, slots=True)
class Project:
    """Everything that a colouring plan is made from.

    Args:
        image: the line image, as typed; a relative path starts at the project file's folder.
        path: the project file, or None for one that isn't written yet.
        name: title of the sheets.
        dpi: pixels an inch of the image; None with *width_mm* None for what the image file says.
        width_mm: width of the whole image on paper, in place of *dpi*.
        light: where the light comes from: a clock position ("10:30"), or degrees clockwise from the top
            ("315°").
        palette: the palette file, as typed; "" for the one that the command is given.
        paper: card stock that the image is coloured on; "" for the one that most swatches lie on.
        outline: ink of the stamped lines, or "".
        shadow_mm, softness_mm: width of the shadows and of their blend.
        gap_pen_widths: widest gap in a line that is closed, in widths of the pen.
        page: size of the printed sheets.
        units: what lengths are told in, one of :data:`UNITS`; "" for the one that goes with the page.
        sheet: what the papers are cut from, one of :data:`SHEETS`.
        parts: what is coloured.
        fronts: overlaps that the user has decided.
        edits: changes to the areas that were found, places as shares of the image.
        papers: card, mats, accents and ribbons.
        greeting: stamped words, or None.
        cut: the cut line.
        notes: words for the sheet.
    """

    image: Annotated[str, Words(needed="the line image's file name")]
    path: Path | None = None
    name: Annotated[str, Words()] = ""
    dpi: Annotated[float | None, Number(30, 4800, "pixels an inch")] = None
    width_mm: Annotated[float | None, Number(5, 2000, "mm")] = None
    light: Annotated[str, Own(_read_light_of_file)] = "10:30"
    palette: Annotated[str, Words()] = ""
    paper: Annotated[str, Words()] = ""
    outline: Annotated[str, Words()] = ""
    shadow_mm: Annotated[float, _SHADOW_MM] = 4.0
    softness_mm: Annotated[float, _SOFTNESS_MM] = 2.4
    gap_pen_widths: Annotated[float | None, Number(0, 20, "pen widths")] = None
    page: Annotated[str, Words(PAGES)] = PAGES[0]
    units: Annotated[str, Words(UNITS)] = ""
    sheet: Annotated[str, Words(SHEETS)] = SHEETS[0]
    parts: Annotated[tuple[ProjectPart, ...], Rows(_PART, most=MAX_PARTS, row="part")] = ()
    fronts: Annotated[tuple[Front, ...], Own(_read_fronts)] = ()
    edits: Annotated[Edits, Record(Edits, "a table, opened by [edits]")] = field(default_factory=Edits)
    papers: Annotated[tuple[ProjectPaper, ...], Rows(_PAPER, most=MAX_PAPERS, row="paper")] = ()
    greeting: Annotated[Greeting | None, Record(Greeting, "a table, opened by [greeting]")] = None
    cut: Annotated[Cut, Record(Cut, "a table, opened by [cut]")] = field(default_factory=Cut)
    notes: Annotated[str, Words()] = ""

    @property
    def title(self) -> str:
        """The name, or the image's own."""
        return self.name or Path(self.image).stem.replace("_", " ").replace("-", " ")

    @property
    def light_deg(self) -> float:
        """Where the light comes from, degrees clockwise from the top, 0 up to 360."""
        return read_light(self.light)

    @property
    def told_in(self) -> str:
        """What lengths are told in, one of :data:`UNITS`: where none is chosen, inches go with Letter."""
        return self.units or ("inch" if self.page == "Letter" else "mm")

    @property
    def image_path(self) -> Path:
        """The line image's file."""
        return self._beside(self.image)

    @property
    def palette_path(self) -> Path | None:
        """The palette file, or None when the project names none."""
        return self._beside(self.palette) if self.palette else None

    def _beside(self, name: str) -> Path:
        folder = self.path.parent if self.path is not None else Path()
        return folder / Path(name).expanduser()

    def part(self, name: str) -> ProjectPart:
        """Give the part called *name*; case and spacing don't matter.

        Raises: ProjectError with the names that there are.
        """
        return self.parts[self.place_of(name)]

    def place_of(self, name: str) -> int:
        """Give the place, from 0, of the part called *name*. Raises: as :meth:`part`."""
        for place, part in enumerate(self.parts):
            if name_key(part.name) == name_key(name):
                return place
        known = "; ".join(part.name for part in self.parts if part.name) or "none yet"
        raise ProjectError(
            f"The project has no part called {name!r}.", [Problem("part", repr(name), f"one of: {known}")]
        )

    def with_part(self, name: str, /, **changes: Any) -> "Project":
        """Give the project with some fields of one part changed. Raises: as :meth:`part`."""
        place = self.place_of(name)
        changed = replace(self.parts[place], **changes)
        return replace(self, parts=(*self.parts[:place], changed, *self.parts[place + 1 :]))


def read_light(text: str) -> float:
    """Degrees clockwise from the top for "10:30", "2" or "315°".

    Raises: ProjectError when it is neither a clock position nor degrees.
    """
    words = text.strip().removesuffix("°").removesuffix("deg").strip()
    if words != text.strip():
        try:
            degrees = float(words)
        except ValueError:
            degrees = math.nan
        if not math.isfinite(degrees):
            raise ProjectError(
                f"light: “{text}” is no direction; give a clock position such as 10:30, or 315°"
            )
        return degrees % 360.0
    return light_to_deg(words)
