"""What comes into a drawer from elsewhere: readings of a chart, and the things of another palette."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from blendkit.palette.palette import Palette, palette_from_sheet
from blendkit.palette.readings import reading_from_lab
from blendkit.palette.records import name_key
from blendkit.palette.table import column_key


@dataclass(frozen=True, slots=True)
class NewReading:
    """A measured box: its marker, coats, Lab (D50, 2 degree), the CIEDE2000 it is sure to, and how it was read."""

    marker: str
    coats: int
    lab: tuple[float, float, float]
    uncertainty: float
    setup: str = ""


def take_readings(
    palette: Palette,
    readings: Iterable[NewReading],
    *,
    on: str = "",
    measured: str,
    lifts: Mapping[str, float] | None = None,
) -> Palette:
    """Give the palette with new readings; older ones go to the history, unknown markers are added.

    Args:
        palette: the drawer.
        readings: what was measured.
        on: the paper that was coloured, or "" for the one that each marker lies on; one that the palette doesn't
            know counts as that.
        measured: the day, ISO 8601.
        lifts: by marker, the share of one coat that a blender took away, 0 to 1.

    Raises: PaletteError for a new marker without a reading of one coat.
    """
    known = {name_key(paper.name): paper.name for paper in (*palette.papers, *palette.ribbons)}
    paper = known.get(name_key(on), "")
    for one in sorted(readings, key=lambda one: one.coats):
        reading = reading_from_lab(
            one.lab, uncertainty=round(one.uncertainty, 2), setup=one.setup, measured=measured
        )
        if any(name_key(marker.name) == name_key(one.marker) for marker in palette.markers):
            palette = palette.with_reading(one.marker, one.coats, reading, on=paper or None)
        else:
            palette = palette.with_marker(one.marker, reading, coats=one.coats, on=paper)
    for name, lift in (lifts or {}).items():
        palette = palette.with_lift(name, lift)
    return palette


def merge_palettes(palette: Palette, other: Palette) -> Palette:
    """Give the palette with every row of *other* whose name is not in it yet."""
    taken = {name_key(item.name) for item in palette.items}
    sheet = palette.sheet.with_columns(other.sheet.header)
    keys = [column_key(heading) for heading in other.sheet.header]
    rows = list(sheet.rows)
    for row in other.sheet.rows:
        cells = {key: text for key, text in zip(keys, row, strict=False) if text.strip()}
        name = cells.get("pattern") or cells.get("name")
        if name and name_key(name) not in taken:
            rows.append(sheet.row_of(cells))
    return palette_from_sheet(replace(sheet, rows=tuple(rows), lines=(), final_newline=True), palette.path)
