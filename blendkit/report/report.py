"""Picture reports of answers: swatches, strips, plots and the words, as HTML, PNG or PDF (matplotlib).

A report shows a record and nothing else: every number and word on it is a field of the record that ``--json``
prints. Swatches are what a screen or printer can show, which is only as good as that screen or printer.
"""

import base64
import html
import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from blendkit.advice.calibrate import Calibration
from blendkit.advice.doubles import DoublesAdvice
from blendkit.advice.gaps import GapAdvice
from blendkit.advice.kit import KitAdvice
from blendkit.advice.order import LayerAdvice, OrderAdvice
from blendkit.advice.pairs import PairAdvice
from blendkit.advice.papers import MatchAdvice
from blendkit.advice.schemes import PapersAdvice
from blendkit.advice.skin import SkinAdvice
from blendkit.errors import SheetError
from blendkit.palette import replace_file
from blendkit.records import to_json
from blendkit.report.advice import draw_layer, draw_match, draw_order, draw_pair, draw_papers
from blendkit.report.calibrate import draw_calibration
from blendkit.report.canvas import DPI, INK, PAGE, Canvas
from blendkit.report.drawer import draw_doubles, draw_gaps, draw_kit, draw_skin

REPORT_ENDINGS = (".html", ".png", ".pdf")

_DRAWINGS: dict[type, Callable[[Any], Canvas]] = {
    PairAdvice: draw_pair,
    OrderAdvice: draw_order,
    LayerAdvice: draw_layer,
    MatchAdvice: draw_match,
    PapersAdvice: draw_papers,
    GapAdvice: draw_gaps,
    DoublesAdvice: draw_doubles,
    KitAdvice: draw_kit,
    SkinAdvice: draw_skin,
    Calibration: draw_calibration,
}


def draw_report(record: Any) -> Canvas:
    """Draw the picture of an answer.

    Args:
        record: one of the advice records.

    Returns: the canvas, ready to be saved.
    Raises: TypeError for a record that has no picture, which is a fault of the caller.
    """
    try:
        draw = _DRAWINGS[type(record)]
    except KeyError:
        raise TypeError(f"no picture report for {type(record).__name__}") from None
    return draw(record)


def png_report(record: Any) -> bytes:
    """Give the picture of an answer as the bytes of a PNG; see :func:`draw_report`."""
    return _to_bytes(draw_report(record), "png")


def write_report(record: Any, path: Path) -> None:
    """Write a picture report; the ending of *path* says which kind.

    Args:
        record: one of the advice records.
        path: a file ending in one of :data:`REPORT_ENDINGS`; an older file there is replaced whole.

    Raises: SheetError for another ending; PaletteError for a place that can't be written.
    """
    ending = path.suffix.lower()
    if ending not in REPORT_ENDINGS:
        raise SheetError(f"A report can't end in “{path.suffix}”; accepted: {', '.join(REPORT_ENDINGS)}")
    canvas = draw_report(record)
    data = _to_html(record, canvas) if ending == ".html" else _to_bytes(canvas, ending[1:])
    replace_file(path, data)


def _to_bytes(canvas: Canvas, kind: str) -> bytes:
    buffer = io.BytesIO()
    # No clock and no version in the file, so that the same answer gives the same bytes.
    metadata: dict[str, Any] = (
        {"Software": None} if kind == "png" else {"CreationDate": None, "Producer": None, "Creator": None}
    )
    canvas.figure.savefig(buffer, format=kind, dpi=DPI, facecolor=PAGE, metadata=metadata)
    return buffer.getvalue()


def _to_html(record: Any, canvas: Canvas) -> bytes:
    picture = base64.b64encode(_to_bytes(canvas, "png")).decode("ascii")
    words = "".join(f"<p>{html.escape(line)}</p>" for line in getattr(record, "words", ()))
    data = html.escape(json.dumps(to_json(record), ensure_ascii=False, indent=1))
    text = html.escape(" ".join(getattr(record, "words", ())))
    page = f"""<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<title>blendkit report</title>
<style>body{{margin:2rem auto;max-width:70rem;padding:0 1rem;background:{PAGE};color:{INK};
font:1rem/1.5 sans-serif}}
img{{max-width:100%;height:auto}}pre{{overflow:auto;font-size:.8rem}}</style></head>
<body><main><img alt="{text}" src="data:image/png;base64,{picture}">
{words}<details><summary>All numbers</summary><pre>{data}</pre></details></main></body></html>
"""
    return page.encode("utf-8")
