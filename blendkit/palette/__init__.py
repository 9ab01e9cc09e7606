"""Palette files: an open CSV of markers, papers, ribbons and inks, read with checks and written with care."""

from blendkit.files import Version, list_versions, locked, replace_file
from blendkit.palette.palette import Palette
from blendkit.palette.readings import (
    reading_from_hex,
    reading_from_lab,
    reading_from_spectrum,
    readings_from_labs,
)
from blendkit.palette.records import (
    COAT_LIMIT,
    FINISHES,
    MAX_COATS,
    ROUGH_FINISHES,
    Blender,
    Item,
    Marker,
    Paper,
    PatternShare,
    Reading,
    StampInk,
    name_key,
)
from blendkit.palette.rows import COLUMNS, KINDS
from blendkit.palette.store import (
    MAX_PALETTE_MB,
    Earlier,
    demo_palette_path,
    empty_palette,
    read_history,
    read_palette,
    restore_version,
    update_palette,
    write_palette,
)

__all__ = [
    "COAT_LIMIT",
    "COLUMNS",
    "FINISHES",
    "KINDS",
    "MAX_COATS",
    "MAX_PALETTE_MB",
    "ROUGH_FINISHES",
    "Blender",
    "Earlier",
    "Item",
    "Marker",
    "Palette",
    "Paper",
    "PatternShare",
    "Reading",
    "StampInk",
    "Version",
    "demo_palette_path",
    "empty_palette",
    "list_versions",
    "locked",
    "name_key",
    "read_history",
    "read_palette",
    "reading_from_hex",
    "reading_from_lab",
    "reading_from_spectrum",
    "readings_from_labs",
    "replace_file",
    "restore_version",
    "update_palette",
    "write_palette",
]
