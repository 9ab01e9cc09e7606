"""What reading a coloured chart gives: frozen records, and what would change in a palette."""

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from blendkit.chart.description import BoxKind
from blendkit.chart.find_page import PageFit
from blendkit.colour import delta_e_2000
from blendkit.errors import PaletteError
from blendkit.inked import ink_drawer
from blendkit.palette import Palette
from blendkit.picture import Picture
from blendkit.spectrum import reflectance_to_lab
from blendkit.words import flag_words, lift_words

Lab = tuple[float, float, float]

MisgivingKind = Literal[
    "swapped", "shifted", "mixed up", "other inks", "vivid", "washed out", "lighter coat", "unlike coats",
    "unlikely", "repeats differ",
]  # fmt: skip
"""What can be unlikely about a page; blendkit.words says each."""

UNUSABLE = frozenset({"empty", "over-exposed", "brighter than paper", "under-exposed"})
"""Flags of boxes whose colour can't be kept."""

ASKED = frozenset(
    {"swapped", "shifted", "mixed up", "lighter coat", "unlike coats", "unlikely", "repeats differ", "patchy",
     "half filled"}
)  # fmt: skip
"""Flags of boxes whose colour is never kept without a question."""

_CLEARLY_SMALLER = 0.9
"""Part of the new figure that an old one must be below to be called surer; nearer ones are as good as alike."""


@dataclass(frozen=True)
class Misgiving:
    """Something most unlikely about a page as read.

    Attributes:
        kind: what it is.
        page: the page's number.
        boxes: labels of the boxes concerned; none when it is the whole page.
        amount: CIEDE2000 or L* for boxes, the factor on chroma for "vivid" and "washed out", the natural log of
            how much likelier the other assignment is for markers out of place.
        markers: markers that seem to lie elsewhere, or none.
        instead: the marker whose ink seems to lie in each one's boxes.
    """

    kind: MisgivingKind
    page: int
    boxes: tuple[str, ...]
    amount: float
    markers: tuple[str, ...] = ()
    instead: tuple[str, ...] = ()


@dataclass(frozen=True)
class BoxReading:
    """One box as read.

    Attributes:
        page: number of its page.
        label: as printed.
        kind: "swatch", "blend", "over", "anchor", "lift" or "paper".
        markers: names of the markers used.
        coats: how many coats.
        ratio: share of the dark ink of a blend, or None.
        lab: CIELAB, D50 / 2 degree; None where nothing usable was found (see flags).
        uncertainty: CIEDE2000 that 95 % of such readings stay within of the true colour.
        within_setup: the same for comparing colours read together, or under the same camera and lamp again:
            what all of them share has cancelled.
        expected_lab: Lab that the chart's maker expected, or None.
        delta_e_2000: from the colour expected to the colour read, or None.
        flags: what is to be said of it, keys of blendkit.words.FLAG_WORDS.
    """

    page: int
    label: str
    kind: BoxKind
    markers: tuple[str, ...]
    coats: int
    ratio: float | None
    lab: Lab | None
    uncertainty: float | None
    within_setup: float | None
    expected_lab: Lab | None
    delta_e_2000: float | None
    flags: tuple[str, ...]
    words: str

    @property
    def usable(self) -> bool:
        """Whether the colour can be kept as a measurement."""
        return self.lab is not None and not UNUSABLE.intersection(self.flags)


@dataclass(frozen=True)
class PageReading:
    """How one page of the chart was read from one picture."""

    page: int
    picture: str
    marks_found: int
    marks_missing: tuple[str, ...]
    residual_mm: float
    doubt_mm: float
    covered: float
    curl_mm: float
    px_per_mm: float
    blur_mm: float
    paper_evenness: float | None
    method: str
    correction: str
    lightness_only: bool
    setup: str
    notes: tuple[str, ...]
    fit: PageFit = field(repr=False, compare=False)
    pixels: Picture = field(repr=False, compare=False)


@dataclass(frozen=True)
class ScanRecord:
    """A coloured chart as read from its pictures.

    Attributes:
        chart_id: the chart.
        title: as printed.
        paper: name of the paper that the chart was made for, or "".
        setup: name under which these readings are kept; never compare readings of two set-ups by the smaller
            figure.
        readings: every box of every page read, in the chart's order.
        pages: one entry for each page in each picture.
        pages_missing: pages of the chart that no picture showed.
        notes: what the reader of the record should know, in words.
        findings: what is most unlikely about the pages as read.
    """

    chart_id: str
    title: str
    paper: str
    setup: str
    readings: tuple[BoxReading, ...]
    pages: tuple[PageReading, ...]
    pages_missing: tuple[int, ...]
    notes: tuple[str, ...]
    findings: tuple[Misgiving, ...] = ()

    def asks(self, reading: BoxReading) -> bool:
        """Whether a reading is so unlikely, by itself or with its page, that a person must be asked first."""
        whole = any(not one.boxes and one.page == reading.page for one in self.findings)
        return whole or bool(ASKED.intersection(reading.flags))

    def reading(self, label: str, coats: int = 1) -> BoxReading | None:
        """Give the reading of the box with that label and number of coats, or None."""
        for reading in self.readings:
            if reading.label == label and reading.coats == coats:
                return reading
        return None


@dataclass(frozen=True)
class ProposedReading:
    """A measurement that a palette could take over.

    Attributes:
        marker: name in the palette.
        coats: which of its rows.
        old_lab: what the palette holds for these coats, or None where it holds nothing.
        new_lab: what was read.
        delta_e_2000: from old to new, or None.
        uncertainty: of the new reading.
        setup: to keep with it.
        words: a sentence on what the difference means.
        old_is_surer: whether what the palette holds is clearly surer than what was read (its figure less than
            nine tenths of the new one), or was measured on another paper, so that it should not be written
            over unasked.
        on: the paper that was coloured, or "" when the chart doesn't say.
        ask: whether the reading is so unlikely that it is only taken over when a person says so.
    """

    marker: str
    coats: int
    old_lab: Lab | None
    new_lab: Lab
    delta_e_2000: float | None
    uncertainty: float
    setup: str
    words: str
    old_is_surer: bool
    on: str
    ask: bool


def as_lab(values: NDArray[np.float64]) -> Lab:
    """Give an array of three as a tuple."""
    return float(values[0]), float(values[1]), float(values[2])


def readings_for(record: ScanRecord, palette: Palette) -> tuple[ProposedReading, ...]:
    """Give what a palette could take over from a scan: usable swatches of markers that it knows.

    Nothing is written. Readings of lightness alone, flagged as unusable, or of markers that the palette
    doesn't hold (see :func:`unknown_readings_for`) are left out.

    Args:
        record: from :func:`blendkit.chart.scan.read_scan`.
        palette: the drawer.

    Returns: one entry for each marker and number of coats, in the chart's order.
    """
    proposed: list[ProposedReading] = []
    for reading in _usable(record, "swatch"):
        assert reading.lab is not None
        assert reading.uncertainty is not None
        try:
            marker = palette.marker(reading.markers[0])
        except PaletteError:
            continue
        old = marker.reading(reading.coats)
        other_paper = marker.on if record.paper and marker.on and marker.on != record.paper else ""
        step = None if old is None else float(delta_e_2000(old.lab, np.array(reading.lab)))
        old_figure = None if old is None else old.uncertainty
        proposed.append(
            ProposedReading(
                marker=marker.name,
                coats=reading.coats,
                old_lab=None if old is None else as_lab(old.lab),
                new_lab=reading.lab,
                delta_e_2000=step,
                uncertainty=reading.uncertainty,
                setup=record.setup,
                words=_look_words(record, reading)
                + (
                    f"on another paper: the palette's readings of it are on {other_paper}"
                    if other_paper
                    else _change_words(step, reading.uncertainty, old_figure)
                ),
                old_is_surer=bool(other_paper) or _is_surer(old_figure, reading.uncertainty),
                on=record.paper,
                ask=record.asks(reading),
            )
        )
    return tuple(proposed)


def unknown_readings_for(record: ScanRecord, palette: Palette) -> tuple[ProposedReading, ...]:
    """Give the usable swatches of a scan whose markers a palette doesn't hold, so that they could be added.

    Nothing is written. Markers are named as the chart names them.

    Args:
        record: from :func:`blendkit.chart.scan.read_scan`.
        palette: the drawer.

    Returns: one entry for each box, in the chart's order; ``old_lab`` and ``delta_e_2000`` are None.
    """
    proposed: list[ProposedReading] = []
    for reading in _usable(record, "swatch"):
        assert reading.lab is not None
        assert reading.uncertainty is not None
        try:
            palette.marker(reading.markers[0])
        except PaletteError:
            proposed.append(
                ProposedReading(
                    marker=reading.markers[0],
                    coats=reading.coats,
                    old_lab=None,
                    new_lab=reading.lab,
                    delta_e_2000=None,
                    uncertainty=reading.uncertainty,
                    setup=record.setup,
                    words=_look_words(record, reading) + "a marker that the palette doesn't have",
                    old_is_surer=False,
                    on=record.paper,
                    ask=record.asks(reading),
                )
            )
    return tuple(proposed)


@dataclass(frozen=True)
class ProposedLift:
    """How much a blender lifts of a marker's coat, as a palette could take it over.

    Attributes:
        marker: name in the palette.
        old_lift: what the palette holds, or None.
        lift: share of one dry coat that the blender took away, 0 to 1.
        coat_lab: the coat that it is told against: read on the same sheet, else the palette's.
        lifted_lab: what was read.
        words: the same in words.
        setup: how it was read.
    """

    marker: str
    old_lift: float | None
    lift: float
    coat_lab: Lab
    lifted_lab: Lab
    words: str
    setup: str


LIFT_SURE = 2.0
"""How many times its own figure a coat has to differ from paper for its lift to be told. Own judgement."""


def lifts_for(record: ScanRecord, palette: Palette) -> tuple[ProposedLift, ...]:
    """Give what a palette could take over of the boxes that a blender went over.

    Nothing is written. The coat is compared as read on the same sheet, where it was read, so that what a camera
    gets wrong cancels. Left out: markers that the palette doesn't hold, and coats so near to the paper that
    nothing can be told.

    Args:
        record: from :func:`blendkit.chart.scan.read_scan`.
        palette: the drawer.

    Returns: one entry for each such box, in the chart's order.
    """
    read = {one.markers[0]: one for one in _usable(record, "swatch") if one.coats == 1}
    boxes = [
        box for box in _usable(record, "lift") if box.markers[0] and palette.get(box.markers[0]) is not None
    ]
    if not boxes:
        return ()
    on = record.paper if palette.get(record.paper) is not None else None
    inked = ink_drawer(palette, on)
    paper = reflectance_to_lab(inked.paper_reflectance)
    proposed = []
    for box in boxes:
        marker = palette.marker(box.markers[0])
        beside = read.get(box.markers[0])
        coat = np.array(beside.lab if beside is not None else marker.lab)
        doubt = box.within_setup if beside is not None else box.uncertainty
        assert box.lab is not None
        assert doubt is not None
        if float(delta_e_2000(coat, paper)) < LIFT_SURE * doubt:
            continue
        lift = inked.find_lift(coat, box.lab)
        proposed.append(
            ProposedLift(
                marker.name,
                marker.lift,
                lift,
                as_lab(coat),
                box.lab,
                f"the blender {lift_words(lift)}",
                record.setup,
            )
        )
    return tuple(proposed)


def _usable(record: ScanRecord, kind: BoxKind) -> list[BoxReading]:
    """Give the boxes of one kind whose colour can be kept."""
    rough_pages = {page.page for page in record.pages if page.lightness_only}
    return [
        reading
        for reading in record.readings
        if reading.kind == kind and reading.usable and reading.page not in rough_pages
    ]


def _look_words(record: ScanRecord, reading: BoxReading) -> str:
    if not record.asks(reading):
        return ""
    return f"please look first ({flag_words(reading.flags) or 'the page as a whole is unlikely'}); "


def _is_surer(old_uncertainty: float | None, uncertainty: float) -> bool:
    return old_uncertainty is not None and old_uncertainty < _CLEARLY_SMALLER * uncertainty


def _change_words(step: float | None, uncertainty: float, old_uncertainty: float | None) -> str:
    if step is None:
        return "new: the palette holds nothing for these coats"
    if old_uncertainty is not None and _is_surer(old_uncertainty, uncertainty):
        return (
            f"the palette's own reading is surer ({old_uncertainty:.1f} against {uncertainty:.1f}); "
            "keep it unless the marker or paper has changed"
        )
    if step <= uncertainty:
        return f"within what this reading can tell ({uncertainty:.1f}): it may be no change at all"
    return f"more than this reading can be off ({uncertainty:.1f}): a real change"
