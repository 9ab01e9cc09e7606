"""Beginning a project from a line image alone."""

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from blendkit.art.regions import Part
from blendkit.errors import ProjectError
from blendkit.palette import replace_file
from blendkit.project.records import Project, ProjectPart
from blendkit.project.work import Work, assumed_scale_note, open_work
from blendkit.project.writing import write_project
from blendkit.words import Progress

MOST_PARTS = 10
"""Only so many areas are asked for; all others are one part. Own judgement."""

SIZES = ((0.08, "large"), (0.02, "mid-sized"), (0.0, "small"))
"""Words for an area's share of the figure, from which each holds; own judgement."""

REST, PAPER = "all the rest", "background paper"
PAPER_EDGE = 0.2
"""An area along the picture's edge for this share of its box's width and height is paper sealed off by a line,
such as the corner between a ground line and the edge; own judgement."""

_CHOICES = """\
# To choose, take the # away and put your own names:
# palette = "my-markers.csv"    # without it the invented demo palette
# paper = "name of the paper"   # without it the palette's first
# light = "10:30"               # where the light comes from, on a clock face
# outline = "name of the ink"   # that the lines are stamped in
"""

_GREETING = """
# [greeting]
# words = "With love"
# ink = "name of the ink"
# size_pt = 18
"""


@dataclass(frozen=True, slots=True)
class Started:
    """A project just begun.

    Args:
        project: as it was written; its parts have no markers yet.
        words: what to know and to do next.
    """

    project: Project
    words: tuple[str, ...]


def start_project(picture: Path, file: Path, progress: Progress | None = None) -> Started:
    """Write a project file with a part for each of the ten largest areas of a line image, and one for the rest.

    Comments in it tell what else may be chosen, and which scale was assumed if the image states none.

    Args:
        picture: the line image.
        file: the project file, which must not be there yet.
        progress: told each step before it starts.

    Returns: the project as written, and what to know.
    Raises: PictureError for an image that can't be used; ProjectError when the file is there already.
    """
    if file.exists():
        raise ProjectError(f"{file} is there already; name a new file, or take the old one away first.")
    if file.suffix.lower() != ".toml":
        raise ProjectError(f"{file}: a project file's name ends in .toml.")
    image = os.path.relpath(picture.resolve(), file.resolve().parent)
    project = Project(image=Path(image).as_posix(), path=file.resolve())
    work = open_work(project, None, progress)
    paper = sealed_paper(work)
    total = sum(one.area_px for one in work.regions.parts)
    wanted = [one for one in work.regions.parts if one.number not in paper]
    assumed = assumed_scale_note(picture.name) in work.notes
    per_mm = None if assumed else work.per_mm
    names = name_areas(wanted[:MOST_PARTS], work.regions.size_px, total)
    parts = [_part(name, one, per_mm) for name, one in zip(names, wanted[:MOST_PARTS], strict=True)]
    if len(wanted) > MOST_PARTS:
        parts.append(ProjectPart(REST, rest=True))
    sealed = [one for one in work.regions.parts if one.number in paper]
    if sealed:
        spots = [_part(PAPER, one, per_mm) for one in sealed]
        at, areas = (tuple(x for one in spots for x in getattr(one, key)) for key in ("at", "areas"))
        parts.append(ProjectPart(PAPER, at=at, areas=areas, leave_white=True))
    width_mm = round(work.size_mm[0], 1)
    written = write_project(file, Project(image=project.image, width_mm=width_mm, parts=tuple(parts)))
    map_words = f"To see every area with its number: blendkit plan {file.name} --areas areas.pdf"
    words = [map_words]
    scale = ""
    if assumed:
        size = (
            f"The image doesn't say how large it is, so {work.dpi:.0f} dpi was assumed: {width_mm:g} mm wide."
        )
        scale = f"# {size}\n# If that is wrong, put the right width_mm here, or dpi = … in its place.\n"
        words.insert(
            0, f"{size} If that is wrong, set width_mm in {file.name} (or dpi in its place) before you go on."
        )
    _put_comments(file, scale, map_words)
    return Started(written, tuple(words))


def name_areas(areas: Sequence[Part], size_px: tuple[int, int], total_px: int) -> tuple[str, ...]:
    """Name areas by size and place, such as "large, top left"; alike ones are numbered.

    Args:
        areas: the areas.
        size_px: width and height of the picture.
        total_px: all areas of the figure together.
    """
    wide, high = size_px
    seen: dict[str, int] = {}
    names = []
    for one in areas:
        size = next(word for share, word in SIZES if one.area_px >= share * total_px)
        across = ("left", "", "right")[min(2, int(3 * one.point_px[0] / wide))]
        down = ("top", "", "bottom")[min(2, int(3 * one.point_px[1] / high))]
        name = f"{size}, {' '.join(word for word in (down, across) if word) or 'middle'}"
        seen[name] = seen.get(name, 0) + 1
        names.append(name if seen[name] == 1 else f"{name}, {seen[name]}")
    return tuple(names)


def sealed_paper(work: Work) -> frozenset[int]:
    """Numbers of the areas that are background: the drawing has sealed them off along the picture's edge."""
    labels = work.regions.labels
    edge = np.concatenate([labels[0], labels[-1], labels[:, 0], labels[:, -1]])
    along = np.bincount(edge, minlength=len(work.regions.parts) + 1)
    return frozenset(
        one.number
        for one in work.regions.parts
        if along[one.number] >= PAPER_EDGE * (one.box_px[2] + one.box_px[3])
    )


def _part(name: str, area: Part, per_mm: float | None) -> ProjectPart:
    """A part for one area, by its place; by its number where the scale, and so each place, may yet change."""
    if per_mm is None:
        return ProjectPart(name, areas=(area.number,))
    return ProjectPart(name, at=((round(area.point_px[0] / per_mm, 1), round(area.point_px[1] / per_mm, 1)),))


def _put_comments(file: Path, scale: str, map_words: str) -> None:
    """Put comments into a file just written: the scale's above the width, then the choices, the parts' words."""
    top, header, rest = file.read_text(encoding="utf-8").partition("[[parts]]")
    top = top.replace("width_mm", f"{scale}width_mm", 1).rstrip("\n")
    words = f"# {map_words}\n# Give each part a name and its markers: base, shadow, light.\n"
    text = f"{top}\n\n{_CHOICES}\n{words}{header}{rest.rstrip()}\n{_GREETING}"
    replace_file(file, text.encode())
