"""What colour stands in each box of a page that was placed in a picture.

First the light: bare paper is sampled between the boxes, and a smooth surface through it says how bright each
spot of paper is. Then each box: pixels of its middle, divided by the light there, without the specks that
were left bare and without pencil. Values are linear light relative to the paper: 1 is bare paper.
"""

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendkit.chart.code import layout_from_code
from blendkit.chart.description import BoxSpec, PageSpec
from blendkit.chart.find_page import PageFit, read_lattice
from blendkit.chart.layout import place_page
from blendkit.errors import SheetError
from blendkit.picture import Picture

Floats = NDArray[np.float64]

_MIDDLE = 0.8
"""Part of each side of a box that is read, about its middle."""
_SAMPLES_A_BOX = 500
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
_SIDE_MM, _SIDE_NODES = 8.0, 3
"""How far beside a box bare paper is compared, and how many places must show it. Own judgement."""
_CELLS = 3
"""A box is compared with itself in so many columns and rows of cells."""
_CELL_SAMPLES = 12
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


@dataclass(frozen=True)
class PaperLight:
    """How bright bare paper is over a page, linear light per channel."""

    log_raster: Floats = field(repr=False)
    """Natural log, shape (rows, columns, 3), nodes every _RASTER_MM from the page's top left."""
    spread: Floats = field(repr=False)
    """What single pixels of paper miss the surface by, shape (rows, columns): noise, grain, edges of shadow."""
    lean: Floats = field(repr=False)
    """How far paper leans to one side of a soft surface, shape (rows, columns): large at a shadow's edge."""
    share: float
    """Share of the places looked at that were taken for bare paper."""
    mean: Floats
    """Mean linear light of the paper, shape (3,)."""
    evenness: float
    """Darkest over brightest paper, 0 to 1."""
    seen: Floats = field(repr=False)
    """Natural log of what paper was seen, mean of the channels, shape (rows, columns); NaN where none was."""

    @cached_property
    def _lattice(self) -> Floats:
        return np.concatenate([self.log_raster, self.spread[..., None], self.lean[..., None]], axis=-1)

    def at(self, mm: Floats) -> tuple[Floats, Floats, Floats]:
        """Linear light of bare paper at page millimetres (n, 2), shape (n, 3); its pixels' spread; its lean."""
        found = read_lattice(self._lattice, mm / _RASTER_MM)
        return np.exp(found[:, :3]), found[:, 3], found[:, 4]

    def step_across(self, box: BoxSpec) -> float:
        """How far bare paper left and right, or above and below a box differ, natural log; 0 where none shows."""
        columns, rows = (
            (int((start - _SIDE_MM) // _RASTER_MM) + 1, int((start + length + _SIDE_MM) // _RASTER_MM) + 1)
            for start, length in ((box.x_mm, box.w_mm), (box.y_mm, box.h_mm))
        )
        near = self.seen[max(rows[0], 0) : rows[1], max(columns[0], 0) : columns[1]]
        ys = np.arange(max(rows[0], 0), max(rows[0], 0) + near.shape[0]) * _RASTER_MM - box.y_mm
        xs = np.arange(max(columns[0], 0), max(columns[0], 0) + near.shape[1]) * _RASTER_MM - box.x_mm
        sides = [near[:, xs < 0], near[:, xs > box.w_mm], near[ys < 0], near[ys > box.h_mm]]
        levels = [
            float(np.nanmedian(side)) if np.isfinite(side).sum() >= _SIDE_NODES else np.nan for side in sides
        ]
        steps = [abs(levels[0] - levels[1]), abs(levels[2] - levels[3])]
        return max((step for step in steps if np.isfinite(step)), default=0.0)


def _free_places(page: PageSpec, xs: Floats, ys: Floats) -> NDArray[np.bool_]:
    """Which nodes of a raster of columns *xs* and rows *ys* should be bare paper by the chart's description."""
    width, height = page.size_mm
    edge = 4.0
    free = np.outer((ys > edge) & (ys < height - edge), (xs > edge) & (xs < width - edge))

    def close(x: float, y: float, w: float, h: float, gap: float) -> None:
        left, right = np.searchsorted(xs, [x - gap, x + w + gap])
        top, bottom = np.searchsorted(ys, [y - gap, y + h + gap])
        free[top:bottom, left:right] = False

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
    return free.ravel()


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
    xs: Floats = np.arange(columns, dtype=np.float64) * _RASTER_MM
    ys: Floats = np.arange(rows, dtype=np.float64) * _RASTER_MM
    grid = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)
    free = _free_places(fit.page, xs, ys)
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
        lean=lean.reshape(rows, columns),
        share=share,
        mean=np.exp(surface[kept]).mean(axis=0),
        evenness=float(np.percentile(level, 2) / np.percentile(level, 98)),
        seen=np.where(kept, brightness, np.nan).reshape(rows, columns),
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

    sigma = reach_mm / _RASTER_MM
    side = 2 * round(3.2 * sigma) + 1

    def blurred(plane: Floats) -> Floats:
        soft = cv2.GaussianBlur(plane.astype(np.float32), (side, side), sigma, borderType=cv2.BORDER_CONSTANT)
        return np.asarray(soft, dtype=np.float64)

    ys, xs = np.mgrid[0:rows, 0:columns]
    x, y = (xs - columns / 2) / 50, (ys - rows / 2) / 50
    weight = kept.reshape(rows, columns).astype(np.float64)
    design = np.stack([np.ones(rows * columns), x.ravel(), y.ravel()])
    kept_design = design * weight.ravel()
    page_wide = np.linalg.solve(kept_design @ design.T + 1e-9 * np.eye(3), kept_design @ values)
    everywhere = (design.T @ page_wide).T.reshape(-1, rows, columns)
    rest = weight * (values.T.reshape(-1, rows, columns) - everywhere)
    s = blurred(weight) + 1e-6
    hold = s / (s + 2e-3)
    if not flat:
        weight_x, weight_y = weight * x, weight * y
        mx, my = blurred(weight_x) / s, blurred(weight_y) / s
        window = (sigma / 50) ** 2 * 0.1
        sxx = blurred(weight_x * x) / s - mx * mx + window
        syy = blurred(weight_y * y) / s - my * my + window
        sxy = blurred(weight_x * y) / s - mx * my
        determinant = np.maximum(sxx * syy - sxy * sxy, 1e-12)
        along_x, along_y = (x - mx) / determinant, (y - my) / determinant
        to_x, to_y = syy * along_x - sxy * along_y, sxx * along_y - sxy * along_x
    out = np.empty((rows * columns, len(rest)))
    for index, plane in enumerate(rest):
        smooth = blurred(plane) / s
        if not flat:
            sxv, syv = blurred(plane * x) / s - mx * smooth, blurred(plane * y) / s - my * smooth
            smooth = smooth + to_x * sxv + to_y * syv
        out[:, index] = (hold * smooth + everywhere[index]).ravel()
    return out


@dataclass(frozen=True)
class BoxColour:
    """What a box holds, linear light relative to the bare paper about it."""

    relative: Floats
    """Shape (3,); 1 is bare paper."""
    scatter: Floats
    """How far its ink pixels scatter, relative, shape (3,): streaks and noise."""
    paper: Floats
    """Linear light of the paper here, shape (3,)."""
    light_doubt: float
    """Relative doubt of the paper's brightness at the box."""
    light_edge: float
    """How far the paper about it leans from a soft surface, relative: a shadow's edge."""
    step: float
    """How far bare paper on two opposite sides of it differs, natural log of light."""
    patchy: float
    """How far its parts differ from the whole, as a distance of cube roots: a finger, gloss, another ink."""
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
    shade, noise, lean = np.ones_like(linear), np.full(len(mm), 0.01), np.zeros(len(mm))
    if light is not None:
        shade, noise, lean = light.at(mm)
    relative = linear / np.maximum(shade, _DARKEST)
    roots = np.cbrt(np.maximum(relative, 0.0))
    step = roots - 1
    distance = np.sqrt((step[:, 0] ** 2 + step[:, 1] ** 2 + step[:, 2] ** 2) / 3)
    level = (roots[:, 0] + roots[:, 1] + roots[:, 2]) / 3
    brightest = picture.to_linear(np.full((1, 3), _BRIGHTEST_CODE))[0]
    ends = np.cumsum([len(grid) for grid in grids])[:-1]
    parts = zip(
        *(np.split(values, ends) for values in (relative, distance, level, shade, noise, lean, codes, off)),
        strict=True,
    )
    known = light is not None and not table
    return tuple(
        _measure(*part, box=box, step=light.step_across(box) if known and light else 0.0, brightest=brightest,
                 known_paper=known)
        for box, part in zip(boxes, parts, strict=True)
    )  # fmt: skip


def _inside(box: BoxSpec) -> Floats:
    """Places to read in a box: an even grid over its middle, page millimetres."""
    w, h = box.w_mm * _MIDDLE, box.h_mm * _MIDDLE
    columns, rows = _counts(box)
    x0, y0 = box.x_mm + (box.w_mm - w) / 2, box.y_mm + (box.h_mm - h) / 2
    xs = x0 + (np.arange(columns) + 0.5) * w / columns
    ys = y0 + (np.arange(rows) + 0.5) * h / rows
    return np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)


def _counts(box: BoxSpec) -> tuple[int, int]:
    """Columns and rows of the grid of places to read in a box."""
    w, h = box.w_mm * _MIDDLE, box.h_mm * _MIDDLE
    step = max(0.1, (w * h / _SAMPLES_A_BOX) ** 0.5)
    return max(3, round(w / step)), max(3, round(h / step))


def _patchy(relative: Floats, kept: NDArray[np.bool_], counts: tuple[int, int], colour: Floats) -> float:
    """How far a box's cells lie from its colour, as a distance of cube roots; the farthest but one."""
    columns, rows = counts
    across = np.arange(columns) * _CELLS // columns
    down = np.arange(rows) * _CELLS // rows
    cell = (down[:, None] * _CELLS + across).ravel()
    whole = np.cbrt(np.maximum(colour, 0.0))
    far = []
    for number in range(_CELLS * _CELLS):
        part = relative[kept & (cell == number)]
        if len(part) >= _CELL_SAMPLES:
            middle = np.cbrt(np.maximum(np.median(part, axis=0), 0.0))
            far.append(float(np.sqrt(((middle - whole) ** 2).mean())))
    return sorted(far)[-2] if len(far) > 1 else 0.0


def _middle_mean(ordered: Floats) -> Floats:
    """Mean of the middle of each sorted column: a median that is not bound to whole codes."""
    cut = len(ordered) * 3 // 10
    return np.asarray(ordered[cut : len(ordered) - cut].mean(axis=0))


def _measure(
    relative: Floats,
    distance: Floats,
    level: Floats,
    shade: Floats,
    noise: Floats,
    lean: Floats,
    codes: NDArray[Any],
    off: NDArray[np.bool_],
    *,
    box: BoxSpec,
    step: float,
    brightest: Floats,
    known_paper: bool,
) -> BoxColour:
    """One box from its samples: light relative to the paper, distance from bare paper, lightness, and so on."""
    light_doubt = float(noise.mean())
    paper_noise = light_doubt / 3 + 0.002
    bulk = _ranked(distance, 0.75)
    bare_share = 0.0
    ink = np.ones(len(relative), dtype=bool)
    if known_paper and bulk > 4 * paper_noise:
        bare = distance < max(3 * paper_noise, 0.4 * bulk)
        bare_share = float(bare.mean())
        if bare_share < 0.9:
            ink = ~bare
    inked = level[ink]
    middle = _ranked(inked, 0.5)
    scatter = 1.4826 * _ranked(np.abs(inked - middle), 0.5)
    # pencil, and the outline where it was caught, are darker than any streak
    kept = ink & (level > middle - max(5 * scatter, 0.04))
    values = np.sort(relative[kept] if np.count_nonzero(kept) >= 9 else relative, axis=0)
    colour = _middle_mean(values)
    half = values[len(values) * 3 // 4] - values[len(values) // 4]
    typical = _middle_mean(np.sort(codes, axis=0)) / float(np.iinfo(codes.dtype).max)
    paper = np.array([_ranked(channel, 0.5) for channel in shade.T])
    return BoxColour(
        relative=colour,
        scatter=np.asarray(half / 1.349 / np.maximum(colour, 1e-3)),
        paper=paper,
        light_doubt=light_doubt,
        light_edge=float(lean.max()),
        step=step,
        patchy=_patchy(relative, kept, _counts(box), colour),
        bare=bare_share,
        contrast=float(np.sqrt(((np.cbrt(np.maximum(colour, 0)) - 1) ** 2).mean())),
        noise=paper_noise,
        over_exposed=bool(known_paper and np.any(paper >= brightest)),
        under_exposed=bool(np.all(typical < 6 / 255)),
        clipped=bool(np.any(typical < 0.6 / 255) or np.any(typical > 1.0 - 0.5 / 255)),
        off_picture=bool(off.any()),
    )


def _ranked(values: Floats, share: float) -> float:
    """Value that *share* of them lie below."""
    place = min(int(len(values) * share), len(values) - 1)
    return float(np.partition(values, place)[place])
