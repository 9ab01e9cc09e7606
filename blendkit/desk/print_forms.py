"""What a project can be printed as, made from the sheets' own calls."""

from collections.abc import Sequence
from dataclasses import dataclass

from blendkit.desk.jobs import Progress
from blendkit.inked import Inked
from blendkit.palette import Palette
from blendkit.plan.making import make_plan
from blendkit.project.part_colours import PartColours, paint_work
from blendkit.project.work import Work

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
    progress: Progress,
) -> MadeForm:
    """Make one of :data:`FORMS`.

    Args:
        form: which.
        work: the project at work.
        palette: the drawer.
        inked: the drawer on the project's paper.
        colours: the parts' colours.
        progress: told how far it is.

    Returns: the file.
    Raises: ProjectError for a project that names what the drawer lacks, or has nothing to cut out.
    """
    from blendkit.page.page import draw_pdf
    from blendkit.plan.cut_line import cut_line_to_svg, find_cut_line
    from blendkit.plan.drawing import draw_areas, draw_handout, draw_plan
    from blendkit.plan.pictures import draw_pictures, encode_png

    if form == "cut":
        progress(0.2, "drawing the line around the figure")
        return MadeForm(cut_line_to_svg(find_cut_line(work), work.project), "image/svg+xml", ".svg")
    progress(0.1, "colouring the image")
    preview = paint_work(work, colours, inked)
    if form == "preview":
        progress(0.6, "writing the picture")
        return MadeForm(encode_png(preview, work.dpi), "image/png", ".png")
    progress(0.25, "checking the plan")
    record = make_plan(work.project, palette, work, inked=inked)
    progress(0.45, "drawing its pictures")
    pictures = draw_pictures(record, work, preview)
    progress(0.75, "laying out the sheets")
    if form == "areas":
        sheet = draw_areas(record, work)
    else:
        sheet = draw_handout(record, pictures) if form == "handout" else draw_plan(record, pictures)
    return MadeForm(draw_pdf(sheet), "application/pdf", ".pdf")
