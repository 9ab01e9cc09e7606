"""Writing a plan: every file is made whole before the first one is put in its place."""

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import cast

from blendkit.art.preview import LOOKS, in_look
from blendkit.errors import ProjectError, SheetError
from blendkit.files import replace_files
from blendkit.inked import ink_drawer
from blendkit.page.typeset import Form, Setting
from blendkit.palette import Palette
from blendkit.plan.cut_line import CutLine, find_cut_line
from blendkit.plan.making import make_plan
from blendkit.plan.pictures import draw_pictures, encode_png
from blendkit.plan.records import PlanRecord
from blendkit.plan.sheets import cut_file, draw_areas, draw_class, draw_cut_sheet, draw_plan
from blendkit.plan.stages import draw_stages, encode_moving, encode_strip
from blendkit.project.part_colours import colour_parts, paint_work
from blendkit.project.records import Project
from blendkit.project.work import Work, open_work
from blendkit.words import Progress, within

PARTS_OF_PLAN = ("plan", "class", "preview", "cut")
"""What a plan can be written as: its sheets, the class form, the coloured picture, the cut line."""

FORMATS = ("pdf", "png", "svg")
"""Formats of the sheets; the preview is always a PNG and the cut line always an SVG too."""

SHEET_PNG_DPI = 200.0
"""Of sheets that are written as pictures: fine enough for 6-point type. Own judgement."""


@dataclass(frozen=True, slots=True)
class PlanFiles:
    """What was written: the plan, its cut line if asked for, and the files."""

    plan: PlanRecord
    cut_line: CutLine | None
    files: tuple[Path, ...]


def file_stem(project: Project) -> str:
    """Name that a plan's files begin with: the project file's, or its folder's where that is just "project"."""
    if project.path is None:
        return Path(project.image).stem
    path = project.path.resolve()
    return path.parent.name if path.stem == "project" and path.parent.name else path.stem


def write_plan(
    project: Project,
    palette: Palette,
    folder: str | os.PathLike[str],
    *,
    only: Sequence[str] = PARTS_OF_PLAN,
    formats: Sequence[str] = FORMATS[:1],
    page: str | None = None,
    stages: bool = False,
    look: str = LOOKS[0],
    work: Work | None = None,
    progress: Progress | None = None,
    copies: int = 1,
    black: bool = False,
    budget: float | None = None,
) -> PlanFiles:
    """Make a plan and write it.

    Args:
        project: the project.
        palette: the drawer.
        folder: where to; it is made when it isn't there.
        only: which of :data:`PARTS_OF_PLAN`.
        formats: which of :data:`FORMATS`, for the sheets.
        page: "A4" or "Letter"; None for the project's own.
        stages: whether to draw the picture's stages as well, side by side and as a moving picture.
        look: one of :data:`LOOKS`: how the preview and the pictures of the sheets are painted.
        work: the project at work, if at hand.
        progress: told each step before it starts.
        copies: how many are made: seats of a class.
        black: for a printer of one ink.
        budget: what the shopping list may cost, or None for any.

    Returns: the plan and its files.
    Raises: ProjectError, PictureError or SheetError; then no file was changed.
    """
    if page is not None:
        project = replace(project, page=page)
    tell = within(progress, 0.0, 1.0)
    work = (
        work
        if work is not None and work.project == project
        else open_work(project, work, within(progress, 0.0, 0.4))
    )
    record = make_plan(
        project, palette, work, progress=within(progress, 0.4, 0.5), copies=copies, budget=budget
    )
    inked = ink_drawer(palette, project.paper or None)
    tell(0.5, "paint")
    colours = colour_parts(project, inked)
    preview = paint_work(replace(work, shades=in_look(work.shades, look)), colours, inked)
    stem = file_stem(project)
    data: dict[str, bytes] = {}
    line: CutLine | None = None
    if "preview" in only:
        data[f"{stem}-preview.png"] = encode_png(preview, work.dpi)
    if stages:
        drawn = draw_stages(work, colours, inked)
        data[f"{stem}-stages.png"] = encode_strip(drawn)
        data[f"{stem}-stages.gif"] = encode_moving(drawn)
    if {"plan", "class", "cut"} & set(only):
        tell(0.55, "pictures")
        pictures = draw_pictures(record, work, preview, colours, inked)
        if {"plan", "cut"} & set(only):
            tell(0.65, "cut")
            line = _cut_line(work)
        if "plan" in only:
            data |= _sheet_files(
                draw_plan(record, pictures, line, black=black),
                f"{stem}-plan",
                formats,
                within(progress, 0.7, 0.9),
            )
        if "class" in only:
            data |= _sheet_files(
                draw_class(record, pictures, black=black),
                f"{stem}-class",
                formats,
                within(progress, 0.7, 0.9),
            )
        if "cut" in only:
            line = line or find_cut_line(work)
            data[f"{stem}-cut.svg"] = cut_file(record, line)
            sheet = draw_cut_sheet(record, line, pictures)
            # the cut line's own SVG keeps the name
            others = [one for one in formats if one != "svg"]
            data |= _sheet_files(sheet, f"{stem}-cut", others, within(progress, 0.9, 0.98))
    tell(0.98, "write")
    return PlanFiles(record, line, write_all(Path(folder), data))


def write_areas(
    project: Project, palette: Palette, path: str | os.PathLike[str], progress: Progress | None = None
) -> tuple[Path, ...]:
    """Write the map of closed areas with their numbers, as the format that *path* ends in.

    Parts, papers and names play no role, so that the map helps to mend them.

    Raises: as :func:`write_plan`.
    """
    project = replace(project, parts=(), fronts=(), papers=(), greeting=None, paper="", outline="")
    file = Path(path)
    form = file.suffix.lower().lstrip(".")
    if form not in FORMATS:
        raise SheetError(
            f"{file}: the map of areas is written as .pdf, .png or .svg, not {file.suffix or 'that'}"
        )
    work = open_work(project, None, within(progress, 0.0, 0.7))
    record = make_plan(project, palette, work, progress=progress)
    sheet = draw_areas(record, work)
    data = _sheet_files(sheet, file.stem, (form,), within(progress, 0.8, 1.0))
    return write_all(file.parent, {name.replace(f".{form}", file.suffix): one for name, one in data.items()})


def _cut_line(work: Work) -> CutLine | None:
    """The cut line, or None where nothing is left to cut out: the plan's other pages are of use without it."""
    try:
        return find_cut_line(work)
    except ProjectError:
        return None


def _sheet_files(sheet: Setting, stem: str, formats: Sequence[str], tell: Progress) -> dict[str, bytes]:
    files: dict[str, bytes] = {}
    for form in formats:
        tell(0.0, "sheets", f"{stem}.{form}")
        pages = sheet.draw(cast(Form, form), SHEET_PNG_DPI)
        for number, data in enumerate(pages, 1):
            files[f"{stem}-{number}.{form}" if len(pages) > 1 else f"{stem}.{form}"] = data
    return files


def write_all(folder: Path, data: Mapping[str, bytes]) -> tuple[Path, ...]:
    """Write files so that all of them are whole on the disk before the first takes its place.

    Args:
        folder: where to; made when it isn't there.
        data: the bytes of each file, by its name.

    Raises: SheetError when the disk refuses; then the old files are as they were.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise SheetError(f"{folder} can't be written: {error.strerror or error}.") from None
    replace_files({folder / name: content for name, content in data.items()}, SheetError)
    return tuple(folder / name for name in data)
