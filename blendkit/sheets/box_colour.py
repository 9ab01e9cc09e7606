"""What colour stands in each box of a page that was placed in a picture.

First the light: bare paper is sampled between the boxes, and a smooth surface through it says how bright each
spot of paper is. Then each box: pixels of its middle, divided by the light there, without the specks that
were left bare and without pencil. Values are linear light relative to the paper: 1 is bare paper.
"""

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendkit.errors import SheetError
from blendkit.picture import Picture
from blendkit.sheets.chart_code import layout_from_code
from blendkit.sheets.chart_file import BoxSpec, PageSpec
from blendkit.sheets.chart_layout import place_page
from blendkit.sheets.find_page import PageFit, read_lattice

__all__ = ["BoxColour", "PaperLight", "find_paper_light", "measure_boxes", "measure_spots"]

Floats = NDArray[np.float64]

_MIDDLE = 0.8
"""Part of each side of a box that is read, about its middle."""
_SAMPLES_A_BOX = 700
_RASTER_MM = 2.0
_REACH_MM = 7.0
"""Spread of the Gauss window through which bare paper is averaged."""
_NEAR_MM = 3.2
"""The same where a shadow's sharp edge lies."""
_LEAST_NODES = 60
_DEEPEST_SHADOW = 1.0
"""Natural log of how much darker bare paper may be in the shadow than in the light."""
_DARKEST = 1e-4
"""Linear light below which a sample counts as black."""
_MOST_BARE = 0.13
"""Share of bare pixels that still counts as specks; above it the box is called half filled."""
_BRIGHTEST_CODE = 0.992
"""Share of the full code from which on paper counts as over-exposed: 253 of 255."""


def _nearest(picture: Picture, places: Floats) -> NDArray[Any]:
    """Codes of the pixels nearest to places (n, 2); off the picture, of its nearest edge."""
    px = np.rint(places).astype(np.int64)
    columns = np.clip(px[:, 0], 0, picture.width_px - 1)
    rows = np.clip(px[:, 1], 0, picture.height_px - 1)
    return np.asarray(picture.pixels[rows, columns])


def _code1(codes: NDArray[Any]) -> Floats:
    """Codes as 0 to 1."""
    return np.asarray(codes / float(np.iinfo(codes.dtype).max), dtype=np.float64)


@dataclass(frozen=True)
class PaperLight:
    """How bright bare paper is over a page, linear light per channel."""

    log_raster: Floats = field(repr=False)
    """Natural log, shape (rows, columns, 3), nodes every _RASTER_MM from the page's top left."""
    spread: Floats = field(repr=False)
    """What single pixels of paper miss the surface by, shape (rows, columns): noise, grain, edges of shadow."""
    share: float
    """Share of the places looked at that were taken for bare paper."""
    mean: Floats
    """Mean linear light of the paper, shape (3,)."""
    evenness: float
    """Darkest over brightest paper, 0 to 1."""

    def at(self, mm: Floats) -> Floats:
        """Linear light of bare paper at page millimetres (n, 2), shape (n, 3)."""
        return np.asarray(np.exp(read_lattice(self.log_raster, mm / _RASTER_MM)))

    def spread_at(self, mm: Floats) -> Floats:
        """Relative spread of paper's pixels at page millimetres (n, 2), shape (n,)."""
        return read_lattice(self.spread[..., None], mm / _RASTER_MM)[:, 0]


def _free_places(page: PageSpec, grid: Floats) -> NDArray[np.bool_]:
    """Which raster nodes (n, 2) should be bare paper by the chart's description."""
    width, height = page.size_mm
    edge = 4.0
    free = (grid[:, 0] > edge) & (grid[:, 1] > edge)
    free &= (grid[:, 0] < width - edge) & (grid[:, 1] < height - edge)

    def close(x: float, y: float, w: float, h: float, gap: float) -> None:
        inside = (grid[:, 0] > x - gap) & (grid[:, 0] < x + w + gap)
        inside &= (grid[:, 1] > y - gap) & (grid[:, 1] < y + h + gap)
        free[inside] = False

    for mark in page.marks:
        corners = np.array(mark.corners_mm)
        low, high = corners.min(axis=0), corners.max(axis=0)
        close(low[0], low[1], high[0] - low[0], high[1] - low[1], 1.5)
    close(*page.code_box_mm, 1.5)
    for x, y, w, h in _printed_bars(page):
        close(x, y, w, h, 0.6)
    for box in page.boxes:
        if box.kind != "paper":
            close(box.x_mm, box.y_mm, box.w_mm, box.h_mm, 0.8)
    return free


def _printed_bars(page: PageSpec) -> tuple[tuple[float, float, float, float], ...]:
    """Where expected colours are printed, which the page's code tells; none when it has no such code."""
    if not page.code:
        return ()
    try:
        placed = place_page(layout_from_code(page.code))
    except SheetError:
        return ()
    cells = (cell for section in placed.sections for cell in section.cells)
    return tuple(place.chip_mm for cell in cells for place in cell.places if place.chip_mm is not None)


def find_paper_light(picture: Picture, fit: PageFit) -> PaperLight | None:
    """Find how bright bare paper is all over the page.

    Paper is what is not much darker than what stands about it and has the hue of the page's other bare
    places; print, ink that ran over an edge and hands are left out. The surface follows a shadow's soft edge,
    and closer where the edge is sharp.

    Returns: the light, or None when too little bare paper shows to tell.
    """
    width, height = fit.page.size_mm
    columns, rows = int(width // _RASTER_MM) + 1, int(height // _RASTER_MM) + 1
    xs, ys = np.meshgrid(np.arange(columns) * _RASTER_MM, np.arange(rows) * _RASTER_MM)
    grid = np.stack([xs.ravel(), ys.ravel()], axis=1)
    free = _free_places(fit.page, grid)
    px = fit.map_many(grid)
    free &= np.all((px >= 0) & (px <= [picture.width_px - 1, picture.height_px - 1]), axis=1)
    logs = np.log(np.maximum(picture.to_linear(_nearest(picture, px)), _DARKEST))
    brightness = logs.mean(axis=1)
    hue = logs - brightness[:, None]
    if free.sum() < _LEAST_NODES:
        return None
    kept = free & (brightness > _local_median(brightness, free, rows, columns) - 0.09)
    # a page is brightest where it is bare, even in the deepest shadow that is allowed for
    kept &= brightness > np.percentile(brightness[free], 90) - _DEEPEST_SHADOW
    for tolerance in (0.10, 0.06):
        if kept.sum() < _LEAST_NODES:
            return None
        off = np.abs(hue - _smooth(hue, kept, rows, columns, 16.0))
        noise = 1.4826 * float(np.median(off[kept]))
        kept &= np.all(off < max(tolerance, 4.0 * noise), axis=1)
    share = float(kept.sum() / free.sum())
    if kept.sum() < _LEAST_NODES or share < 0.1:
        return None
    surface = _smooth(logs, kept, rows, columns, _REACH_MM)
    miss = brightness - surface.mean(axis=1)
    lean = np.abs(_smooth(miss[:, None], kept, rows, columns, 4.0, flat=True)[:, 0])
    sharp = np.clip((lean - 0.012) / 0.02, 0.0, 1.0)[:, None]
    if sharp.any():
        surface = (1 - sharp) * surface + sharp * _smooth(logs, kept, rows, columns, _NEAR_MM)
    square = ((logs - surface) ** 2).mean(axis=1)
    spread = np.sqrt(np.maximum(_smooth(square[:, None], kept, rows, columns, 7.0, flat=True)[:, 0], 1e-8))
    level = np.exp(surface[kept].mean(axis=1))
    return PaperLight(
        log_raster=surface.reshape(rows, columns, 3),
        spread=(spread + 1.5 * lean).reshape(rows, columns),
        share=share,
        mean=np.exp(surface[kept]).mean(axis=0),
        evenness=float(np.percentile(level, 2) / np.percentile(level, 98)),
    )


def _local_median(values: Floats, free: NDArray[np.bool_], rows: int, columns: int) -> Floats:
    """Median of what is free within two nodes each way of each free node; inf at the others."""
    plane = np.where(free, values, np.nan).reshape(rows, columns).astype(np.float32)
    near = np.lib.stride_tricks.sliding_window_view(np.pad(plane, 2, constant_values=np.nan), (5, 5))
    ordered = np.sort(near.reshape(rows * columns, 25)[free], axis=1)
    count = np.isfinite(ordered).sum(axis=1)
    out = np.full(values.shape, np.inf)
    out[free] = ordered[np.arange(len(ordered)), count // 2]
    return out


def _smooth(
    values: Floats, kept: NDArray[np.bool_], rows: int, columns: int, reach_mm: float, *, flat: bool = False
) -> Floats:
    """Smooth surface through *values* (n, k) where *kept*: a plane fitted under a Gauss window at each node.

    A thin share of the page-wide plane holds the surface where nothing is near. With *flat* it is a weighted
    mean, not a plane.
    Source: local linear regression, Cleveland 1979; Fan and Gijbels 1996.
    """
    import cv2

    count = values.shape[1]
    ys, xs = np.mgrid[0:rows, 0:columns].astype(np.float64)
    weight = kept.reshape(rows, columns).astype(np.float64)
    planes = values.reshape(rows, columns, count)

    def blurred(plane: Floats) -> Floats:
        sigma = reach_mm / _RASTER_MM
        return np.asarray(
            cv2.GaussianBlur(plane, (0, 0), sigma, borderType=cv2.BORDER_CONSTANT), dtype=np.float64
        )

    x, y = (xs - columns / 2) / 50, (ys - rows / 2) / 50
    design = np.stack([np.ones(kept.sum()), x.ravel()[kept], y.ravel()[kept]], axis=1)
    page_wide = np.linalg.lstsq(design, values[kept], rcond=None)[0]
    everywhere = np.stack([np.ones(rows * columns), x.ravel(), y.ravel()], axis=1) @ page_wide
    rest = planes - everywhere.reshape(rows, columns, count)
    s = blurred(weight) + 1e-9
    mean = np.stack([blurred(weight * rest[..., i]) for i in range(count)], axis=-1) / s[..., None]
    hold = s / (s + 2e-3)
    if flat:
        return np.asarray((mean * hold[..., None]).reshape(-1, count) + everywhere)
    mx, my = blurred(weight * x) / s, blurred(weight * y) / s
    window = (reach_mm / _RASTER_MM / 50) ** 2 * 0.1
    sxx = blurred(weight * x * x) / s - mx * mx + window
    syy = blurred(weight * y * y) / s - my * my + window
    sxy = blurred(weight * x * y) / s - mx * my
    determinant = np.maximum(sxx * syy - sxy * sxy, 1e-12)
    out = np.empty((rows * columns, count))
    for i in range(count):
        sxv = blurred(weight * x * rest[..., i]) / s - mx * mean[..., i]
        syv = blurred(weight * y * rest[..., i]) / s - my * mean[..., i]
        slope_x = (syy * sxv - sxy * syv) / determinant
        slope_y = (sxx * syv - sxy * sxv) / determinant
        out[:, i] = (hold * (mean[..., i] + slope_x * (x - mx) + slope_y * (y - my))).ravel()
    return np.asarray(out + everywhere)


@dataclass(frozen=True)
class BoxColour:
    """What a box holds, linear light relative to the bare paper about it."""

    relative: Floats
    """Shape (3,); 1 is bare paper."""
    scatter: Floats
    """How far its ink pixels scatter, relative, shape (3,): streaks and noise."""
    light_doubt: float
    """Relative doubt of the paper's brightness at the box."""
    bare: float
    """Share of the box's middle that looks like bare paper, 0 to 1."""
    contrast: float
    """How far the ink stands out from the paper, as a distance of cube roots; 0.01 is about 1 CIEDE2000."""
    noise: float
    """The same distance for bare paper's own pixels."""
    over_exposed: bool
    under_exposed: bool
    clipped: bool
    """Whether a channel stands at the end of the picture's colour space."""
    off_picture: bool


def measure_boxes(picture: Picture, fit: PageFit, light: PaperLight) -> tuple[BoxColour, ...]:
    """Measure every box of the page, in the order of its description."""
    return measure_spots(picture, fit, light, fit.page.boxes)


def measure_spots(
    picture: Picture,
    fit: PageFit,
    light: PaperLight | None,
    boxes: tuple[BoxSpec, ...],
    *,
    table: bool = False,
) -> tuple[BoxColour, ...]:
    """Measure rectangles given in page millimetres.

    Args:
        picture: the picture.
        fit: the page's place in it.
        light: brightness of the paper; None to leave values relative to the picture's own white.
        boxes: the rectangles, wholly in the picture or flagged as off it.
        table: that they lie on the table beside the page and each is one even colour, so that nothing is left
            out as bare or pencil.
    """
    grids = [_inside(box) for box in boxes]
    if not grids:
        return ()
    mm = np.concatenate(grids)
    px = fit.map_table(mm) if table else fit.map_many(mm)
    off = np.any((px < 0) | (px > [picture.width_px - 1, picture.height_px - 1]), axis=1)
    codes = _nearest(picture, px)
    linear = picture.to_linear(codes)
    shade = np.ones_like(linear) if light is None else light.at(mm)
    noise = np.full(len(mm), 0.01) if light is None else light.spread_at(mm)
    relative = linear / np.maximum(shade, _DARKEST)
    ends = np.cumsum([len(grid) for grid in grids])[:-1]
    parts = zip(
        *(np.split(values, ends) for values in (relative, shade, noise, _code1(codes), off)), strict=True
    )
    return tuple(_measure(picture, *part, known_paper=light is not None and not table) for part in parts)


def _inside(box: BoxSpec) -> Floats:
    """Places to read in a box: an even grid over its middle, page millimetres."""
    w, h = box.w_mm * _MIDDLE, box.h_mm * _MIDDLE
    step = max(0.1, (w * h / _SAMPLES_A_BOX) ** 0.5)
    columns, rows = max(3, round(w / step)), max(3, round(h / step))
    x0, y0 = box.x_mm + (box.w_mm - w) / 2, box.y_mm + (box.h_mm - h) / 2
    xs = x0 + (np.arange(columns) + 0.5) * w / columns
    ys = y0 + (np.arange(rows) + 0.5) * h / rows
    return np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)


def _middle_mean(ordered: Floats) -> Floats:
    """Mean of the middle of each sorted column: a median that is not bound to whole codes."""
    cut = len(ordered) * 3 // 10
    return np.asarray(ordered[cut : len(ordered) - cut].mean(axis=0))


def _measure(
    picture: Picture,
    relative: Floats,
    shade: Floats,
    noise: Floats,
    code1: Floats,
    off: NDArray[np.bool_],
    *,
    known_paper: bool,
) -> BoxColour:
    roots = np.cbrt(np.maximum(relative, 0.0))
    distance = np.sqrt(((roots - 1) ** 2).mean(axis=1))
    paper_noise = float(noise.mean()) / 3 + 0.002
    bulk = float(np.partition(distance, len(distance) * 3 // 4)[len(distance) * 3 // 4])
    bare_share = 0.0
    ink = np.ones(len(relative), dtype=bool)
    if known_paper and bulk > 4 * paper_noise:
        bare = distance < max(3 * paper_noise, 0.4 * bulk)
        bare_share = float(bare.mean())
        if bare_share < 0.9:
            ink = ~bare
    level = roots.mean(axis=1)
    middle = float(np.median(level[ink]))
    scatter = 1.4826 * float(np.median(np.abs(level[ink] - middle)))
    # pencil, and the outline where it was caught, are darker than any streak
    kept = ink & (level > middle - max(5 * scatter, 0.04))
    values = np.sort(relative[kept] if kept.sum() >= 9 else relative, axis=0)
    colour = _middle_mean(values)
    half = values[len(values) * 3 // 4] - values[len(values) // 4]
    typical = _middle_mean(np.sort(code1, axis=0))
    top = 1.0 - 0.5 / 255
    return BoxColour(
        relative=colour,
        scatter=np.asarray(half / 1.349 / np.maximum(colour, 1e-3)),
        light_doubt=float(noise.mean()),
        bare=bare_share,
        contrast=float(np.sqrt(((np.cbrt(np.maximum(colour, 0)) - 1) ** 2).mean())),
        noise=paper_noise,
        over_exposed=bool(known_paper and _is_over_exposed(picture, shade)),
        under_exposed=bool(np.all(typical < 6 / 255)),
        clipped=bool(np.any(typical < 0.6 / 255) or np.any(typical > top)),
        off_picture=bool(off.any()),
    )


def _is_over_exposed(picture: Picture, shade: Floats) -> bool:
    brightest = picture.to_linear(np.full((1, 3), _BRIGHTEST_CODE))[0]
    return bool(np.any(np.median(shade, axis=0) >= brightest))
