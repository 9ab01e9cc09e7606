"""Every change to a project: it is worked through first, then written, and can be taken back."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from blendkit.art.material import MATERIALS
from blendkit.art.region_edits import Edits
from blendkit.desk.calls import Place, ask, fields_of, question
from blendkit.desk.looks import shown
from blendkit.desk.project_desk import Desk
from blendkit.desk.project_view import view_of
from blendkit.errors import Problem, ProjectError
from blendkit.palette import name_key
from blendkit.project.hand import areas_under, group_areas, with_dab
from blendkit.project.records import (
    ROLES,
    Cut,
    Greeting,
    Point,
    Project,
    ProjectPaper,
    ProjectPart,
)
from blendkit.project.work import Work, open_work

EDITS = ("close", "open", "close again", "split", "cut", "merge", "outside")
"""What may be done to closed areas."""


@question
class ProjectAsked:
    """A project."""

    project: str = ask("key of the project", required=True, longest=40)


@question
class PartAsked(ProjectAsked):
    """A part of it."""

    part: str = ask("name of the part", required=True, longest=100)


@question
class PartMarkers:
    """The markers of a part; what isn't told stays."""

    base: str | None = ask("marker of the base coat, or nothing to take it away", longest=100)
    shadow: str | None = ask(
        "marker of the shadow; nothing: the drawer's choice; none: no shadow", longest=100
    )
    light: str | None = ask("marker toward the light, or nothing", longest=100)
    highlight: str | None = ask("what is left toward the light", like=ProjectPart)


@question
class PartLook(PartMarkers):
    """All that a part may be told; what isn't stays."""

    leave_white: bool | None = ask("whether it stays bare paper")
    rest: bool | None = ask("whether it takes every area that no other part has")
    order: str | None = ask("layering order", like=ProjectPart)
    material: str | None = ask("what it is made of; nothing: guessed from its name", choices=("", *MATERIALS))
    note: str | None = ask("words for the table", longest=1000)
    shadow_mm: float | None = ask("width of its shadow", like=ProjectPart)
    softness_mm: float | None = ask("width of its blend", like=ProjectPart)


@question
class PartChange(PartAsked, PartLook):
    """A change of a part."""

    new_name: str | None = ask("a new name", longest=100)


@question
class NewPart(ProjectAsked):
    """A part that is to be made."""

    place: Place = ask("a place in the image, [x, y] as shares", required=True)
    name: str = ask("its name", default="", longest=100)


@question
class AreaGiven(PartAsked):
    """An area that a part takes or lets go."""

    place: Place = ask("a place in the image, [x, y] as shares", required=True)
    belongs: bool = ask("give it or take it", default=True)


@question
class ProjectLook:
    """What holds for the whole project; what isn't told stays."""

    name: str | None = ask("title of the sheets", longest=100)
    light: str | None = ask("where the light comes from, such as 10:30", longest=20)
    paper: str | None = ask("card stock that is coloured on", longest=100)
    outline: str | None = ask("ink of the lines", longest=100)
    shadow_mm: float | None = ask("width of shadows", like=Project)
    softness_mm: float | None = ask("width of blends", like=Project)
    gap_pen_widths: float | None = ask("widest gap that is closed", like=Project)
    page: str | None = ask("size of the sheets", like=Project)
    notes: str | None = ask("words for the sheet", longest=2000)


@question
class CutLook:
    """How the figure is cut out; what isn't told stays."""

    rim_mm: float | None = ask("white rim of the cut line", like=Cut)
    spikes: str | None = ask("what the cut line does with thin things", like=Cut)


@question
class ProjectChange(ProjectAsked, ProjectLook, CutLook):
    """A change of the whole project."""

    width_mm: float | None = ask("width of the image on paper", like=Project)


@question
class PaperChosen(ProjectAsked):
    """A paper of the card."""

    role: str = ask("which", required=True, like=ProjectPaper)
    name: str = ask("the paper or ribbon; nothing takes the role away", default="", longest=100)
    width_mm: float | None = ask("its width", like=ProjectPaper)
    height_mm: float | None = ask("its height", like=ProjectPaper)


@question
class GreetingWritten(ProjectAsked):
    """The greeting."""

    words: str = ask("the words; nothing takes it away", default="", longest=200)
    ink: str = ask("a stamp ink", default="", longest=100)
    size_pt: float = ask("size", default=18.0, like=Greeting)
    bold: bool = ask("whether it is bold", default=False)


@question
class AreasEdited(ProjectAsked):
    """A change of the closed areas."""

    kind: str = ask("what is done", required=True, choices=EDITS)
    stroke: tuple[Place, ...] = ask("places [x, y] as shares of the image", required=True)


@question
class FrontDecided(ProjectAsked):
    """Which of two touching areas lies in front."""

    front: int = ask("the area in front", required=True, low=1)
    behind: int = ask("the area behind", required=True, low=1)


@question
class DabSet(ProjectAsked):
    """A dab of the person's own."""

    place: Place = ask("a place in the image, [x, y] as shares", required=True)
    kind: str = ask("darker or lighter", required=True, choices=("dark", "bright"))


@question
class AreasGrouped(ProjectAsked):
    """A scribble over areas that are one part."""

    stroke: tuple[Place, ...] = ask("places [x, y] as shares of the image", required=True)
    part: str = ask("the part that takes them; nothing makes a new one", default="", longest=100)


def told(given: object, look: type) -> dict[str, Any]:
    """Give those fields of a question that *look* declares and that were told."""
    told = {field.name: getattr(given, field.name) for field in fields_of(look)}
    return {name: value for name, value in told.items() if value is not None}


def _changed(
    desk: Desk, given: ProjectAsked, words: str, change: Callable[[Project, Work], Project | Work]
) -> dict[str, Any]:
    opened = desk.projects.find(given.project)
    with opened.lock:
        work = opened.work()
        opened.change(words, lambda project: change(project, work))
        return {**shown(view_of(desk, opened)), "done": words}


def _mm(work: Work, place: Place) -> Point:
    width, height = work.size_mm
    return place[0] * width, place[1] * height


def _area(work: Work, place: Place) -> int:
    area = work.area_at(_mm(work, place))
    if not area:
        problem = Problem("place", f"{place[0]:.3f}, {place[1]:.3f}", "a place inside a closed area")
        raise ProjectError("That place is the paper around the figure.", [problem])
    return area


def _middle(work: Work, area: int) -> Point:
    """A place deep inside an area, in mm, by which the project file knows it however areas are numbered."""
    point = next(one.point_px for one in work.regions.parts if one.number == area)
    return round((point[0] + 0.5) / work.per_mm, 2), round((point[1] + 0.5) / work.per_mm, 2)


def _without_area(project: Project, work: Work, area: int) -> Project:
    """Take an area away from whichever part names it; a part that has no other goes with its last one.

    A loop becomes the places of what is left in it.
    """
    parts: list[ProjectPart] = []
    for place, part in enumerate(project.parts):
        if area in work.areas[place] and not part.rest:
            left = tuple(_middle(work, one) for one in work.areas[place] if one != area)
            if left:
                parts.append(replace(part, at=left, around=()))
        else:
            parts.append(part)
    gone = {part.name for part in project.parts} - {part.name for part in parts}
    fronts = tuple(front for front in project.fronts if not gone & set(front))
    return replace(project, parts=tuple(parts), fronts=fronts)


def _new_name(project: Project, wanted: str) -> str:
    taken = {name_key(part.name) for part in project.parts}
    if wanted and name_key(wanted) not in taken:
        return wanted
    stem = wanted or "part"
    return next(name for number in range(1, 10_000) if name_key(name := f"{stem} {number}") not in taken)


def add_part(desk: Desk, given: NewPart) -> dict[str, Any]:
    """Make a new part of the area at a place."""

    def change(project: Project, work: Work) -> Project:
        area = _area(work, given.place)
        free = _without_area(project, work, area)
        name = _new_name(free, given.name.strip())
        part = ProjectPart(name, at=(_middle(work, area),))
        return replace(free, parts=(*free.parts, part))

    return _changed(desk, given, "make a part", change)


def give_area(desk: Desk, given: AreaGiven) -> dict[str, Any]:
    """Give the area at a place to a part, or take it away."""

    def change(project: Project, work: Work) -> Project:
        area = _area(work, given.place)
        part = project.part(given.part)
        own = [one for one in work.areas[project.place_of(part.name)] if one != area]
        if part.rest:
            return _without_area(project, work, area) if given.belongs else project
        if given.belongs and not own:
            return project
        free = _without_area(project, work, area)
        if not given.belongs:
            return free
        at = tuple(_middle(work, one) for one in (*own, area))
        return free.with_part(part.name, at=at, around=())

    words = f"{'add to' if given.belongs else 'take from'} {given.part}"
    return _changed(desk, given, words, change)


def set_part(desk: Desk, given: PartChange) -> dict[str, Any]:
    """Change a part: its markers, its name and how it is coloured."""
    changes = told(given, PartLook)
    if changes.get("base"):
        changes.setdefault("leave_white", False)
    new_name = (given.new_name or "").strip()

    def change(project: Project, work: Work) -> Project:
        name = project.part(given.part).name
        changed = project
        if changes.get("rest"):
            changed = replace(changed, parts=tuple(replace(part, rest=False) for part in changed.parts))
        changed = changed.with_part(name, **changes)
        if new_name and new_name != name:
            if name_key(new_name) != name_key(name) and any(
                name_key(part.name) == name_key(new_name) for part in project.parts
            ):
                problem = Problem("name", repr(new_name), "a name that no other part has")
                raise ProjectError("Another part is called so.", [problem])
            fronts = tuple(
                (new_name if front == name else front, new_name if behind == name else behind)
                for front, behind in changed.fronts
            )
            at = changed.place_of(name)
            renamed = replace(changed.parts[at], name=new_name)
            parts = (*changed.parts[:at], renamed, *changed.parts[at + 1 :])
            changed = replace(changed, parts=parts, fronts=fronts)
        return changed

    return _changed(desk, given, f"change {given.part}", change)


def remove_part(desk: Desk, given: PartAsked) -> dict[str, Any]:
    """Take a part out of the project; its areas stay, without one."""

    def change(project: Project, work: Work) -> Project:
        name = project.part(given.part).name
        fronts = tuple(front for front in project.fronts if name not in front)
        parts = tuple(part for part in project.parts if part.name != name)
        return replace(project, parts=parts, fronts=fronts)

    return _changed(desk, given, f"take {given.part} out", change)


def set_project(desk: Desk, given: ProjectChange) -> dict[str, Any]:
    """Change what holds for the whole project."""
    changes = told(given, ProjectLook)
    if given.width_mm is not None:
        changes |= {"width_mm": given.width_mm, "dpi": None}

    def change(project: Project, work: Work) -> Project:
        return replace(project, **changes, cut=replace(project.cut, **told(given, CutLook)))

    return _changed(desk, given, "change the " + (next(iter(changes), "cut line")).replace("_", " "), change)


def set_paper(desk: Desk, given: PaperChosen) -> dict[str, Any]:
    """Choose a paper or ribbon for a role of the card, or take the role away."""

    def change(project: Project, work: Work) -> Project:
        others = tuple(one for one in project.papers if one.role != given.role)
        old = next((one for one in project.papers if one.role == given.role), ProjectPaper(given.role, ""))
        new = replace(
            old,
            name=given.name,
            width_mm=given.width_mm or old.width_mm,
            height_mm=given.height_mm or old.height_mm,
        )
        papers = (*others, new) if new.name else others
        return replace(project, papers=tuple(sorted(papers, key=lambda one: ROLES.index(one.role))))

    return _changed(desk, given, f"choose the {given.role}", change)


def set_greeting(desk: Desk, given: GreetingWritten) -> dict[str, Any]:
    """Write the greeting, or take it away."""
    words = given.words.strip()

    def change(project: Project, work: Work) -> Project:
        if not words or not given.ink:
            return replace(project, greeting=None)
        old = project.greeting or Greeting("", "")
        new = replace(old, words=words, ink=given.ink, size_pt=given.size_pt, bold=given.bold)
        return replace(project, greeting=new)

    return _changed(desk, given, "write the greeting", change)


def edit_areas(desk: Desk, given: AreasEdited) -> dict[str, Any]:
    """Change the closed areas: close a gap, open one, split, cut or merge."""
    kind = given.kind
    stroke = given.stroke
    needed = 2 if kind in ("close", "split", "merge") else 1
    if len(stroke) < needed:
        raise ProjectError(f"To {kind}, the page must say {needed} places.")

    def change(project: Project, work: Work) -> Project | Work:
        edits = project.edits
        first = stroke[0]
        if kind == "close":
            edits = replace(edits, closures=(*edits.closures, stroke))
        elif kind == "open":
            edits = _opened(edits, first)
        elif kind == "close again":
            edits = _closed_again(edits, first)
        elif kind == "split":
            edits = replace(edits, splits=(*edits.splits, stroke))
        elif kind == "cut":
            edits = replace(edits, cuts=(*edits.cuts, first))
        elif kind == "merge":
            edits = replace(edits, merges=(*edits.merges, (first, stroke[-1])))
            project = _merged_owner(project, work, first, stroke[-1])
        else:
            edits = replace(edits, merges=(*edits.merges, (first, None)))
            project = _without_area(project, work, _area(work, first))
        changed = replace(project, edits=edits)
        return _with_pieces(open_work(changed, work), work) if kind in ("close", "split", "cut") else changed

    return _changed(desk, given, f"{kind} areas" if kind != "close" else "close a gap", change)


def _with_pieces(after: Work, before: Work) -> Work:
    """Where an area came apart, give every piece to the part that had the whole."""
    owner = before.part_of()
    parts = list(after.project.parts)
    for area in after.free:
        old = before.area_at(_middle(after, area))
        place = int(owner[old]) - 1 if old else -1
        if place >= 0 and not parts[place].rest:
            at = parts[place].at or tuple(_middle(after, one) for one in after.areas[place])
            parts[place] = replace(parts[place], at=(*at, _middle(after, area)), around=())
    return open_work(replace(after.project, parts=tuple(parts)), after)


def _nearest(places: tuple[Any, ...], to: tuple[float, float]) -> int:
    return min(range(len(places)), key=lambda at: (places[at][0] - to[0]) ** 2 + (places[at][1] - to[1]) ** 2)


def _opened(edits: Edits, place: tuple[float, float]) -> Edits:
    return replace(edits, closures_off=(*edits.closures_off, place))


def _closed_again(edits: Edits, place: tuple[float, float]) -> Edits:
    if not edits.closures_off:
        raise ProjectError("No closure is open by hand.")
    gone = _nearest(edits.closures_off, place)
    return replace(edits, closures_off=tuple(one for at, one in enumerate(edits.closures_off) if at != gone))


def _merged_owner(project: Project, work: Work, first: Place, second: Place) -> Project:
    """Before two areas become one: the part of the first keeps it, the other one's part lets it go."""
    one, other = _area(work, first), _area(work, second)
    owner = work.part_of()
    if owner[one] and owner[other] and owner[one] != owner[other]:
        return _without_area(project, work, other)
    return project


def set_front(desk: Desk, given: FrontDecided) -> dict[str, Any]:
    """Decide which of two touching areas lies in front; between named parts it holds wherever they touch."""

    def change(project: Project, work: Work) -> Project:
        front, behind = given.front, given.behind
        known = {one.number for one in work.regions.parts}
        if not {front, behind} <= known:
            problem = Problem("areas", f"{front}, {behind}", f"areas from 1 to {len(known)}")
            raise ProjectError("There is no such area.", [problem])
        owner = work.part_of()
        a, b = int(owner[front]) - 1, int(owner[behind]) - 1
        if a >= 0 and b >= 0 and a != b:
            ends: tuple[Any, Any] = (project.parts[a].name, project.parts[b].name)
        else:
            ends = (_middle(work, front), _middle(work, behind))
        kept = tuple(one for one in project.fronts if set(one) != set(ends))
        return replace(project, fronts=(*kept, ends))

    return _changed(desk, given, "decide an overlap", change)


def add_dab(desk: Desk, given: DabSet) -> dict[str, Any]:
    """Set a dab of dark or light; one on a dab of the other kind takes that away."""

    def change(project: Project, work: Work) -> Project:
        x, y = _mm(work, given.place)
        return with_dab(work, (round(x, 2), round(y, 2)), given.kind)

    return _changed(desk, given, "make it darker" if given.kind == "dark" else "make it lighter", change)


def group(desk: Desk, given: AreasGrouped) -> dict[str, Any]:
    """Give every area that a scribble passes over to one part."""

    def change(project: Project, work: Work) -> Project:
        scribble = [_mm(work, place) for place in given.stroke]
        if given.part:
            return group_areas(work, scribble, given.part)
        first = next(iter(areas_under(work, scribble)), 0)
        if not first:
            problem = Problem("stroke", "only paper", "a line over closed areas")
            raise ProjectError("The scribble passes over no area.", [problem])
        free = _without_area(project, work, first)
        name = _new_name(free, "")
        begun = replace(free, parts=(*free.parts, ProjectPart(name, at=(_middle(work, first),))))
        return group_areas(open_work(begun, work), scribble, name)

    return _changed(desk, given, f"group areas in {given.part or 'a new part'}", change)


def undo_project(desk: Desk, given: ProjectAsked) -> dict[str, Any]:
    """Take the last change of the project back."""
    opened = desk.projects.find(given.project)
    words = opened.undo()
    return {**shown(view_of(desk, opened)), "done": f"taken back: {words}"}


def redo_project(desk: Desk, given: ProjectAsked) -> dict[str, Any]:
    """Do again what was taken back in the project."""
    opened = desk.projects.find(given.project)
    words = opened.redo()
    return {**shown(view_of(desk, opened)), "done": f"done again: {words}"}
