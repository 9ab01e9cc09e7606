"""The QR code of a chart's page: read from a picture, flattened first where the page stands askew."""

import numpy as np
from numpy.typing import NDArray

from blendkit.errors import SheetError
from blendkit.sheets.chart_file import PageSpec
from blendkit.sheets.chart_layout import marks_on_page
from blendkit.sheets.find_page import MARKS_A_PAGE, PageFit, find_marks, fit_page
from blendkit.sheets.page import PAGE_SIZES_MM

__all__ = ["find_codes", "flatten", "read_codes"]


def find_codes(grey: NDArray[np.uint8]) -> list[str]:
    """Texts of the QR codes in a picture: as it is, else with each page of marks seen laid flat and enlarged."""
    texts = read_codes(grey)
    if texts:
        return texts
    marks = find_marks(grey)
    per_mm = 12.0
    for number in sorted({mark // MARKS_A_PAGE + 1 for mark in marks}):
        for width, height in PAGE_SIZES_MM.values():
            for size in ((width, height), (height, width)):
                page = PageSpec(number, size, "", (0.0, 0.0, 1.0, 1.0), marks_on_page(number, size), ())
                try:
                    fit = fit_page(marks, page, (grey.shape[1], grey.shape[0]), forgive=False)
                except SheetError:
                    continue
                texts += read_codes(flatten(grey, fit, (0.0, 0.0, size[0], 60.0), per_mm))
    return texts


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
