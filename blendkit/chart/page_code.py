"""The QR code of a chart's page: read from a picture, flattened first where the page stands askew."""

from collections.abc import Mapping
from contextlib import suppress

import numpy as np
from numpy.typing import NDArray

from blendkit.chart.code import SHEETS
from blendkit.chart.description import PageSpec
from blendkit.chart.find_page import MARKS_A_PAGE, PageFit, find_marks, fit_page
from blendkit.chart.layout import CODE_MM, EDGE_MM, MARK_MM, QUIET_MM, marks_on_page
from blendkit.errors import SheetError
from blendkit.page.page import PAGE_SIZES_MM

_PER_MM = 12.0
_MARGIN_MM = 6.0
"""White about the code, and more, since the fitted page may lie a few millimetres off."""


def find_codes(grey: NDArray[np.uint8]) -> list[str]:
    """Texts of the QR codes in a picture: as it is, else from the pages of marks seen, laid flat and enlarged.

    Of each page only the code's place is laid flat, for the paper size that fits its marks best; the next best
    is tried only where no code reads there (a code with more faults than its checksum mends doesn't read).
    """
    texts = read_codes(grey)
    if texts:
        return texts
    marks = find_marks(grey)
    for number in sorted({mark // MARKS_A_PAGE + 1 for mark in marks}):
        for fit in sorted(_fits(grey, marks, number), key=lambda fit: fit.residual_mm):
            place = _code_place(fit.page.size_mm)
            found = read_codes(flatten(grey, fit, place, _PER_MM))
            if found:
                texts += found
                break
    return texts


def _fits(grey: NDArray[np.uint8], marks: Mapping[int, NDArray[np.float64]], number: int) -> list[PageFit]:
    """Fits of a page to its marks, for every paper size that charts are printed on, either way round."""
    fits = []
    for name in SHEETS.values():
        for size in (PAGE_SIZES_MM[name], PAGE_SIZES_MM[name][::-1]):
            page = PageSpec(number, size, "", (0.0, 0.0, 1.0, 1.0), marks_on_page(number, size), ())
            with suppress(SheetError):
                fits.append(fit_page(marks, page, (grey.shape[1], grey.shape[0]), forgive=False))
    return fits


def _code_place(size_mm: tuple[float, float]) -> tuple[float, float, float, float]:
    """Where the code stands on a page, with a margin: x, y, width, height."""
    x, y = size_mm[0] - EDGE_MM - MARK_MM - QUIET_MM - CODE_MM, EDGE_MM
    side = CODE_MM + 2 * _MARGIN_MM
    return x - _MARGIN_MM, y - _MARGIN_MM, side, side


def read_codes(grey: NDArray[np.uint8]) -> list[str]:
    """Give the texts of the QR codes that can be read from a picture as it is."""
    import zxingcpp

    kinds = zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode)
    return [code.text for code in zxingcpp.read_barcodes(grey, formats=kinds)]


def flatten(
    grey: NDArray[np.uint8], fit: PageFit, part_mm: tuple[float, float, float, float], per_mm: float
) -> NDArray[np.uint8]:
    """A part of the page (x, y, width, height) seen flat from above."""
    import cv2

    x, y, w, h = part_mm
    xs, ys = np.meshgrid(
        x + (np.arange(round(w * per_mm)) + 0.5) / per_mm, y + (np.arange(round(h * per_mm)) + 0.5) / per_mm
    )
    px = fit.map(np.stack([xs, ys], axis=-1)).astype(np.float32)
    flat = cv2.remap(grey, px[..., 0], px[..., 1], cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(flat, dtype=np.uint8)
