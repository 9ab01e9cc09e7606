"""Beginning a project from a line image alone."""

import os
from pathlib import Path

from blendkit.errors import ProjectError
from blendkit.sheets.project_file import write_project
from blendkit.sheets.project_records import Project, ProjectPart
from blendkit.sheets.work import Progress, open_work

__all__ = ["start_project"]

MOST_PARTS = 24
LEAST_SHARE = 0.004
"""Areas smaller than this share of the figure are left to be added by hand."""


def start_project(picture: Path, file: Path, progress: Progress | None = None) -> Project:
    """Write a project file with one part for each of the larger areas of a line image.

    Args:
        picture: the line image.
        file: the project file, which must not be there yet.
        progress: told each step before it starts.

    Returns: the project as written; its parts have no markers yet.
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
    parts = tuple(
        ProjectPart(
            f"part {one.number}",
            at=((round(one.point_px[0] / work.per_mm, 1), round(one.point_px[1] / work.per_mm, 1)),),
        )
        for one in large
    )
    width_mm = None if project.dpi is not None else round(work.size_mm[0], 1)
    return write_project(file, Project(image=project.image, width_mm=width_mm, parts=parts))
