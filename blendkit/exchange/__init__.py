"""Exchange with open formats: GIMP palettes, CGATS.17 / ISO 28178 text, plain CSV with other headings."""

from blendkit.exchange.exporting import Exported, export_palette, palette_colours
from blendkit.exchange.importing import FORMS, Imported, read_exchange
from blendkit.exchange.records import ExchangeColour, ExchangeFile

__all__ = [
    "FORMS",
    "ExchangeColour",
    "ExchangeFile",
    "Exported",
    "Imported",
    "export_palette",
    "palette_colours",
    "read_exchange",
]
