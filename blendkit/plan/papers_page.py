"""The papers of a plan as a small mock card with verdicts, and the list of what to pull from the drawer."""

from blendkit.inked import Swatch
from blendkit.page.page import Gradient, Image, Line, Page, Rect, Shape, Text
from blendkit.plan.frame import GREY, INK, PALE, RULE, Frame, chip, tick_box
from blendkit.plan.pictures import PlanPictures
from blendkit.plan.records import PlanGreeting, PlanPaper, PlanRecord, PullItem

MOCK_MM = 92.0
ROW_MM = 25.0
POINT_MM = 25.4 / 72
PATTERN_MM = 17.0
"""Width in which a patterned sheet shows each of its colours once."""

PULL_MM = 8.6
NOTES_MM = 62.0
"""Least room for findings and notes below the papers."""


def papers_pages(record: PlanRecord, pictures: PlanPictures, frame: Frame) -> list[Page]:
    """Lay out the mock card, the papers with their verdicts, the greeting, and below them findings and notes.

    Returns: one page, or two where there is no room for notes; only the notes where no paper is chosen.
    """
    title = f"{record.project}: papers and greeting"
    if not record.papers and record.greeting is None:
        return [frame.page(f"{record.project}: notes", "", _findings_and_notes(record, frame, frame.top))]
    y = frame.top
    mock, mock_height = _mock_card(record, pictures, frame.left, y, MOCK_MM)
    x = frame.left + MOCK_MM + 9.0
    width = frame.right - x
    shapes: list[Shape] = [*mock, *_paper_rows(record, x, y, width)]
    below = max(y + mock_height, y + ROW_MM * (len(record.papers) + 1)) + 8.0
    if record.greeting is not None:
        greeting, below = _greeting(record.greeting, frame, below)
        shapes += greeting
    subtitle = "Sizes in millimetres and in inches to the sixteenth. Verdicts hold in daylight, unless said."
    if frame.bottom - below >= NOTES_MM:
        return [frame.page(title, subtitle, [*shapes, *_findings_and_notes(record, frame, below)])]
    notes = _findings_and_notes(record, frame, frame.top)
    return [frame.page(title, subtitle, shapes), frame.page(f"{record.project}: notes", "", notes)]


def _mock_card(
    record: PlanRecord, pictures: PlanPictures, x: float, y: float, side: float
) -> tuple[list[Shape], float]:
    """Draw the card as it will lie on the table, to scale; give its height too."""
    card = [paper for paper in record.papers if paper.role == "card"]
    mats = [paper for paper in record.papers if paper.role == "mat"]
    touches = [paper for paper in record.papers if paper.role in ("accent", "ribbon")]
    layers: list[tuple[PlanPaper, float, float]] = []
    width, height = record.width_mm + 6.0, record.height_mm + 6.0
    for paper in (*mats, *card):
        width = max(paper.width_mm or width + 10.0, 1.0)
        height = max(paper.height_mm or height + 10.0, 1.0)
        layers.append((paper, width, height))
    whole = max([(w, h) for _, w, h in layers], default=(width, height), key=lambda size: size[0] * size[1])
    scale = min(side / whole[0], 118.0 / whole[1])
    cx, cy = x + scale * whole[0] / 2, y + scale * whole[1] / 2
    shapes: list[Shape] = []
    for paper, w, h in sorted(layers, key=lambda layer: -layer[1] * layer[2]):
        box = (cx - scale * w / 2, cy - scale * h / 2, scale * w, scale * h)
        shapes.append(Rect(*box, _sheet_fill(paper, scale * w), PALE, 0.15))
    for paper in touches:
        w, h = paper.width_mm or whole[0], paper.height_mm or 10.0
        if paper.role == "ribbon" and h > w:  # a ribbon runs down the side of the card
            at = (x + scale * whole[0] * 0.03, cy - scale * min(h, whole[1]) / 2)
            shapes.append(
                Rect(*at, scale * w, scale * min(h, whole[1]), _sheet_fill(paper, scale * w), PALE, 0.15)
            )
        else:
            at = (cx - scale * min(w, whole[0]) / 2, y + scale * (whole[1] * 0.94 - h))
            shown = scale * min(w, whole[0])
            shapes.append(Rect(*at, shown, scale * h, _sheet_fill(paper, shown), PALE, 0.15))
    w, h = scale * record.width_mm, scale * record.height_mm
    shapes.append(
        Rect(cx - w / 2 - scale, cy - h / 2 - scale, w + 2 * scale, h + 2 * scale, record.on.hex, PALE, 0.1)
    )
    shapes.append(Image(cx - w / 2, cy - h / 2, w, h, pictures.preview_jpg))
    greeting = record.greeting
    if greeting is not None:
        size = max(4.0, scale * greeting.size_pt)
        room = 0.9 * scale * whole[0]
        box_h = size * POINT_MM * 1.8
        top = min(cy + h / 2 - box_h * 0.3, y + scale * whole[1] - box_h - 0.8)
        shapes.append(Rect(cx - room * 0.36, top, room * 0.72, box_h, greeting.on.hex, PALE, 0.15, 0.6))
        shapes.append(
            Text(
                cx,
                top + box_h * 0.66,
                greeting.text,
                size,
                greeting.ink.hex,
                width_mm=room * 0.68,
                align="centre",
                bold=greeting.bold,
                min_size_pt=3.0,
            )
        )
    caption = f"to scale, {100 * scale:.0f} % of its size"
    shapes.append(Text(x, y + scale * whole[1] + 4.0, caption, 6.6, GREY))
    return shapes, scale * whole[1] + 5.0


def _sheet_fill(paper: PlanPaper, width_mm: float) -> str | Gradient:
    """A plain sheet's colour, or a patterned one's colours by their shares, side by side every few millimetres."""
    if not paper.pattern:
        return paper.swatch.hex
    repeats = max(1, round(width_mm / PATTERN_MM))
    stops: list[tuple[float, str]] = []
    for repeat in range(repeats):
        done = 0.0
        for colour, share in paper.pattern:
            start, done = done, done + share
            stops += [((repeat + start) / repeats, colour), ((repeat + min(done, 1.0)) / repeats, colour)]
    stops[-1] = (1.0, stops[-1][1])
    return Gradient(tuple(stops))


def _paper_rows(record: PlanRecord, x: float, y: float, width: float) -> list[Shape]:
    shapes: list[Shape] = []
    image = (
        "the image",
        record.on,
        record.size,
        "The image is coloured on it; every predicted colour is on this paper.",
    )
    rows: list[tuple[str, Swatch, str, str, str | Gradient]] = [(*image, image[1].hex)]
    for paper in record.papers:
        words = ""
        if paper.echoes and paper.delta_e_2000 is not None:
            near = "echoes" if paper.delta_e_2000 < 5.0 else "nearest to"
            words = f"{near} {paper.echoes}: {paper.verdict}, {paper.delta_e_2000:.1f} apart; {paper.words}"
        size = " · ".join(
            one for one in (paper.size, "colours by their share" if paper.pattern else "") if one
        )
        rows.append((paper.role, paper.swatch, size, words, _sheet_fill(paper, PATTERN_MM)))
    for place, (role, swatch, size, words, fill) in enumerate(rows):
        top = y + place * ROW_MM
        shapes += [
            Rect(x, top, 17.0, 17.0, fill, PALE, 0.15, 0.6),
            Text(x + 20.0, top + 2.6, role, 7.0, GREY),
            Text(x + 20.0, top + 6.8, swatch.name, 9.6, bold=True, width_mm=width - 20.0, min_size_pt=6.5),
            Text(x + 20.0, top + 10.6, size, 7.4, INK, width_mm=width - 20.0, min_size_pt=5.5),
            Text(x + 20.0, top + 14.0, words, 6.6, GREY, width_mm=width - 20.0, lines=3, min_size_pt=5.2),
        ]
    return shapes


def _greeting(greeting: PlanGreeting, frame: Frame, y: float) -> tuple[list[Shape], float]:
    """The words at their true size, in their ink on their paper, whether they read; and where that ends."""
    height = max(14.0, greeting.size_pt * POINT_MM * 2.2)
    middle = y + height / 2 + greeting.size_pt * POINT_MM * 0.34
    shapes: list[Shape] = [
        Rect(frame.left, y, frame.across, height, greeting.on.hex, PALE, 0.15, 0.8),
        Text(
            frame.left + frame.across / 2,
            middle,
            greeting.text,
            greeting.size_pt,
            greeting.ink.hex,
            width_mm=frame.across - 8.0,
            align="centre",
            bold=greeting.bold,
        ),
        Text(
            frame.left,
            y + height + 4.4,
            f"Greeting at its true size, {greeting.size_pt:g} pt, "
            f"{greeting.ink.name} on {greeting.on.name}: {greeting.words}",
            7.6,
            INK,
            width_mm=frame.across,
            lines=2,
        ),
    ]
    return shapes, y + height + 11.0


# ---------------------------------------------------------------- the drawer


def drawer_pages(record: PlanRecord, frame: Frame) -> list[Page]:
    """Lay out what to pull from the drawer, in two even columns a page."""
    items = list(record.pull)
    column = (frame.across - 8.0) / 2
    rows = int((frame.bottom - frame.top) // PULL_MM)
    pages: list[Page] = []
    title = f"{record.project}: pull from the drawer"
    while items:
        now, items = items[: 2 * rows], items[2 * rows :]
        pages.append(frame.page(title, _pull_words(record), _pull(now, frame, column, (len(now) + 1) // 2)))
    return pages


def _pull_words(record: PlanRecord) -> str:
    markers = sum(item.kind == "marker" for item in record.pull)
    return f"{markers} markers; tick each as it lies on the table."


def _pull(items: list[PullItem], frame: Frame, column: float, rows: int) -> list[Shape]:
    shapes: list[Shape] = []
    for place, item in enumerate(items):
        x = frame.left + (place // rows) * (column + 8.0)
        y = frame.top + (place % rows) * PULL_MM
        shapes += [
            tick_box(x, y + 1.6),
            chip(x + 5.4, y, 11.0, 6.6, item.swatch.hex),
            Text(
                x + 18.6, y + 3.0, item.swatch.name, 8.4, bold=True, width_mm=column - 18.6, min_size_pt=6.0
            ),
            Text(
                x + 18.6,
                y + 6.2,
                _pull_uses(item),
                6.4,
                GREY,
                width_mm=column - 18.6,
                min_size_pt=4.8,
            ),
        ]
    return shapes


def _pull_uses(item: PullItem) -> str:
    """What a thing is for, with its kind where that does not say it already."""
    uses = ", ".join(item.used_for)
    return uses if item.kind == "marker" or item.kind in item.used_for else f"{item.kind}: {uses}"


def _findings_and_notes(record: PlanRecord, frame: Frame, y: float) -> list[Shape]:
    shapes: list[Shape] = []
    if record.findings:
        shapes.append(Text(frame.left, y + 3.0, "Worth a look before you start", 10.5, bold=True))
        y += 8.0
        for finding in record.findings[:9]:
            if y > frame.bottom - 26.0:
                break
            mark = "!" if finding.level == "fault" else "·"
            shapes.append(Text(frame.left + 0.6, y, mark, 9, INK, bold=True))
            shapes.append(
                Text(
                    frame.left + 4.0,
                    y,
                    f"{finding.where}: {finding.words}",
                    7.2,
                    INK,
                    width_mm=frame.across - 4.0,
                    lines=2,
                    min_size_pt=6.0,
                )
            )
            y += 7.0
        y += 2.0
    shapes.append(Text(frame.left, y + 3.0, "Notes", 10.5, bold=True))
    y += 8.0
    for line in record.notes.splitlines():
        if line.strip() and y < frame.bottom - 10.0:
            shapes.append(Text(frame.left, y, line.strip(), 8, INK, width_mm=frame.across, min_size_pt=6.0))
            y += 4.8
    y += 5.0
    while y <= frame.bottom - 3.0:
        shapes.append(Line(frame.left, y, frame.right, y, RULE, 0.2))
        y += 8.0
    return shapes
