"""Picture reports of answers: swatches, strips, plots and the words, as HTML, PNG or PDF, each from a template.

A report shows a record and nothing else: every number and word on it is a field of the record that ``--json``
prints. Swatches are what a screen or printer can show, which is only as good as that screen or printer.
"""

import base64
import html
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from blendkit.errors import SheetError
from blendkit.page.page import PAGE_SIZES_MM
from blendkit.page.typeset import Form, Setting
from blendkit.palette import replace_file
from blendkit.records import to_json
from blendkit.spectrum import LIGHTS
from blendkit.words import SAFETY_LINE

REPORT_ENDINGS = (".html", ".png", ".pdf", ".svg")
DPI = 150.0
"""Pixels an inch of a report that is a picture: twice a common screen's, own judgement."""

TEMPLATES = {
    "PairAdvice": "pair",
    "OrderAdvice": "order",
    "LayerAdvice": "layer",
    "MatchAdvice": "match",
    "PapersAdvice": "papers",
    "GapAdvice": "gaps",
    "DoublesAdvice": "doubles",
    "KitAdvice": "kit",
    "SkinAdvice": "skin",
    "Calibration": "calibration",
    "PhotoAnswer": "photo",
}
"""The template of each record, by its name, so that no report imports every kind of advice."""


def draw_report(
    record: Any, form: Form, page: str = "A4", pictures: Mapping[str, bytes] | None = None
) -> tuple[bytes, ...]:
    """Draw the picture of an answer.

    Args:
        record: one of the advice records.
        form: "pdf" for pages of that size; "png" or "svg" for one page as high as it needs.
        page: one of ``page.PAGE_SIZES_MM``.
        pictures: what the template shows besides, by file name.

    Returns: the bytes of the file, one of a tuple.
    Raises: TypeError for a record that has no picture, which is a fault of the caller; SheetError.
    """
    try:
        name = TEMPLATES[type(record).__name__]
    except KeyError:
        raise TypeError(f"no picture report for {type(record).__name__}") from None
    data = {
        "answer": to_json(record),
        "page_mm": PAGE_SIZES_MM[page],
        "flow": form != "pdf",
        "safety": SAFETY_LINE,
        "lights": {name: light.label for name, light in LIGHTS.items()},
    }
    template = Path(__file__).with_name(f"{name}.typ")
    return Setting(template, data, f"blendkit report: {name}", pictures or {}).draw(form, DPI)


def png_report(record: Any, pictures: Mapping[str, bytes] | None = None) -> bytes:
    """Give the picture of an answer as the bytes of a PNG; see :func:`draw_report`."""
    return draw_report(record, "png", pictures=pictures)[0]


def write_report(
    record: Any, path: Path, page: str = "A4", pictures: Mapping[str, bytes] | None = None
) -> None:
    """Write a picture report; the ending of *path* says which kind.

    Args:
        record: one of the advice records.
        path: a file ending in one of :data:`REPORT_ENDINGS`; an older file there is replaced whole.
        page: "A4" or "Letter".
        pictures: what the template shows besides, by file name.

    Raises: SheetError for another ending; PaletteError for a place that can't be written.
    """
    ending = path.suffix.lower()
    if ending not in REPORT_ENDINGS:
        raise SheetError(f"A report can't end in “{path.suffix}”; accepted: {', '.join(REPORT_ENDINGS)}")
    forms: dict[str, Form] = {".pdf": "pdf", ".svg": "svg"}
    (data,) = draw_report(record, forms.get(ending, "png"), page, pictures)
    replace_file(path, _to_html(record, data) if ending == ".html" else data)


def _to_html(record: Any, png: bytes) -> bytes:
    picture = base64.b64encode(png).decode("ascii")
    words = "".join(f"<p>{html.escape(line)}</p>" for line in getattr(record, "words", ()))
    data = html.escape(json.dumps(to_json(record), ensure_ascii=False, indent=1))
    text = html.escape(" ".join(getattr(record, "words", ())))
    page = f"""<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<title>blendkit report</title>
<style>body{{margin:2rem auto;max-width:60rem;padding:0 1rem;font:1rem/1.5 sans-serif;background:#fff;color:#222}}
img{{max-width:100%;height:auto}}pre{{overflow:auto;font-size:.8rem}}</style></head>
<body><main><img alt="{text}" src="data:image/png;base64,{picture}">
{words}<details><summary>All numbers</summary><pre>{data}</pre></details></main></body></html>
"""
    return page.encode("utf-8")
