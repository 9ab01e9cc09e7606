"""The projects' calls: list, open, draw, check and print; changes are in project_edits."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from blendkit.art.preview import LOOKS, draw_line_table, in_look
from blendkit.art.shading import LAYERS, leave_out
from blendkit.desk.calls import Call, ask, question
from blendkit.desk.files import File, Upload
from blendkit.desk.looks import shown, version_rows
from blendkit.desk.project_desk import OPEN_DRAWING, Desk, OpenProject
from blendkit.desk.project_edits import (
    PartAsked,
    PartMarkers,
    ProjectAsked,
    add_dab,
    add_part,
    edit_areas,
    give_area,
    group,
    redo_project,
    remove_part,
    set_front,
    set_greeting,
    set_paper,
    set_part,
    set_project,
    told,
    undo_project,
)
from blendkit.desk.project_view import draw_map, draw_tones, ramp_text, view_of, view_questions
from blendkit.errors import BlendkitError
from blendkit.inked import Inked
from blendkit.palette import Palette, name_key
from blendkit.plan.check import check_plan
from blendkit.plan.making import make_plan
from blendkit.project.part_colours import PartColours, colour_parts, line_srgb255, paint_work
from blendkit.project.reading import read_project
from blendkit.project.work import Work
from blendkit.words import Progress

FORMS = ("plan", "handout", "areas", "preview", "cut")
"""The plan sheet, the class form, the map of areas, the coloured preview, the cut line."""


@dataclass(frozen=True)
class MadeForm:
    """A file that was made: its bytes, media type and the ending of its name."""

    data: bytes
    media_type: str
    ending: str


def draw_form(
    form: str,
    work: Work,
    palette: Palette,
    inked: Inked,
    colours: Sequence[PartColours],
    look: str,
    progress: Progress,
) -> MadeForm:
    """Make one of :data:`FORMS`.

    Args:
        form: which.
        work: the project at work.
        palette: the drawer.
        inked: the drawer on the project's paper.
        colours: the parts' colours.
        look: one of LOOKS, for the coloured picture.
        progress: told how far it is.

    Returns: the file.
    Raises: ProjectError for a project that names what the drawer lacks, or has nothing to cut out.
    """
    from blendkit.plan.cut_line import find_cut_line
    from blendkit.plan.pictures import draw_pictures, encode_png
    from blendkit.plan.sheets import cut_file, draw_areas, draw_class, draw_plan

    if form == "cut":
        progress(0.2, "cut")
        record = make_plan(work.project, palette, work, inked=inked)
        return MadeForm(cut_file(record, find_cut_line(work)), "image/svg+xml", ".svg")
    progress(0.1, "paint")
    preview = paint_work(replace(work, shades=in_look(work.shades, look)), colours, inked)
    if form == "preview":
        progress(0.6, "write")
        return MadeForm(encode_png(preview, work.dpi), "image/png", ".png")
    progress(0.25, "check")
    record = make_plan(work.project, palette, work, inked=inked)
    progress(0.45, "pictures")
    pictures = draw_pictures(record, work, preview, colours, inked)
    progress(0.75, "sheets", "the sheets")
    if form == "areas":
        sheet = draw_areas(record, work)
    else:
        sheet = draw_class(record, pictures) if form == "handout" else draw_plan(record, pictures)
    return MadeForm(sheet.draw("pdf")[0], "application/pdf", ".pdf")


@question
class NewProject:
    """A line image that becomes a project."""

    name: str = ask("its title", default="", longest=100)


@question
class MapAsked(ProjectAsked):
    """The picture to look colours up in."""

    serial: int | None = ask("only tells the browser that it changed")


@question
class TonesAsked(ProjectAsked):
    """The tones, perhaps under another light."""

    light: str = ask("another light, to look at and not kept", default="", longest=20)
    without: tuple[str, ...] = ask("layers of the shade that are left out", default=(), choices=LAYERS)
    look: str = ask("blended, or as strokes of a nib", default=LOOKS[0], choices=LOOKS)


@question
class TryAsked(PartAsked, PartMarkers):
    """A part with other markers."""


@question
class FormAsked(ProjectAsked):
    """A project as a file."""

    form: str = ask("which", default="plan", choices=FORMS)
    look: str = ask("blended, or as strokes of a nib", default=LOOKS[0], choices=LOOKS)


@question
class ProjectName(ProjectAsked):
    """A project and its title."""

    name: str = ask("its title", required=True, longest=100)


@question
class VersionAsked(ProjectAsked):
    """An earlier version of a project."""

    name: str = ask("as the list calls it", required=True, longest=60)


@question
class ProjectAway:
    """A project that was taken away."""

    name: str = ask("as taking it away called it", required=True, longest=120)


def _title(opened: OpenProject) -> str:
    """The title of a project; its folder's name where its file can't be read."""
    try:
        return read_project(opened.path).name or opened.path.parent.name
    except BlendkitError:
        return opened.path.parent.name


def copy_project(desk: Desk, given: ProjectAsked) -> dict[str, Any]:
    """Copy a project, with its image."""
    return {"schema": 1, "project": desk.projects.copy(given.project).key}


def rename_project(desk: Desk, given: ProjectName) -> dict[str, Any]:
    """Give a project another title."""
    desk.projects.rename(given.project, given.name.strip())
    return {"schema": 1}


def take_project_away(desk: Desk, given: ProjectAsked) -> dict[str, Any]:
    """Take a project out of the list; it can be put back."""
    return {"schema": 1, "away": desk.projects.take_away(given.project)}


def put_project_back(desk: Desk, given: ProjectAway) -> dict[str, Any]:
    """Put back a project that was taken away."""
    desk.projects.put_back(given.name)
    return {"schema": 1}


def show_project_versions(desk: Desk, given: ProjectAsked) -> dict[str, Any]:
    """Give the earlier versions that are kept of a project, and what each came after."""
    opened = desk.projects.find(given.project)
    return {"schema": 1, "versions": version_rows(opened.path, opened.steps)}


def restore_project_version(desk: Desk, given: VersionAsked) -> dict[str, Any]:
    """Put an earlier version of a project back."""
    opened = desk.projects.find(given.project)
    opened.restore(given.name)
    return {**shown(view_of(desk, opened)), "done": "an earlier version is back"}


def list_projects(desk: Desk) -> dict[str, Any]:
    """Give the projects that this desk may open."""
    from datetime import UTC, datetime

    projects = desk.projects

    rows = [
        {
            "project": one.key,
            "name": _title(one),
            "file": f"{one.path.parent.name}/{one.path.name}",
            "changed": datetime.fromtimestamp(one.path.stat().st_mtime, UTC).isoformat(),
        }
        for one in projects.list()
    ]
    own = desk.project_path
    desk.workshop.warm()
    first = next((one.key for one in projects.list() if own is not None and one.path == own), None)
    return {"schema": 1, "projects": rows, "folder": str(projects.folder), "asked": first}


def new_project(desk: Desk, given: NewProject, upload: Upload) -> dict[str, Any]:
    """Make a project of a line image, beside the palette."""
    name = (given.name or upload.name.rpartition(".")[0] or upload.name).replace("_", " ").strip()
    opened = desk.projects.add(upload, name)
    return {"schema": 1, "project": opened.key}


def open_project(desk: Desk, given: ProjectAsked) -> dict[str, Any]:
    """Open a project in the background: find its parts, raise and shade them."""
    opened = desk.projects.find(given.project)

    def view(read: tuple[str, Work] | None) -> dict[str, Any]:
        if read is not None:
            opened.take(*read)
        return shown(view_of(desk, opened))

    title = f"Open {opened.path.parent.name}"
    if opened.is_open:
        job = desk.workshop.start_here(title, lambda: view(None))
    else:
        job = desk.workshop.start(title, OPEN_DRAWING, str(opened.path), then=view)
    return {"schema": 1, "job": job.number}


def show_project(desk: Desk, given: ProjectAsked) -> dict[str, Any]:
    """Give an open project as it is now."""
    return shown(view_of(desk, desk.projects.find(given.project)))


def show_map(desk: Desk, given: MapAsked) -> File:
    """Give the picture that the page looks colours up in: area, tone and line of each pixel."""
    return File(draw_map(desk.projects.find(given.project).work()), "image/png")


def show_tones(desk: Desk, given: TonesAsked) -> File:
    """Give the tones alone, under another light, without some layers, or in strokes; nothing is kept."""
    opened = desk.projects.find(given.project)
    work = opened.relit(given.light) if given.light else opened.work()
    shades = in_look(leave_out(work.shades, given.without), given.look)
    return File(draw_tones(work, shades), "application/octet-stream")


def ask_overlaps(desk: Desk, given: ProjectAsked) -> dict[str, Any]:
    """Give the overlaps to ask about, at most five, the one that changes most first."""
    work = desk.projects.find(given.project).work()
    return {"schema": 1, "questions": view_questions(work)}


def show_line_table(desk: Desk, given: ProjectAsked) -> File:
    """Give what becomes of each colour value under each line tone: 256 by 256 by 3 bytes."""
    opened = desk.projects.find(given.project)
    project = opened.work().project
    table = draw_line_table(line_srgb255(project, opened.inked(desk, project)))
    return File(np.ascontiguousarray(table).tobytes(), "application/octet-stream")


def try_markers(desk: Desk, given: TryAsked) -> dict[str, Any]:
    """Give the colours that a part would come to with other markers; nothing is kept.

    A part that an undo has just taken away is told as gone: looking at it was no mistake of the person's.
    """
    opened = desk.projects.find(given.project)
    with opened.lock:
        project = opened.work().project
        inked = opened.inked(desk, project)
    if name_key(given.part) not in {name_key(part.name) for part in project.parts}:
        return {"schema": 1, "part": given.part, "ramp": "", "how": "gone"}
    changes = told(given, PartMarkers)
    part = replace(project.part(given.part), leave_white=False, **changes)
    one = colour_parts(replace(project, parts=(part,)), inked)[0]
    return {"schema": 1, "part": part.name, "ramp": ramp_text(one.ramp), "how": one.how}


def check_project(desk: Desk, given: ProjectAsked) -> dict[str, Any]:
    """Say what would go wrong, as ``blendkit plan --check --json`` does."""
    opened = desk.projects.find(given.project)
    with opened.lock:
        work = opened.work()
        inked, colours = opened.colours(desk)
    return shown(check_plan(work.project, desk.palette(), work, inked=inked, colours=colours))


def print_project(desk: Desk, given: FormAsked) -> dict[str, Any]:
    """Make a sheet or picture of a project in the background; the result is the number of its file."""
    opened = desk.projects.find(given.project)
    form = given.form
    with opened.lock:
        work = opened.work()
        inked, colours = opened.colours(desk)

    def keep(made: MadeForm) -> dict[str, Any]:
        name = f"{opened.path.parent.name}-{form}{made.ending}"
        upload = desk.uploads.keep(name, made.data, made.media_type)
        return {"file": upload.number, "name": name, "media_type": made.media_type}

    job = desk.workshop.start(
        f"Make the {form} of {opened.path.parent.name}", "blendkit.desk.project_calls:draw_form",
        form, work, desk.palette(), inked, colours, given.look, then=keep,
    )  # fmt: skip
    return {"schema": 1, "job": job.number}


PROJECT_CALLS = (
    Call("GET", "/projects", list_projects),
    Call("POST", "/projects/new", new_project),
    Call("POST", "/projects/copy", copy_project),
    Call("POST", "/projects/rename", rename_project),
    Call("POST", "/projects/away", take_project_away),
    Call("POST", "/projects/back", put_project_back),
    Call("POST", "/project/open", open_project),
    Call("GET", "/project", show_project),
    Call("GET", "/project/map", show_map, gives="image/png"),
    Call("GET", "/project/tones", show_tones, gives="application/octet-stream"),
    Call("GET", "/project/line", show_line_table, gives="application/octet-stream"),
    Call("GET", "/project/try", try_markers),
    Call("GET", "/project/check", check_project),
    Call("GET", "/project/questions", ask_overlaps),
    Call("POST", "/project/part/add", add_part),
    Call("POST", "/project/part/area", give_area),
    Call("POST", "/project/part/set", set_part),
    Call("POST", "/project/part/remove", remove_part),
    Call("POST", "/project/set", set_project),
    Call("POST", "/project/paper", set_paper),
    Call("POST", "/project/greeting", set_greeting),
    Call("POST", "/project/areas", edit_areas),
    Call("POST", "/project/front", set_front),
    Call("POST", "/project/dab", add_dab),
    Call("POST", "/project/group", group),
    Call("POST", "/project/print", print_project),
    Call("GET", "/project/versions", show_project_versions),
    Call("POST", "/project/restore", restore_project_version),
    Call("POST", "/project/undo", undo_project),
    Call("POST", "/project/redo", redo_project),
)
