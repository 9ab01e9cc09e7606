"""A project at work: what its line image gives, kept apart from the markers, so that a new colour costs little.

Reading the image, finding its closed areas and raising their relief take most of a second; shading under
another light takes about a third of one; a changed marker only another row of colours. :func:`open_work` keeps
from an earlier :class:`Work` whatever the change has left as it was.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendkit.art.depth import Fronts, find_fronts, flip_fronts
from blendkit.art.material import MATERIALS, PLAIN, Material, guess_material, is_flat, is_raised
from blendkit.art.prepare import prepare
from blendkit.art.regions import Regions, find_regions
from blendkit.art.relief import Relief, find_relief
from blendkit.art.shading import ShadeMap, diffuse_dabs, shade
from blendkit.errors import PictureError, Problem, ProjectError
from blendkit.palette import name_key
from blendkit.picture import read_picture
from blendkit.project.records import End, Loop, Point, Project, ProjectPart, Spot
from blendkit.words import MM_PER_INCH, Progress, within

ASSUMED_DPI = 300.0
"""Scale of an image that doesn't state one."""

SCREEN_DPI = 100.0
"""No more pixels an inch than this are a screen's or camera's filler, no scale. Common practice, no source."""

MAX_WORK_PIXELS = 45_000_000
"""Largest line image that is worked on: a page of A4 at 600 pixels an inch is 35 million."""


@dataclass(frozen=True, eq=False)
class Work:
    """A line image with its areas given to the project's parts.

    Args:
        project: the project.
        regions: the closed areas of the image.
        fronts: which of two touching areas lies in front, the user's decisions included.
        relief: domes of the areas.
        shades: tones under the project's light, each part with its own widths.
        areas: for each part of the project the numbers of its areas.
        free: numbers of the areas that no part has.
        dpi: pixels an inch.
        notes: what to tell the person.
        picture_from_work: 3 x 3, from pixels of *regions* to those of the picture, where the tool straightened
            it; else None.
        card_srgb255: the card's colour where the ink is paler than the card; else None.
    """

    project: Project
    regions: Regions = field(repr=False)
    fronts: Fronts = field(repr=False)
    relief: Relief = field(repr=False)
    shades: ShadeMap = field(repr=False)
    areas: tuple[tuple[int, ...], ...]
    free: tuple[int, ...]
    dpi: float
    notes: tuple[str, ...]
    guessed: Fronts = field(repr=False)
    picture_from_work: NDArray[np.float64] | None = field(repr=False)
    card_srgb255: tuple[int, int, int] | None
    made_from: tuple[Any, ...] = field(repr=False)

    @property
    def size_mm(self) -> Point:
        """Width and height of the image on paper."""
        width, height = self.regions.size_px
        return width * MM_PER_INCH / self.dpi, height * MM_PER_INCH / self.dpi

    @property
    def per_mm(self) -> float:
        """Pixels to a millimetre."""
        return self.dpi / MM_PER_INCH

    def part_of(self) -> NDArray[np.int32]:
        """For each area, from 0 for the paper around, the part that has it, from 1; 0 where none has."""
        table = np.zeros(len(self.regions.parts) + 1, np.int32)
        for number, areas in enumerate(self.areas, 1):
            table[list(areas)] = number
        return table

    def area_at(self, place: Point) -> int:
        """The area at a place in mm; 0 for the paper around and beyond the image."""
        x, y = int(place[0] * self.per_mm), int(place[1] * self.per_mm)
        width, height = self.regions.size_px
        return int(self.regions.labels[y, x]) if 0 <= x < width and 0 <= y < height else 0


def open_work(project: Project, previous: Work | None = None, progress: Progress | None = None) -> Work:
    """Read a project's image, find its areas and shade them.

    Args:
        project: the project.
        previous: earlier work on the same project; what hasn't changed is taken from it.
        progress: told each step before it starts.

    Returns: the work.
    Raises: PictureError for an image that can't be read or has no closed lines; ProjectError for areas, places,
        parts or overlaps that are not there, all together.
    """
    tell = within(progress, 0.0, 1.0)
    source = _source(project)
    if previous is not None and previous.made_from == source:
        regions, guessed, dpi, notes = previous.regions, previous.guessed, previous.dpi, previous.notes
        straight, card = previous.picture_from_work, previous.card_srgb255
    else:
        tell(0.05, "image")
        regions, dpi, notes, straight, card = _read_regions(project, tell)
        tell(0.5, "fronts")
        guessed = find_fronts(regions.labels, regions.line, dpi)
    problems: list[Problem] = []
    areas, free = _give_areas(project, regions, dpi, problems)
    fronts = _decided(project, regions, guessed, areas, dpi, problems)
    if problems:
        file = project.path.name if project.path is not None else "The project"
        raise ProjectError(f"{file} names what is not in {project.image}.", problems)
    same_relief = (
        previous is not None
        and previous.regions is regions
        and np.array_equal(previous.fronts.first_in_front, fronts.first_in_front)
        and np.array_equal(previous.fronts.beside, fronts.beside)
        and _relief_key(previous.project, previous.areas) == _relief_key(project, areas)
    )
    if previous is not None and same_relief:
        relief = previous.relief
    else:
        tell(0.65, "relief")
        relief = _find_relief(project, regions, fronts, areas, dpi)
    if (
        previous is not None
        and same_relief
        and _shade_key(previous.project, previous.areas) == _shade_key(project, areas)
    ):
        shades = previous.shades
    else:
        tell(0.85, "shades")
        width, height = regions.size_px
        size_mm = width * MM_PER_INCH / dpi, height * MM_PER_INCH / dpi
        shades = _shade(project, relief, areas, size_mm)
    return Work(
        project, regions, fronts, relief, shades, areas, free, dpi, notes, guessed, straight, card, source
    )


def recolour(work: Work, part: str, /, **markers: str) -> Work:
    """Give the work with other markers in one part; nothing is computed.

    Args:
        work: the work.
        part: the part's name.
        markers: ``base``, ``shadow``, ``light``; those not given stay.

    Raises: ProjectError when there is no such part.
    """
    return replace(work, project=work.project.with_part(part, **markers))


def relight(work: Work, light: str) -> Work:
    """Give the work under light from elsewhere: a clock position, or degrees with “°”."""
    return open_work(replace(work.project, light=light), work)


def _source(project: Project) -> tuple[Any, ...]:
    """What the areas hang on."""
    path = project.image_path
    try:
        stat = path.stat()
        file = (stat.st_mtime_ns, stat.st_size)
    except OSError:
        file = (0, -1)
    return str(path), *file, project.dpi, project.width_mm, project.gap_pen_widths, project.edits


def assumed_scale_note(picture_name: str) -> str:
    """Say that an image states no scale, and what to do."""
    return (
        f"{picture_name} doesn't say how large it is, so {ASSUMED_DPI:.0f} pixels an inch are assumed; "
        "put its width_mm or dpi into the project."
    )


def _read_regions(
    project: Project, tell: Progress
) -> tuple[Regions, float, tuple[str, ...], NDArray[np.float64] | None, tuple[int, int, int] | None]:
    picture = read_picture(project.image_path, max_pixels=MAX_WORK_PIXELS)
    try:
        ready = prepare(picture.pixels)
    except PictureError as error:
        raise PictureError(f"{project.image}: {error.message}", error.problems) from None
    notes: list[str] = list(ready.notes)
    if project.dpi is not None:
        dpi = project.dpi
    elif project.width_mm is not None:
        dpi = ready.pixels.shape[1] * MM_PER_INCH / project.width_mm
    elif picture.dpi is not None and picture.dpi > SCREEN_DPI:
        dpi = picture.dpi
    else:
        dpi = ASSUMED_DPI
        notes.append(assumed_scale_note(picture.name))
    gap = {} if project.gap_pen_widths is None else {"gap_pen_widths": project.gap_pen_widths}
    tell(0.2, "areas")
    try:
        regions = find_regions(ready.pixels, dpi=dpi, edits=project.edits, **gap)
    except PictureError as error:
        raise PictureError(f"{project.image}: {error.message}", error.problems) from None
    return regions, dpi, (*notes, *regions.notes), ready.picture_from_work, ready.card_srgb255


# ---------------------------------------------------------------- areas to parts


def _give_areas(
    project: Project, regions: Regions, dpi: float, problems: list[Problem]
) -> tuple[tuple[tuple[int, ...], ...], tuple[int, ...]]:
    """Give every part its areas: first those named, then those that a loop goes around, then the rest."""
    finder = _Finder(project, regions, dpi, problems)
    owner: dict[int, int] = {}
    for place, part in enumerate(project.parts):
        spots: tuple[Spot, ...] = (*part.at, *part.areas)
        for spot in spots:
            key = "areas" if isinstance(spot, int) else "at"
            area = finder.area(spot, f"{finder.file}, part {part.name}, {key}")
            if area and owner.setdefault(area, place) != place:
                other = project.parts[owner[area]].name
                problems.append(
                    Problem(
                        f"{finder.file}, part {part.name}, {key}",
                        f"{_spot_words(spot)}, which is part {other}'s already",
                        "each area in one part",
                    )
                )
    for place, part in enumerate(project.parts):
        if part.around:
            inside = [area for area in finder.areas_within(part.around) if area not in owner]
            owner |= dict.fromkeys(inside, place)
            if not inside and not part.at and not part.areas:
                accepted = "a loop, in mm, around areas that no other part names"
                problems.append(Problem(f"{finder.file}, part {part.name}, around", "no free area", accepted))
    for place, part in enumerate(project.parts):
        if part.rest:
            owner |= {one.number: place for one in regions.parts if one.number not in owner}
    numbers = [one.number for one in regions.parts]
    areas = tuple(
        tuple(number for number in numbers if owner.get(number) == place)
        for place in range(len(project.parts))
    )
    return areas, tuple(number for number in numbers if number not in owner)


class _Finder:
    """Finds areas by number and place, and notes those that are not there."""

    def __init__(self, project: Project, regions: Regions, dpi: float, problems: list[Problem]) -> None:
        self.file = project.path.name if project.path is not None else "project"
        self.regions = regions
        self.per_mm = dpi / MM_PER_INCH
        self.problems = problems
        self.middles_mm = np.array([one.point_px for one in regions.parts]) / self.per_mm

    def area(self, spot: Spot, where: str) -> int:
        """Number of an area, or 0 with the fault noted."""
        count = len(self.regions.parts)
        if isinstance(spot, int):
            if spot > count:
                accepted = f"an area from 1 to {count}; see them with: blendkit plan PROJECT --areas map.pdf"
                self.problems.append(Problem(where, f"area {spot}", accepted))
                return 0
            return spot
        width, height = self.regions.size_px
        x, y = spot[0] * self.per_mm, spot[1] * self.per_mm
        if not (0 <= x < width and 0 <= y < height):
            size = f"0 to {width / self.per_mm:.1f} across and 0 to {height / self.per_mm:.1f} down"
            self.problems.append(
                Problem(where, f"{_spot_words(spot)}, beyond the image", f"a place on the image: {size} mm")
            )
            return 0
        area = int(self.regions.labels[int(y), int(x)])
        if not area:
            nearest = int(np.argmin(np.hypot(*(self.middles_mm - np.array(spot)).T)))
            near = self.middles_mm[nearest]
            self.problems.append(
                Problem(
                    where,
                    f"{_spot_words(spot)}, the paper around the figure",
                    f"a place inside a closed area; the nearest middle is [{near[0]:.1f}, {near[1]:.1f}]",
                )
            )
        return area

    def areas_within(self, loops: Iterable[Loop]) -> list[int]:
        """Numbers of the areas whose middles one of some loops goes around."""
        import cv2

        inside = np.zeros(len(self.middles_mm), bool)
        for loop in loops:
            corners = np.array(loop, np.float32)[:, None]
            inside |= [
                cv2.pointPolygonTest(corners, (float(x), float(y)), False) >= 0 for x, y in self.middles_mm
            ]
        return [one.number for one, within in zip(self.regions.parts, inside, strict=True) if within]


def _spot_words(spot: Spot) -> str:
    return f"area {spot}" if isinstance(spot, int) else f"[{spot[0]:g}, {spot[1]:g}]"


def _decided(
    project: Project,
    regions: Regions,
    guessed: Fronts,
    areas: tuple[tuple[int, ...], ...],
    dpi: float,
    problems: list[Problem],
) -> Fronts:
    """Fronts with the project's decisions; between named parts, wherever their areas touch."""
    whole = not problems  # where areas are missing, who touches whom is not known yet
    finder = _Finder(project, regions, dpi, problems)
    touching = {(int(a), int(b)) for a, b in guessed.pairs} | {(int(b), int(a)) for a, b in guessed.pairs}
    decisions: list[tuple[int, int]] = []
    for number, ends in enumerate(project.fronts, 1):
        where = f"{finder.file}, fronts, entry {number}"
        front, behind = (_areas_of(project, areas, finder, end, where) for end in ends)
        pairs = [(a, b) for a in front for b in behind if (a, b) in touching]
        if whole and front and behind and not pairs:
            shown = " and ".join(end if isinstance(end, str) else _spot_words(end) for end in ends)
            problems.append(Problem(where, f"{shown}, which do not touch", "two that share a line"))
        decisions += pairs
    return flip_fronts(guessed, decisions) if decisions else guessed


def _same(one: str, other: str) -> bool:
    return name_key(one) == name_key(other)


def _areas_of(
    project: Project, areas: tuple[tuple[int, ...], ...], finder: _Finder, end: End, where: str
) -> tuple[int, ...]:
    if isinstance(end, str):
        # a name of no part is a fault of the project's text, told with it
        return next(
            (own for part, own in zip(project.parts, areas, strict=True) if _same(part.name, end)), ()
        )
    area = finder.area(end, where)
    return (area,) if area else ()


# ---------------------------------------------------------------- shading


def material_of(part: ProjectPart) -> Material:
    """What a part is made of: as the project says, or guessed from its name."""
    return MATERIALS.get(part.material) or guess_material(part.name)


def _each_area(
    project: Project, areas: tuple[tuple[int, ...], ...], count: int, value: Callable[[ProjectPart], Any]
) -> list[Any]:
    """A value for every area, the outside first; None where no part has it."""
    each: list[Any] = [None] * (count + 1)
    for part, numbers in zip(project.parts, areas, strict=True):
        for number in numbers:
            each[number] = value(part)
    return each


def _relief_key(project: Project, areas: tuple[tuple[int, ...], ...]) -> tuple[Any, ...]:
    """What the relief hangs on beside areas and fronts: who is coloured alike, and what stands out."""
    return areas, tuple((is_raised(part.name), is_flat(part.name)) for part in project.parts)


def _find_relief(
    project: Project, regions: Regions, fronts: Fronts, areas: tuple[tuple[int, ...], ...], dpi: float
) -> Relief:
    owner = np.zeros(len(regions.parts) + 1, np.int64)
    for number, numbers in enumerate(areas, 1):
        owner[list(numbers)] = number if not project.parts[number - 1].leave_white else 0
    raised, flat = (
        [
            number
            for part, numbers in zip(project.parts, areas, strict=True)
            if says(part.name)
            for number in numbers
        ]
        for says in (is_raised, is_flat)
    )
    return find_relief(regions.labels, regions.line, fronts, dpi, owner, raised, flat)


def _shade_key(project: Project, areas: tuple[tuple[int, ...], ...]) -> tuple[Any, ...]:
    each = tuple(
        (part.shadow_mm, part.softness_mm, material_of(part), part.dark, part.bright)
        for part in project.parts
    )
    return project.light_deg, project.shadow_mm, project.softness_mm, each, areas


def _dabs(project: Project, size_mm: Point) -> list[tuple[float, float, float]]:
    """The person's dabs: places as shares of the image, 1 for dark and -1 for light."""
    return [
        (place[0] / size_mm[0], place[1] / size_mm[1], sign)
        for part in project.parts
        for sign, places in ((1.0, part.dark), (-1.0, part.bright))
        for place in places
    ]


def _shade(project: Project, relief: Relief, areas: tuple[tuple[int, ...], ...], size_mm: Point) -> ShadeMap:
    """Shade all areas, each with its part's widths and of its part's stuff."""
    count = relief.parts
    width = _each_area(project, areas, count, lambda part: part.shadow_mm)
    softness = _each_area(project, areas, count, lambda part: part.softness_mm)
    materials = _each_area(project, areas, count, material_of)
    return shade(
        relief,
        project.light_deg,
        np.array([project.shadow_mm if one is None else one for one in width]),
        np.array([project.softness_mm if one is None else one for one in softness]),
        materials=[one or PLAIN for one in materials],
        dabs=diffuse_dabs(relief, _dabs(project, size_mm)),
    )
