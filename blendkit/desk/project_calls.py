"""The projects' calls: list, open, draw, check and print; changes are in project_edits."""

from dataclasses import replace
from typing import Any

import numpy as np

from blendkit.advice.order import STYLES
from blendkit.art.preview import draw_line_table
from blendkit.desk.calls import Call, Field, Given
from blendkit.desk.files import File, Upload
from blendkit.desk.jobs import Progress
from blendkit.desk.looks import shown
from blendkit.desk.print_forms import FORMS, draw_form
from blendkit.desk.project_desk import find_project, projects_of
from blendkit.desk.project_edits import (
    add_part,
    edit_areas,
    give_area,
    redo_project,
    remove_part,
    set_front,
    set_greeting,
    set_paper,
    set_part,
    set_project,
    undo_project,
)
from blendkit.desk.project_view import draw_map, draw_tones, ramp_text, view_of
from blendkit.desk.session import Desk
from blendkit.plan.check import check_plan
from blendkit.project.part_colours import colour_parts, line_srgb255
from blendkit.project.records import (
    HIGHLIGHTS,
    PAGES,
    ROLES,
)

_PROJECT = Field("project", "text", "key of the project", required=True, longest=40)
_PART = Field("part", "text", "name of the part", required=True, longest=100)
_MARKERS = (
    Field("base", "text", "marker of the base coat, or nothing to take it away", longest=100),
    Field(
        "shadow",
        "text",
        "marker of the shadow; nothing: the drawer's choice; none: no shadow",
        longest=100,
    ),
    Field("light", "text", "marker toward the light, or nothing", longest=100),
    Field("highlight", "text", "what is left toward the light", choices=HIGHLIGHTS),
)
_EDITS = ("close", "open", "close again", "split", "cut", "merge", "outside")


def list_projects(desk: Desk, given: Given) -> dict[str, Any]:
    """Give the projects that this desk may open."""
    projects = projects_of(desk)
    from datetime import UTC, datetime

    rows = [
        {
            "project": one.key,
            "file": f"{one.path.parent.name}/{one.path.name}",
            "changed": datetime.fromtimestamp(one.path.stat().st_mtime, UTC).isoformat(),
        }
        for one in projects.list()
    ]
    own = desk.project_path
    first = next((one.key for one in projects.list() if own is not None and one.path == own), None)
    return {"schema": 1, "projects": rows, "folder": str(projects.folder), "asked": first}


def new_project(desk: Desk, given: Given, upload: Upload) -> dict[str, Any]:
    """Make a project of a line image, beside the palette."""
    name = (given["name"] or upload.name.rpartition(".")[0] or upload.name).replace("_", " ").strip()
    opened = projects_of(desk).add(upload, name)
    return {"schema": 1, "project": opened.key}


def open_project(desk: Desk, given: Given) -> dict[str, Any]:
    """Open a project in the background: find its parts, raise and shade them."""
    opened = find_project(desk, given)
    steps = {"reading": 0.05, "finding": 0.2, "telling": 0.5, "rounding": 0.65, "shading": 0.85}

    def work(progress: Progress) -> dict[str, Any]:
        def tell(words: str) -> None:
            progress(steps.get(words.partition(" ")[0], 0.5), words)

        opened.work(tell)
        progress(0.95, "choosing colours")
        return shown(view_of(desk, opened))

    job = desk.workshop.start_here(f"Open {opened.path.parent.name}", work)
    return {"schema": 1, "job": job.number}


def show_project(desk: Desk, given: Given) -> dict[str, Any]:
    """Give an open project as it is now."""
    return shown(view_of(desk, find_project(desk, given)))


def show_map(desk: Desk, given: Given) -> File:
    """Give the picture that the page looks colours up in: area, tone and line of each pixel."""
    return File(draw_map(find_project(desk, given).work()), "image/png")


def show_tones(desk: Desk, given: Given) -> File:
    """Give the tones alone, under the project's light or another that is only looked at."""
    opened = find_project(desk, given)
    work = opened.relit(given["light"]) if given["light"] else opened.work()
    return File(draw_tones(work), "application/octet-stream")


def show_line_table(desk: Desk, given: Given) -> File:
    """Give what becomes of each colour value under each line tone: 256 by 256 by 3 bytes."""
    opened = find_project(desk, given)
    project = opened.work().project
    table = draw_line_table(line_srgb255(project, opened.inked(desk, project)))
    return File(np.ascontiguousarray(table).tobytes(), "application/octet-stream")


def try_markers(desk: Desk, given: Given) -> dict[str, Any]:
    """Give the colours that a part would come to with other markers; nothing is kept."""
    opened = find_project(desk, given)
    with opened.lock:
        project = opened.work().project
        inked = opened.inked(desk, project)
    changes = {key: given[key] for key in ("base", "shadow", "light", "highlight") if given[key] is not None}
    part = replace(project.part(given["part"]), leave_white=False, **changes)
    one = colour_parts(replace(project, parts=(part,)), inked)[0]
    return {"schema": 1, "part": part.name, "ramp": ramp_text(one.ramp), "how": one.how}


def check_project(desk: Desk, given: Given) -> dict[str, Any]:
    """Say what would go wrong, as ``blendkit plan --check --json`` does."""
    opened = find_project(desk, given)
    with opened.lock:
        work = opened.work()
        inked, colours = opened.colours(desk)
    return shown(check_plan(work.project, desk.palette(), work, inked=inked, colours=colours))


def print_project(desk: Desk, given: Given) -> dict[str, Any]:
    """Make a sheet or picture of a project in the background; the result is the number of its file."""
    opened = find_project(desk, given)
    form = given["form"]

    def work(progress: Progress) -> dict[str, Any]:
        with opened.lock:
            work = opened.work()
            inked, colours = opened.colours(desk)
        made = draw_form(form, work, desk.palette(), inked, colours, progress)
        name = f"{opened.path.parent.name}-{form}{made.ending}"
        upload = desk.uploads.keep(name, made.data, made.media_type)
        return {"file": upload.number, "name": name, "media_type": made.media_type}

    job = desk.workshop.start_here(f"Make the {form} of {opened.path.parent.name}", work)
    return {"schema": 1, "job": job.number}


_PLACE = Field("place", "place", "a place in the image, [x, y] as shares", required=True)

PROJECT_CALLS = (
    Call("GET", "/projects", "Projects that this desk may open.", list_projects),
    Call(
        "POST",
        "/projects/new",
        "Make a project of a line image.",
        new_project,
        (Field("name", "text", "its title", longest=100),),
        takes_file=True,
    ),
    Call("POST", "/project/open", "Open a project in the background.", open_project, (_PROJECT,)),
    Call("GET", "/project", "An open project as it is now.", show_project, (_PROJECT,)),
    Call(
        "GET",
        "/project/map",
        "The picture that colours are looked up in.",
        show_map,
        (_PROJECT, Field("serial", "whole", "only tells the browser that it changed")),
        gives="image/png",
    ),
    Call(
        "GET",
        "/project/tones",
        "The tone of each pixel of that picture, under the project's light or another.",
        show_tones,
        (_PROJECT, Field("light", "text", "another light, to look at and not kept", longest=20)),
        gives="application/octet-stream",
    ),
    Call(
        "GET", "/project/line", "Colours under the line, to look up.", show_line_table, (_PROJECT,),
        gives="application/octet-stream",
    ),
    Call("GET", "/project/try", "A part's colours with other markers.", try_markers, (_PROJECT, _PART, *_MARKERS)),
    Call(
        "GET", "/project/check", "What would go wrong; the record of blendkit plan --check --json.", check_project,
        (_PROJECT,),
    ),
    Call(
        "POST",
        "/project/part/add",
        "Make a part of the area at a place.",
        add_part,
        (_PROJECT, _PLACE, Field("name", "text", "its name", longest=100)),
    ),
    Call(
        "POST",
        "/project/part/area",
        "Give the area at a place to a part, or take it away.",
        give_area,
        (_PROJECT, _PART, _PLACE, Field("belongs", "yes", "give it or take it", default=True)),
    ),
    Call(
        "POST",
        "/project/part/set",
        "Change a part.",
        set_part,
        (
            _PROJECT,
            _PART,
            *_MARKERS,
            Field("new_name", "text", "a new name", longest=100),
            Field("leave_white", "yes", "whether it stays bare paper"),
            Field("rest", "yes", "whether it takes every area that no other part has"),
            Field("order", "text", "layering order", choices=STYLES),
            Field("note", "text", "words for the table", longest=1000),
            Field("shadow_mm", "number", "width of its shadow", low=0.2, high=100.0),
            Field("softness_mm", "number", "width of its blend", low=0.1, high=100.0),
        ),
    ),
    Call("POST", "/project/part/remove", "Take a part out.", remove_part, (_PROJECT, _PART)),
    Call(
        "POST",
        "/project/set",
        "Change what holds for the whole project.",
        set_project,
        (
            _PROJECT,
            Field("name", "text", "title of the sheets", longest=100),
            Field("light", "text", "where the light comes from, such as 10:30", longest=20),
            Field("paper", "text", "card stock that is coloured on", longest=100),
            Field("outline", "text", "ink of the lines", longest=100),
            Field("shadow_mm", "number", "width of shadows", low=0.2, high=100.0),
            Field("softness_mm", "number", "width of blends", low=0.1, high=100.0),
            Field("gap_pen_widths", "number", "widest gap that is closed", low=0.0, high=20.0),
            Field("page", "text", "size of the sheets", choices=PAGES),
            Field("notes", "text", "words for the sheet", longest=2000),
            Field("width_mm", "number", "width of the image on paper", low=5.0, high=2000.0),
            Field("rim_mm", "number", "white rim of the cut line", low=0.0, high=50.0),
            Field("spikes", "text", "what the cut line does with thin things", choices=("bridge", "cut")),
        ),
    ),
    Call(
        "POST",
        "/project/paper",
        "Choose a paper of the card.",
        set_paper,
        (
            _PROJECT,
            Field("role", "text", "which", required=True, choices=ROLES),
            Field("name", "text", "the paper or ribbon; nothing takes the role away", longest=100),
            Field("width_mm", "number", "its width", low=1.0, high=2000.0),
            Field("height_mm", "number", "its height", low=1.0, high=2000.0),
        ),
    ),
    Call(
        "POST",
        "/project/greeting",
        "Write the greeting.",
        set_greeting,
        (
            _PROJECT,
            Field("words", "text", "the words; nothing takes it away", default="", longest=200),
            Field("ink", "text", "a stamp ink", default="", longest=100),
            Field("size_pt", "number", "size", default=18.0, low=3.0, high=400.0),
            Field("bold", "yes", "whether it is bold", default=False),
        ),
    ),
    Call(
        "POST",
        "/project/areas",
        "Change the closed areas.",
        edit_areas,
        (
            _PROJECT,
            Field("kind", "text", "what is done", required=True, choices=_EDITS),
            Field("stroke", "list", "places [x, y] as shares of the image", required=True),
        ),
    ),
    Call(
        "POST",
        "/project/front",
        "Decide which of two touching areas lies in front.",
        set_front,
        (
            _PROJECT,
            Field("front", "whole", "the area in front", required=True, low=1),
            Field("behind", "whole", "the area behind", required=True, low=1),
        ),
    ),
    Call(
        "POST",
        "/project/print",
        "Make a sheet or picture of a project.",
        print_project,
        (_PROJECT, Field("form", "text", "which", default="plan", choices=FORMS)),
    ),
    Call("POST", "/project/undo", "Take the last change of a project back.", undo_project, (_PROJECT,)),
    Call("POST", "/project/redo", "Do again what was taken back in a project.", redo_project, (_PROJECT,)),
)  # fmt: skip
