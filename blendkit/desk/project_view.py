"""A project as the page draws it: parts, areas, overlaps, colours, and the picture to look them up in."""

import base64
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendkit.art.material import guess_material
from blendkit.art.preview import Ramp, encode_part_png, part_colours
from blendkit.art.shading import ShadeMap
from blendkit.colour import labs_to_display_srgb1
from blendkit.desk.project_desk import Desk, OpenProject
from blendkit.inked import Asked, swatch_of
from blendkit.project.part_colours import PartColours
from blendkit.project.questions import find_questions
from blendkit.project.records import Point
from blendkit.project.work import Work

MAP_PIXELS = 1_600_000
"""Most pixels of the picture that the page recolours; a larger drawing is shown smaller."""

Floats = NDArray[np.float64]


def map_size_px(work: Work) -> tuple[int, int]:
    """Width and height of the page's picture."""
    width, height = work.regions.size_px
    shrink = min(1.0, float(np.sqrt(MAP_PIXELS / (width * height))))
    return max(1, round(width * shrink)), max(1, round(height * shrink))


def draw_map(work: Work) -> bytes:
    """Draw the picture that the page looks colours up in: area, tone and line in its channels."""
    import cv2

    size = map_size_px(work)
    labels, tone, line = work.relief.full_labels, work.shades.tone, work.relief.full_line
    if size != work.regions.size_px:
        labels = np.asarray(cv2.resize(labels, size, interpolation=cv2.INTER_NEAREST), np.int32)
        tone = np.asarray(cv2.resize(tone, size, interpolation=cv2.INTER_LINEAR), np.float32)
        line = np.asarray(cv2.resize(line, size, interpolation=cv2.INTER_AREA), np.uint8)
    return encode_part_png(labels, tone, line)


def draw_tones(work: Work, shades: ShadeMap) -> bytes:
    """Give the tone of each pixel of that picture alone, a byte each, row by row: all that a light changes."""
    import cv2

    size = map_size_px(work)
    tone = shades.tone
    if size != work.regions.size_px:
        tone = np.asarray(cv2.resize(tone, size, interpolation=cv2.INTER_LINEAR), np.float32)
    return np.asarray(np.round(np.clip(tone, 0, 1) * 255), np.uint8).tobytes()


def ramp_text(ramp: Ramp | None) -> str:
    """Give 256 display colours as base64 text; "" for none."""
    return "" if ramp is None else base64.b64encode(ramp.tobytes()).decode("ascii")


def _swatch(asked: Asked | None) -> Any:
    return None if asked is None else asked.swatch


def part_view(number: int, one: PartColours, work: Work) -> dict[str, Any]:
    """Give one part: what the project says of it, and the colours it comes to."""
    part = one.part
    return {
        "number": number + 1,
        "name": part.name,
        "areas": work.areas[number],
        "rest": part.rest,
        "base": _swatch(one.base),
        "shadow": _swatch(one.shadow),
        "light": _swatch(one.light),
        "named": {"base": part.base, "shadow": part.shadow, "light": part.light},
        "how": one.how or ("white" if part.leave_white else ""),
        "chosen": one.chosen,
        "made": None
        if one.companion is None or not one.companion.fits
        else {"name": one.companion.name, "how": one.companion.how, "coats": one.companion.coats},
        "highlight": part.left_toward_light,
        "leave_white": part.leave_white,
        "order": part.order,
        "note": part.note,
        "shadow_mm": part.shadow_mm,
        "softness_mm": part.softness_mm,
        "material": part.material,
        "guessed": guess_material(part.name).name,
        "dark": _shares(part.dark, work),
        "bright": _shares(part.bright, work),
        "ramp": ramp_text(one.ramp),
        "strip": []
        if one.ramp is None
        else [{"hex": "#" + bytes(one.ramp[place]).hex()} for place in (0, 51, 102, 153, 204, 255)],
    }


def _shares(places: Sequence[Point], work: Work) -> list[list[float]]:
    """Places in mm as shares of the picture."""
    width, height = work.size_mm
    return [[round(x / width, 5), round(y / height, 5)] for x, y in places]


def view_questions(work: Work) -> list[dict[str, Any]]:
    """Give the overlaps to ask about, each with the longest border of the two parts: the areas on either side."""
    fronts, part_of, parts = work.fronts, work.part_of(), work.project.parts
    found = []
    for one in find_questions(work):
        wanted = {work.project.place_of(one.front) + 1, work.project.place_of(one.behind) + 1}
        rows = [row for row, pair in enumerate(fronts.pairs) if set(part_of[pair].tolist()) == wanted]
        a, b = fronts.pairs[max(rows, key=lambda row: float(fronts.border_mm[row]))].tolist()
        front, behind = (a, b) if parts[part_of[a] - 1].name == one.front else (b, a)
        found.append(
            {
                "front": one.front,
                "behind": one.behind,
                "words": one.words,
                "areas": [front, behind],
                "changes_mm2": round(one.changes_mm2, 1),
            }
        )
    return found


def _areas(work: Work) -> list[dict[str, Any]]:
    width, height = work.regions.size_px
    owner = work.part_of()
    total = sum(area.area_px for area in work.regions.parts)
    return [
        {
            "number": area.number,
            "part": int(owner[area.number]) - 1,
            "x": round((area.point_px[0] + 0.5) / width, 5),
            "y": round((area.point_px[1] + 0.5) / height, 5),
            "radius": round(area.radius_px / width, 5),
            "share": round(area.area_px / total, 5),
        }
        for area in work.regions.parts
    ]


def _closures(work: Work) -> list[dict[str, Any]]:
    width, height = work.regions.size_px
    return [
        {
            "path": [[round((x + 0.5) / width, 5), round((y + 0.5) / height, 5)] for x, y in closure.path_px],
            "on": closure.on,
            "kind": closure.kind,
            "parts_two": closure.between[0] != closure.between[1],
        }
        for closure in work.regions.closures
    ]


def _borders(work: Work) -> list[dict[str, Any]]:
    fronts = work.fronts
    return [
        {
            "one": int(one),
            "other": int(other),
            "one_in_front": round(float(first), 3),
            "given": bool(given),
            "border_mm": round(float(length), 1),
        }
        for (one, other), first, given, length in zip(
            fronts.pairs, fronts.first_in_front, fronts.given, fronts.border_mm, strict=True
        )
    ]


def view_of(desk: Desk, opened: OpenProject) -> dict[str, Any]:
    """Give everything that the page draws of a project."""
    with opened.lock:
        work = opened.work()
        inked, colours = opened.colours(desk)
        project = work.project
        width, height = map_size_px(work)
        paper = np.round(labs_to_display_srgb1(inked.paper.lab[None])[0] * 255).astype(int).tolist()
        soft = part_colours(len(work.regions.parts))
        return {
            "project": opened.key,
            "version": opened.version,
            "name": project.title,
            "file": opened.path.parent.name + "/" + opened.path.name,
            "undo": opened.steps.undo_words,
            "redo": opened.steps.redo_words,
            "on": swatch_of(inked.paper.name, inked.paper.lab),
            "paper": project.paper,
            "paper_srgb255": paper,
            "outline": project.outline,
            "light": project.light,
            "light_deg": project.light_deg,
            "shadow_mm": project.shadow_mm,
            "softness_mm": project.softness_mm,
            "page": project.page,
            "notes": project.notes,
            "papers": [
                {"role": one.role, "name": one.name, "width_mm": one.width_mm, "height_mm": one.height_mm}
                for one in project.papers
            ],
            "greeting": None
            if project.greeting is None
            else {
                "words": project.greeting.words,
                "ink": project.greeting.ink,
                "size_pt": project.greeting.size_pt,
                "bold": project.greeting.bold,
            },
            "rim_mm": project.cut.rim_mm,
            "spikes": project.cut.spikes,
            "width_mm": round(work.size_mm[0], 1),
            "height_mm": round(work.size_mm[1], 1),
            "dpi": round(work.dpi, 1),
            "remarks": work.notes,
            "map": opened.map_serial,
            "tone": opened.tone_serial,
            "width_px": width,
            "height_px": height,
            "parts": [part_view(number, one, work) for number, one in enumerate(colours)],
            "areas": _areas(work),
            "soft": base64.b64encode(soft.tobytes()).decode("ascii"),
            "closures": _closures(work),
            "borders": _borders(work),
        }
