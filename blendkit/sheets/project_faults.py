"""All faults of a project in one answer: keys, names that the palette lacks, and places that are not there."""

from dataclasses import replace
from pathlib import Path

from blendkit.errors import BlendkitError, Problem, ProjectError
from blendkit.palette import Palette
from blendkit.sheets.part_colours import find_unknown_names
from blendkit.sheets.project import read_faulty_project
from blendkit.sheets.work import open_work

__all__ = ["join_faults"]


def join_faults(error: ProjectError, file: Path, palette: Palette | None) -> ProjectError:
    """Give an error with every fault of a project, where reading it or working on it met the first of them.

    Args:
        error: what was met.
        file: the project file.
        palette: the drawer, if it could be read.

    Returns: *error* itself when there is no more to tell.
    """
    try:
        project, found = read_faulty_project(file)
    except ProjectError:
        return error
    problems = list(found)
    if palette is not None:
        problems += find_unknown_names(project, palette)
    try:
        # fronts that name no part are among the faults found already
        open_work(replace(project, fronts=()) if found else project)
    except BlendkitError as other:
        problems += other.problems if isinstance(other, ProjectError) else ()
    every: tuple[Problem, ...] = tuple(dict.fromkeys((*problems, *error.problems)))
    if not error.problems or len(every) == len(error.problems):
        return error
    return ProjectError(f"{file.name} has {len(every)} things to mend.", every)
