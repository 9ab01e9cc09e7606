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
    from blendkit.advice.calibrate import calibrate_ink as calibrate_ink
    from blendkit.advice.check import check_palette as check_palette
    from blendkit.advice.doubles import find_doubles as find_doubles
    from blendkit.advice.gaps import find_gaps as find_gaps
    from blendkit.advice.kit import Target as Target
    from blendkit.advice.kit import find_kit as find_kit
    from blendkit.advice.likeness import find_likenesses as find_likenesses
    from blendkit.advice.order import find_order as find_order
    from blendkit.advice.order import predict_layers as predict_layers
    from blendkit.advice.pairs import find_pair as find_pair
    from blendkit.advice.papers import find_matches as find_matches
    from blendkit.advice.schemes import find_schemes as find_schemes
    from blendkit.advice.shading_series import Taste as Taste
    from blendkit.advice.skin import find_skin as find_skin
    from blendkit.art.photo import find_main_colours as find_main_colours
    from blendkit.art.regions import find_regions as find_regions
    from blendkit.chart.chart import make_chart as make_chart
    from blendkit.chart.chart import write_chart as write_chart
    from blendkit.chart.scan import read_scan as read_scan
    from blendkit.chart.scan_record import readings_for as readings_for
    from blendkit.colour import contrast_wcag as contrast_wcag
    from blendkit.colour import delta_e_2000 as delta_e_2000
    from blendkit.colour import lab_to_hex as lab_to_hex
    from blendkit.colour import parse_colour as parse_colour
    from blendkit.desk.server import run_desk as run_desk
    from blendkit.errors import BlendkitError as BlendkitError
    from blendkit.errors import Problem as Problem
    from blendkit.exchange import export_palette as export_palette
    from blendkit.exchange import read_exchange as read_exchange
    from blendkit.ink import InkModel as InkModel
    from blendkit.ink import predict_blend as predict_blend
    from blendkit.ink import predict_coats as predict_coats
    from blendkit.ink import predict_stack as predict_stack
    from blendkit.ink import swatch_from_lab as swatch_from_lab
    from blendkit.palette import Marker as Marker
    from blendkit.palette import Palette as Palette
    from blendkit.palette import Paper as Paper
    from blendkit.palette import Reading as Reading
    from blendkit.palette import StampInk as StampInk
    from blendkit.palette import demo_palette_path as demo_palette_path
    from blendkit.palette import list_versions as list_versions
    from blendkit.palette import read_palette as read_palette
    from blendkit.palette import reading_from_hex as reading_from_hex
    from blendkit.palette import reading_from_lab as reading_from_lab
    from blendkit.palette import reading_from_spectrum as reading_from_spectrum
    from blendkit.palette import restore_version as restore_version
    from blendkit.palette import update_palette as update_palette
    from blendkit.palette import write_palette as write_palette
    from blendkit.picture import read_picture as read_picture
    from blendkit.plan.files import write_plan as write_plan
    from blendkit.plan.making import make_plan as make_plan
    from blendkit.project.reading import read_project as read_project
    from blendkit.records import to_json as to_json
    from blendkit.report.report import write_report as write_report
    from blendkit.spectrum import reflectance_from_lab as reflectance_from_lab
    from blendkit.spectrum import reflectance_to_lab as reflectance_to_lab

__version__ = "0.1.0"

_HOMES = {
    "BlendkitError": "blendkit.errors",
    "InkModel": "blendkit.ink",
    "Marker": "blendkit.palette",
    "Palette": "blendkit.palette",
    "Paper": "blendkit.palette",
    "Problem": "blendkit.errors",
    "Reading": "blendkit.palette",
    "StampInk": "blendkit.palette",
    "Target": "blendkit.advice.kit",
    "Taste": "blendkit.advice.shading_series",
    "calibrate_ink": "blendkit.advice.calibrate",
    "check_palette": "blendkit.advice.check",
    "contrast_wcag": "blendkit.colour",
    "delta_e_2000": "blendkit.colour",
    "demo_palette_path": "blendkit.palette",
    "export_palette": "blendkit.exchange",
    "find_doubles": "blendkit.advice.doubles",
    "find_gaps": "blendkit.advice.gaps",
    "find_kit": "blendkit.advice.kit",
    "find_likenesses": "blendkit.advice.likeness",
    "find_main_colours": "blendkit.art.photo",
    "find_matches": "blendkit.advice.papers",
    "find_order": "blendkit.advice.order",
    "find_pair": "blendkit.advice.pairs",
    "find_regions": "blendkit.art.regions",
    "find_schemes": "blendkit.advice.schemes",
    "find_skin": "blendkit.advice.skin",
    "lab_to_hex": "blendkit.colour",
    "list_versions": "blendkit.palette",
    "make_chart": "blendkit.chart.chart",
    "make_plan": "blendkit.plan.making",
    "parse_colour": "blendkit.colour",
    "predict_blend": "blendkit.ink",
    "predict_coats": "blendkit.ink",
    "predict_layers": "blendkit.advice.order",
    "predict_stack": "blendkit.ink",
    "read_exchange": "blendkit.exchange",
    "read_palette": "blendkit.palette",
    "read_picture": "blendkit.picture",
    "read_project": "blendkit.project.reading",
    "read_scan": "blendkit.chart.scan",
    "reading_from_hex": "blendkit.palette",
    "reading_from_lab": "blendkit.palette",
    "reading_from_spectrum": "blendkit.palette",
    "readings_for": "blendkit.chart.scan_record",
    "reflectance_from_lab": "blendkit.spectrum",
    "reflectance_to_lab": "blendkit.spectrum",
    "restore_version": "blendkit.palette",
    "run_desk": "blendkit.desk.server",
    "swatch_from_lab": "blendkit.ink",
    "to_json": "blendkit.records",
    "update_palette": "blendkit.palette",
    "write_chart": "blendkit.chart.chart",
    "write_palette": "blendkit.palette",
    "write_plan": "blendkit.plan.files",
    "write_report": "blendkit.report.report",
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
