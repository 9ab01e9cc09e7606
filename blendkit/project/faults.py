"""All faults of a project in one answer: its text, keys, names that the palette lacks, its image and places."""

from collections.abc import Callable, Sequence

from blendkit.errors import BlendkitError, PaletteError, PictureError, Problem, ProjectError
from blendkit.palette import Palette
from blendkit.project.part_colours import find_unknown_names
from blendkit.project.reading import to_mend
from blendkit.project.records import Project
from blendkit.project.work import open_work


def join_faults(
    error: BlendkitError,
    project: Project,
    found: Sequence[Problem],
    open_drawer: Callable[[Project], Palette],
) -> BlendkitError:
    """Give an error with every fault of a project, where working on it met the first of them.

    Args:
        error: what was met; with *found* it is that there are such faults.
        project: what could be read of it.
        found: the faults of its file.
        open_drawer: gives the drawer that the project is planned with.

    Returns: *error* itself when there is no more to tell.
    """
    where = project.path.name if project.path is not None else "project"
    problems = list(found)
    try:
        problems += find_unknown_names(project, open_drawer(project))
    except PaletteError as other:
        problems += _told(other, f"{where}, palette")
    if project.image and (found or isinstance(error, PaletteError)):  # else the image has been looked at
        try:
            open_work(project)
        except (ProjectError, PictureError) as other:
            problems += _told(other, f"{where}, image")
    elif isinstance(error, PictureError):
        problems += _told(error, f"{where}, image")
    every: tuple[Problem, ...] = tuple(dict.fromkeys((*problems, *_own(error))))
    return error if len(every) <= max(1, len(error.problems)) else to_mend(where, every)


def _own(error: BlendkitError) -> tuple[Problem, ...]:
    """Problems of the error that was met; one of a palette or a picture is among those found again."""
    return error.problems if isinstance(error, ProjectError) else ()


def _told(error: BlendkitError, where: str) -> tuple[Problem, ...]:
    """The problems of an error, or its sentence as one."""
    if isinstance(error, ProjectError):
        return error.problems
    sentence, *_ = error.message.splitlines()
    accepted = error.problems[0].accepted if len(error.problems) == 1 else "a file that can be read"
    return (Problem(where, sentence.rstrip("."), accepted),)
