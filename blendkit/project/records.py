"""A project as frozen records: a line image, its parts with their markers, its papers and its greeting.

Lengths are millimetres; places are millimetres from the image's top left corner, x to the right and y down.
"""

import math
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from blendkit.advice.order import BLENDER_WAYS, STYLES
from blendkit.art.region_edits import Edits
from blendkit.art.shading import light_to_deg
from blendkit.errors import Problem, ProjectError
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

    name: str
    at: tuple[Point, ...] = ()
    areas: tuple[int, ...] = ()
    around: tuple[Loop, ...] = ()
    rest: bool = False
    base: str = ""
    shadow: str = ""
    light: str = ""
    highlight: str | None = None
    leave_white: bool = False
    shadow_mm: float | None = None
    softness_mm: float | None = None
    order: str = STYLES[0]
    material: str = ""
    dark: tuple[Point, ...] = ()
    bright: tuple[Point, ...] = ()
    note: str = ""

    @property
    def blender(self) -> tuple[str, ...]:
        """What a blender does to it, of ``advice.order.BLENDER_WAYS``; nothing where it has no ink."""
        here = self.base and not self.leave_white and self.highlight in BLENDER_WAYS
        return (self.highlight,) if here and self.highlight else ()

    @property
    def left_toward_light(self) -> str:
        """What is left toward the light, with the default put in."""
        return self.highlight or ("light" if self.light else "paper")


@dataclass(frozen=True, slots=True)
class ProjectPaper:
    """A paper or ribbon of the card, and its size; None for a size that isn't decided."""

    role: str
    name: str
    width_mm: float | None = None
    height_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Greeting:
    """Stamped words: in which ink, how large, on which paper ("" for the paper that the image is on)."""

    words: str
    ink: str
    size_pt: float = 18.0
    bold: bool = False
    on: str = ""


@dataclass(frozen=True, slots=True)
class Cut:
    """The cut line around the figure.

    Args:
        rim_mm: white rim.
        spikes: "bridge" wraps hairs and other thin things in the rim; "cut" goes straight past them.
        thin_mm: what is narrower than this is thin.
        leave: places in mm, each on a piece apart from the figure that isn't cut out.
    """

    rim_mm: float = 2.0
    spikes: str = SPIKES[0]
    thin_mm: float = 2.0
    leave: tuple[Point, ...] = ()


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
        units: what lengths are told in, one of :data:`UNITS`; "" for both.
        sheet: what the papers are cut from, one of :data:`SHEETS`.
        parts: what is coloured.
        fronts: overlaps that the user has decided.
        edits: changes to the areas that were found, places as shares of the image.
        papers: card, mats, accents and ribbons.
        greeting: stamped words, or None.
        cut: the cut line.
        notes: words for the sheet.
    """

    image: str
    path: Path | None = None
    name: str = ""
    dpi: float | None = None
    width_mm: float | None = None
    light: str = "10:30"
    palette: str = ""
    paper: str = ""
    outline: str = ""
    shadow_mm: float = 4.0
    softness_mm: float = 2.4
    gap_pen_widths: float | None = None
    page: str = PAGES[0]
    units: str = ""
    sheet: str = SHEETS[0]
    parts: tuple[ProjectPart, ...] = ()
    fronts: tuple[Front, ...] = ()
    edits: Edits = field(default_factory=Edits)
    papers: tuple[ProjectPaper, ...] = ()
    greeting: Greeting | None = None
    cut: Cut = field(default_factory=Cut)
    notes: str = ""

    @property
    def title(self) -> str:
        """The name, or the image's own."""
        return self.name or Path(self.image).stem.replace("_", " ").replace("-", " ")

    @property
    def light_deg(self) -> float:
        """Where the light comes from, degrees clockwise from the top, 0 up to 360."""
        return read_light(self.light)

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
