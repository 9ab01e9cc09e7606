"""Swatch charts to print, colour and read back: boxes, blend strips, crossings, with marks for the camera.

:func:`make_chart` chooses what stands on the chart and lays it out; :func:`write_chart` writes the pages and,
beside them, the description file that reading back needs (:mod:`blendkit.chart.description` says what is in
it). The layout lives in :mod:`blendkit.chart.layout`, what is asked for in
:mod:`blendkit.chart.content`, the drawing in :mod:`blendkit.chart.drawing`.

>>> from blendkit.palette import demo_palette_path, read_palette
>>> chart = make_chart(read_palette(demo_palette_path()), coats=3)
>>> chart.pages >= 1
True
"""

import hashlib
import itertools
import json
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

import numpy as np

from blendkit.chart.code import SHEETS, PageLayout, Section, layout_from_code
from blendkit.chart.content import (
    Blends,
    Content,
    Crossing,
    Lifts,
    Order,
    SectionAsked,
    Swatches,
    order_markers,
    predict,
    select_markers,
    take,
)
from blendkit.chart.description import CHART_FILE_VERSION, BoxSpec, ChartSpec, PageSpec, write_chart_file
from blendkit.chart.drawing import draw_chart_page
from blendkit.chart.layout import (
    LARGEST_BOX_MM,
    MAX_PAGES,
    SMALLEST_BOX_MM,
    PlacedPage,
    page_from_code,
    paginate,
    place_page,
    unnamed_page,
)
from blendkit.colour import is_in_srgb
from blendkit.errors import Problem, SheetError
from blendkit.inked import PLAIN_WHITE, choose_paper, ink_drawer
from blendkit.page.page import Document, find_unshown, write_sheet
from blendkit.palette import Marker, Palette

MOST_COATS = 3
USUAL_BOXES_MM = ((24.0, 18.0), (20.0, 15.0), (18.0, 13.0), (15.0, 11.0))
"""Largest first; a larger box is easier to fill evenly and to read."""
ID_LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
"""No I, L, O and U, which are misread. Source: Crockford's base 32 alphabet."""


@dataclass(frozen=True)
class ChartRecord:
    """A chart that is ready to be written.

    ``spec`` is what reading back needs, ``sheet`` the pages to print; ``notes`` are sentences for the user.
    """

    chart_id: str
    title: str
    paper: str
    pages: int
    boxes: int
    codes: tuple[str, ...]
    notes: tuple[str, ...]
    spec: ChartSpec = field(repr=False)
    sheet: Document = field(repr=False)


def make_chart(
    palette: Palette,
    *,
    names: Sequence[str] = (),
    families: Sequence[str] = (),
    unmeasured: bool = False,
    coats: int = 1,
    swatches: bool = True,
    blends: Sequence[tuple[str, str]] = (),
    family_blends: bool = False,
    unders: Sequence[str] = (),
    overs: Sequence[str] = (),
    anchors: Sequence[str] = (),
    lifts: bool = False,
    steps: int = 5,
    paper: str | None = None,
    paper_size: str = "A4",
    landscape: bool = False,
    box_mm: tuple[float, float] | None = None,
    expected: bool = True,
    order: Order = "hue",
    title: str | None = None,
) -> ChartRecord:
    """Make a chart of the markers of a palette.

    Args:
        palette: the drawer.
        names, families: the markers to put on it; all when both are empty.
        unmeasured: of these only what has no measurement yet.
        coats: boxes for each marker, 1 to 3: one coat, two coats, three coats.
        swatches: False leaves out the boxes of the single markers.
        blends: pairs to blend; the lighter one is put first whichever comes first here.
        family_blends: a strip for every two neighbours in lightness within a family of the chosen markers.
        unders, overs: markers to lay under and over each other; one alone is crossed with itself.
        anchors: markers that an instrument measured, to be coloured in so that a photo can be tied to them.
        lifts: for each marker also a box for one coat that a colourless blender goes over when it is dry.
        steps: reading places along a blend strip, 3 to 9.
        paper: a paper of the palette to be coloured on; None takes the one that most swatches lie on.
        paper_size: A4 or Letter.
        landscape: turned on its side.
        box_mm: width and height of a box, 8 to 60 mm, in halves; None takes the largest from 15 by 11 to
            24 by 18 that needs no more pages than the smallest of these.
        expected: print the colour expected under each box; False gives empty boxes alone.
        order: by "hue" then lightness, by "family" then lightness, or as in the "palette".
        title: printed at the top; None names the palette file.

    Returns: the chart, ready for :func:`write_chart`.
    Raises: PaletteError for an unknown marker or paper; SheetError for an unknown family, an option out of
        range, nothing chosen, or more than 31 pages.
    """
    _check_options(coats, steps, paper_size, box_mm)
    choose_paper(palette, paper)
    chosen = order_markers(select_markers(palette, names, families, unmeasured, coats), order)
    asked: list[SectionAsked] = []
    if swatches:
        asked.append(_asked_swatches("S", chosen, coats))
    if anchors:
        asked.append(_asked_swatches("A", [palette.marker(name) for name in anchors], 1))
    if lifts:
        asked.append(_asked_swatches("L", chosen, 1))
    pairs = [_light_first(palette, pair) for pair in blends]
    if family_blends:
        pairs += _neighbours(palette, {marker.name for marker in chosen})
    if pairs:
        asked.append(SectionAsked(Section("B", len(pairs), steps), pairs=tuple(pairs)))
    if unders or overs:
        below = tuple(palette.marker(name).name for name in (unders or overs))
        above = tuple(palette.marker(name).name for name in (overs or unders))
        asked.append(SectionAsked(Section("X", len(below), len(above)), below, above))
    if not asked:
        raise SheetError("there is nothing to put on the chart; ask for swatches, blends or a crossing")
    short = {name: short for short, name in SHEETS.items()}[paper_size]
    boxes = USUAL_BOXES_MM if box_mm is None else (_in_halves(box_mm),)
    layouts = [PageLayout("000000", 1, 1, short, landscape, *box, expected, ()) for box in boxes]
    layout = _roomiest(layouts, asked)
    inked = ink_drawer(palette, paper)
    contents = [predict(inked, each) for each in asked]
    named = "" if inked.paper.name == PLAIN_WHITE else inked.paper.name
    return _record(layout, asked, contents, title if title is not None else _title(palette), named)


def write_chart(chart: ChartRecord, path: Path, dpi: float = 150.0) -> tuple[Path, ...]:
    """Write the chart's pages (.pdf, .svg or .png by the ending of *path*) and its description beside them.

    The description of ``chart.pdf`` is ``chart.chart.json``.

    Returns: the files written, the description last.
    Raises: SheetError as :func:`blendkit.page.page.write_sheet`.
    """
    written = write_sheet(chart.sheet, path, dpi)
    description = path.with_name(f"{path.stem}.chart.json")
    write_chart_file(chart.spec, description)
    return (*written, description)


# --- options and parts ------------------------------------------------------------------------------------


def _check_options(coats: int, steps: int, paper_size: str, box_mm: tuple[float, float] | None) -> None:
    """Raise for every option out of range at once."""
    problems = []
    if not 1 <= coats <= MOST_COATS:
        problems.append(Problem("coats", str(coats), f"1 to {MOST_COATS}"))
    if not 3 <= steps <= 9:
        problems.append(Problem("steps of a blend strip", str(steps), "3 to 9"))
    if paper_size not in SHEETS.values():
        problems.append(Problem("paper size", paper_size, " or ".join(SHEETS.values())))
    for side, value in zip(("box width", "box height"), box_mm or (), strict=False):
        if not SMALLEST_BOX_MM <= value <= LARGEST_BOX_MM:
            accepted = f"{SMALLEST_BOX_MM:g} to {LARGEST_BOX_MM:g} mm; less is too small for a brush nib"
            problems.append(Problem(side, f"{value:g} mm", accepted))
    if problems:
        raise SheetError("this chart can't be drawn", problems)


def _in_halves(box_mm: tuple[float, float]) -> tuple[float, float]:
    return round(2 * box_mm[0]) / 2, round(2 * box_mm[1]) / 2


def _roomiest(layouts: Sequence[PageLayout], asked: Sequence[SectionAsked]) -> PageLayout:
    """Give the first of *layouts*, largest box first, that needs no more pages than the last.

    Raises: SheetError when that is more than the marks can tell apart.
    """
    sections = tuple(each.section for each in asked)
    fewest = len(paginate(layouts[-1], sections))
    if fewest > MAX_PAGES:
        raise SheetError(
            f"this chart would have {fewest} pages; the camera's marks tell {MAX_PAGES} apart. "
            "Choose fewer markers, or smaller boxes"
        )
    for layout in layouts:
        try:
            if len(paginate(layout, sections)) <= fewest:
                return layout
        except SheetError:
            continue
    return layouts[-1]


def _asked_swatches(kind: Literal["S", "A", "L"], markers: Sequence[Marker], coats: int) -> SectionAsked:
    return SectionAsked(Section(kind, len(markers), coats), tuple(marker.name for marker in markers))


def _light_first(palette: Palette, pair: tuple[str, str]) -> tuple[str, str]:
    light, dark = sorted((palette.marker(name) for name in pair), key=lambda marker: -float(marker.lab[0]))
    return light.name, dark.name


def _neighbours(palette: Palette, chosen: set[str]) -> list[tuple[str, str]]:
    """Give every two markers of a family that follow each other in lightness, both *chosen*."""
    pairs = []
    for markers in palette.families.values():
        kept = [marker.name for marker in markers if marker.name in chosen]
        pairs += list(itertools.pairwise(kept))
    return pairs


def _title(palette: Palette) -> str:
    stem = palette.path.stem.replace("_", " ").replace("-", " ") if palette.path else "palette"
    return stem[:1].upper() + stem[1:]


def _record(
    bare: PageLayout, asked: Sequence[SectionAsked], contents: Sequence[Content], title: str, paper: str
) -> ChartRecord:
    shares = paginate(bare, tuple(each.section for each in asked))
    chart_id = _chart_id(bare, asked)
    cursors = [_Cursor() for _ in contents]
    placed_pages: list[PlacedPage] = []
    parts: list[tuple[Content, ...]] = []
    for number, share in enumerate(shares, 1):
        layout = replace(
            bare,
            chart_id=chart_id,
            page=number,
            pages=len(shares),
            sections=tuple(section for section, _ in share),
        )
        placed_pages.append(place_page(layout))
        parts.append(
            tuple(cursors[place].next(contents[place], section, asked[place]) for section, place in share)
        )
    pages = tuple(_page_spec(placed, part) for placed, part in zip(placed_pages, parts, strict=True))
    version = CHART_FILE_VERSION if any(each.section.kind == "L" for each in asked) else 1
    spec = ChartSpec(version, chart_id, title, paper, pages)
    sheet = Document(
        title,
        tuple(
            draw_chart_page(placed, part, title, paper)
            for placed, part in zip(placed_pages, parts, strict=True)
        ),
    )
    return ChartRecord(
        chart_id=chart_id,
        title=title,
        paper=paper,
        pages=len(pages),
        boxes=sum(box.kind != "paper" for page in pages for box in page.boxes),
        codes=tuple(page.code for page in pages),
        notes=_notes(sheet, pages if bare.expected else ()),
        spec=spec,
        sheet=sheet,
    )


class _Cursor:
    """How much of a content the pages have taken so far."""

    def __init__(self) -> None:
        self.row = 0
        self.over = 0

    def next(self, content: Content, section: Section, asked: SectionAsked) -> Content:
        """Give the next *section* of a content; a crossing cut by width goes through its rows for each part."""
        start, end = self.row, self.row + section.count
        columns = slice(self.over, self.over + section.depth)
        self.row = end
        if section.kind == "X" and end == asked.section.count:
            self.row, self.over = 0, columns.stop
        return take(content, start, end, columns)


def _chart_id(layout: PageLayout, asked: Sequence[SectionAsked]) -> str:
    """Give six letters that stand for the layout and all the names, not for the colours."""
    size = (layout.paper_size, layout.landscape, layout.box_w_mm, layout.box_h_mm, layout.expected)
    names = [(each.section.kind, each.section.depth, each.names, each.overs, each.pairs) for each in asked]
    digest = hashlib.sha256(json.dumps([size, names], ensure_ascii=True).encode()).digest()
    value = int.from_bytes(digest[:4], "big") >> 2
    return "".join(ID_LETTERS[value >> (5 * place) & 31] for place in range(6))


def _page_spec(placed: PlacedPage, parts: Sequence[Content]) -> PageSpec:
    """Give a placed page as a description, with the names and colours of what stands there."""
    unnamed = unnamed_page(placed)
    boxes: list[BoxSpec] = []
    waiting = iter(unnamed.boxes)
    for section, part in zip(placed.sections, parts, strict=True):
        for cell in section.cells:
            for place in cell.places:
                box = next(waiting)
                match part:
                    case Swatches():
                        name = part.names[cell.index]
                        coats = f", {box.coats} coats" if box.coats > 1 else ""
                        lab = part.labs[cell.index][place.item]
                        box = replace(box, label=name + coats, markers=(name,), expected_lab=lab)
                    case Lifts():
                        name = part.names[cell.index]
                        label = f"{name}, then blender"
                        lab_or_none = part.labs[cell.index]
                        box = replace(box, label=label, markers=(name,), expected_lab=lab_or_none)
                    case Blends():
                        box = _strip_box(box, place.item, cell.index, part)
                    case Crossing():
                        under, over = part.unders[cell.index], part.overs[place.item]
                        lab = part.labs[cell.index][place.item]
                        label = f"{over} over {under}"
                        box = replace(box, label=label, markers=(under, over), expected_lab=lab)
                boxes.append(box)
    boxes += [replace(box, label="bare paper") for box in waiting]
    return replace(unnamed, boxes=tuple(boxes))


def _strip_box(box: BoxSpec, item: int, index: int, blends: Blends) -> BoxSpec:
    light, dark = blends.pairs[index]
    steps = len(blends.ratios[index])
    if box.kind == "swatch":
        name, lab = (light, blends.ends[index][0]) if item == 0 else (dark, blends.ends[index][1])
        return replace(box, label=name, markers=(name,), expected_lab=lab)
    return replace(
        box,
        label=f"{light} to {dark}, step {item} of {steps}",
        markers=(light, dark),
        ratio=blends.ratios[index][item - 1],
        expected_lab=blends.labs[index][item - 1],
    )


def _notes(sheet: Document, shown: Sequence[PageSpec]) -> tuple[str, ...]:
    """Give what the user should know of the *sheet*, and of the colours *shown* on these pages."""
    notes = []
    labs = [box.expected_lab for page in shown for box in page.boxes if box.expected_lab is not None]
    if labs:
        notes.append("The colours printed on the chart are only as good as the printer: trust the ink.")
        outside = int(np.count_nonzero(~is_in_srgb(np.array(labs))))
        if outside:
            notes.append(
                f"{outside} of the {len(labs)} colours expected are stronger than the file can hold "
                "(outside sRGB); their bars show the nearest colour that it can."
            )
    notes.append(
        "Print at 100 % and check the ruler; a chart scaled to fit the page still reads, a cut one not."
    )
    unshown = find_unshown(sheet)
    if unshown:
        listed = ", ".join(f"“{text}”" for text in unshown[:5]) + (" and more" if len(unshown) > 5 else "")
        notes.append(
            f"No font on this computer has all the letters of {listed}; they are spelled by Unicode number. "
            "Install a font with that script, such as one of the Noto family, and draw the chart again."
        )
    return tuple(notes)


# --- when the description is lost -------------------------------------------------------------------------


def rebuild_chart(codes: Sequence[str], palette: Palette | None = None) -> ChartSpec:
    """Rebuild a chart's description from the codes on its pages, and its names from the palette if they fit.

    Without a palette the boxes are counted, not named. With one, the selections that a chart is usually made
    of are tried (all markers, each family, the unmeasured; each order) until one gives the same chart.
    A chart of blends, crossings, anchors or single names needs its description file.

    Args:
        codes: text of the QR codes of one or more pages of one chart.
        palette: the drawer that the chart was made from.

    Raises: SheetError for a damaged code, codes of two charts, or names that can't be found again.
    """
    layouts = [layout_from_code(code) for code in codes]
    ids = sorted({layout.chart_id for layout in layouts})
    if len(ids) != 1:
        found = ", ".join(ids) or "none"
        raise SheetError(f"one chart is rebuilt at a time; the pages' codes name these charts: {found}")
    if palette is None:
        pages = {page.page: page for page in map(page_from_code, codes)}
        version = (
            CHART_FILE_VERSION
            if any(box.kind == "lift" for page in pages.values() for box in page.boxes)
            else 1
        )
        return ChartSpec(version, ids[0], "", "", tuple(pages[number] for number in sorted(pages)))
    layout = layouts[0]
    depths = {section.depth for each in layouts for section in each.sections if section.kind == "S"}
    selections: list[tuple[tuple[str, ...], bool]] = [((), False), ((), True)]
    selections += [((family,), unmeasured) for family in palette.families for unmeasured in (False, True)]
    orders: tuple[Order, ...] = ("hue", "family", "palette")
    ways = itertools.product(sorted(depths), selections, orders, (False, True))
    for coats, (families, unmeasured), order, lifts in ways:
        try:
            markers = order_markers(select_markers(palette, (), families, unmeasured, coats), order)
        except SheetError:
            continue
        # The number follows from the names alone, so colours are worked out only for the chart that fits.
        asked = [_asked_swatches("S", markers, coats), *[_asked_swatches("L", markers, 1)] * lifts]
        if _chart_id(layout, asked) == ids[0]:
            return make_chart(
                palette,
                families=families,
                unmeasured=unmeasured,
                coats=coats,
                lifts=lifts,
                paper_size=SHEETS[layout.paper_size],
                landscape=layout.landscape,
                box_mm=(layout.box_w_mm, layout.box_h_mm),
                expected=layout.expected,
                order=order,
            ).spec
    raise SheetError(
        f"no selection of this palette gives chart {ids[0]} again; the palette has changed, or the chart was of "
        "single names, blends or crossings. Give its description file (….chart.json)"
    )
