"""Colour advice for people who colour stamped line images with alcohol markers.

Every command of the command line is the twin of one function here: open a palette, call it, print the frozen
record that comes back.

>>> import blendkit
>>> drawer = blendkit.read_palette(blendkit.demo_palette_path())
>>> blendkit.find_pair(drawer, "moss stone dawn").shadow[0].name
'moss stone noon'

Names are imported from their rooms when they are first used, so that a short command starts quickly.
"""

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from blendkit.advice.check import check_palette as check_palette
    from blendkit.advice.order import find_order as find_order
    from blendkit.advice.order import predict_layers as predict_layers
    from blendkit.advice.pairs import find_pair as find_pair
    from blendkit.advice.papers import find_matches as find_matches
    from blendkit.advice.schemes import find_schemes as find_schemes
    from blendkit.advice.shading_series import Taste as Taste
    from blendkit.colour import contrast_wcag as contrast_wcag
    from blendkit.colour import delta_e_2000 as delta_e_2000
    from blendkit.colour import parse_colour as parse_colour
    from blendkit.errors import BlendkitError as BlendkitError
    from blendkit.palette import Palette as Palette
    from blendkit.palette import demo_palette_path as demo_palette_path
    from blendkit.palette import read_palette as read_palette
    from blendkit.palette import update_palette as update_palette
    from blendkit.palette import write_palette as write_palette
    from blendkit.records import to_json as to_json

__version__ = "0.1.0"

_HOMES = {
    "BlendkitError": "blendkit.errors",
    "Palette": "blendkit.palette",
    "Taste": "blendkit.advice.shading_series",
    "check_palette": "blendkit.advice.check",
    "contrast_wcag": "blendkit.colour",
    "delta_e_2000": "blendkit.colour",
    "demo_palette_path": "blendkit.palette",
    "find_matches": "blendkit.advice.papers",
    "find_order": "blendkit.advice.order",
    "find_pair": "blendkit.advice.pairs",
    "find_schemes": "blendkit.advice.schemes",
    "parse_colour": "blendkit.colour",
    "predict_layers": "blendkit.advice.order",
    "read_palette": "blendkit.palette",
    "to_json": "blendkit.records",
    "update_palette": "blendkit.palette",
    "write_palette": "blendkit.palette",
}

__all__ = ["__version__", *_HOMES]


def __getattr__(name: str) -> Any:
    """Import a public name from its room when it is first asked for."""
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module 'blendkit' has no attribute {name!r}")
    value = getattr(importlib.import_module(home), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """List the public names, whether or not they have been used."""
    return sorted(__all__)
