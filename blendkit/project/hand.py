"""The person's hand on a picture: a dab of dark or light, and a scribble that groups areas.

Each is an edit of the project; opening the work anew shows it.
"""

from collections.abc import Iterable
from dataclasses import replace

from blendkit.errors import Problem, ProjectError
from blendkit.project.records import Point, Project
from blendkit.project.work import Work

SAME_MM = 1.5
"""A dab so near to one of the other kind takes it away instead. Own judgement."""


def with_dab(work: Work, place: Point, kind: str) -> Project:
    """Give the project with a dab more.

    Args:
        work: the project at work.
        place: where, mm.
        kind: "dark" or "bright". A dab on one of the other kind takes that one away.

    Returns: the project; the dab belongs to the part that lies there.
    Raises: ProjectError where no part lies.
    """
    number = int(work.part_of()[work.area_at(place)])
    if not number:
        raise ProjectError(
            "No part lies there.",
            [Problem("dab", f"[{place[0]:g}, {place[1]:g}]", "a place on a coloured part")],
        )
    part = work.project.parts[number - 1]
    other = "bright" if kind == "dark" else "dark"
    kept = tuple(one for one in getattr(part, other) if _distance(one, place) > SAME_MM)
    if len(kept) < len(getattr(part, other)):
        return work.project.with_part(part.name, **{other: kept})
    return work.project.with_part(part.name, **{kind: (*getattr(part, kind), place)})


def areas_under(work: Work, scribble: Iterable[Point]) -> tuple[int, ...]:
    """Areas that a scribble passes over, in the order in which it meets them; points in mm, close together."""
    met: dict[int, None] = {}
    previous: Point | None = None
    for point in scribble:
        for place in _between(previous, point, 1 / work.per_mm):
            if area := work.area_at(place):
                met.setdefault(area)
        previous = point
    return tuple(met)


def group_areas(work: Work, scribble: Iterable[Point], name: str) -> Project:
    """Give the project with every area that a scribble passes over in one part.

    Args:
        work: the project at work.
        scribble: points in mm.
        name: the part.

    Returns: the project; areas that another part held by a place of its own are taken from it, and a part that has
        none left goes, with the overlaps that name it.
    Raises: ProjectError when there is no such part, or the scribble meets no area.
    """
    place = work.project.place_of(name)
    met = [area for area in areas_under(work, scribble) if area not in work.areas[place]]
    if not met and not set(areas_under(work, scribble)):
        raise ProjectError(
            "The scribble passes over no area.",
            [Problem("scribble", "only paper", "a line over closed areas")],
        )
    middles = {one.number: one.point_px for one in work.regions.parts}
    added = tuple(
        (round(middles[area][0] / work.per_mm, 2), round(middles[area][1] / work.per_mm, 2)) for area in met
    )
    parts = []
    for k, part in enumerate(work.project.parts):
        if k == place:
            parts.append(replace(part, at=(*part.at, *added)))
        else:
            parts.append(
                replace(
                    part,
                    at=tuple(spot for spot in part.at if work.area_at(spot) not in met),
                    areas=tuple(area for area in part.areas if area not in met),
                )
            )
    gone = [one.name for one in parts if not (one.at or one.areas or one.around or one.rest)]
    return replace(
        work.project,
        parts=tuple(one for one in parts if one.name not in gone),
        fronts=tuple(pair for pair in work.project.fronts if not set(gone) & set(pair)),
    )


def _between(start: Point | None, end: Point, step: float) -> list[Point]:
    if start is None:
        return [end]
    count = max(1, round(_distance(start, end) / step))
    return [
        (start[0] + (end[0] - start[0]) * k / count, start[1] + (end[1] - start[1]) * k / count)
        for k in range(1, count + 1)
    ]


def _distance(one: Point, other: Point) -> float:
    return float(((one[0] - other[0]) ** 2 + (one[1] - other[1]) ** 2) ** 0.5)
