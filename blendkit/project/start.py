"""Beginning a project from a line image alone."""

import os
from dataclasses import dataclass
from pathlib import Path

from blendkit.art.regions import Part
from blendkit.errors import ProjectError
from blendkit.palette import replace_file
from blendkit.project.records import Project, ProjectPart
from blendkit.project.work import Progress, assumed_scale_note, open_work
from blendkit.project.writing import write_project

MOST_PARTS = 24
LEAST_SHARE = 0.004
"""Areas smaller than this share of the figure are left to be added by hand."""

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
    """Write a project file with one part for each of the larger areas of a line image.

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
    total = sum(one.area_px for one in work.regions.parts)
    large = [one for one in work.regions.parts if one.area_px >= LEAST_SHARE * total][:MOST_PARTS]
    assumed = assumed_scale_note(picture.name) in work.notes
    parts = tuple(_part(one, None if assumed else work.per_mm) for one in large)
    width_mm = round(work.size_mm[0], 1)
    written = write_project(file, Project(image=project.image, width_mm=width_mm, parts=parts))
    map_words = f"Part N is area N of the map: blendkit plan {file.name} --areas areas.pdf"
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


def _part(area: Part, per_mm: float | None) -> ProjectPart:
    """A part for one area, by its place; by its number where the scale, and so each place, may yet change."""
    name = f"part {area.number}"
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
