"""How well one colour shades another: two natural lines of shadow, the blend between, and one score for all.

From a colour two lines lead into shadow. *Less light*: a surface keeps its chromaticity and its tristimulus
values shrink by one factor (the shading series). *More ink*: the same dye, stronger. What lies between them, more
ink under less light, is a natural shadow; colourists lean to more ink, since a pale marker is the same dye
thinned, and call less light the muted choice (common practice, no source).

The weights and widths below are our own judgement, tried on simulated families of dyes: tests/derive/README.md.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from blendkit.colour import hue_step, lab_to_xyz1, xyz1_to_lab
from blendkit.errors import ColourError
from blendkit.inked import InkModel, Looks, blend_labs

Floats = NDArray[np.float64]

DEFAULT_WINDOW = (10.0, 25.0)
"""Steps of L* at which a shadow is seen and still blends. Common practice, no source."""

FIT = 70.0
"""Score from which a companion is called fitting."""

BLEND_RATIOS = np.array([0.0, 0.25, 0.5, 0.75, 1.0])
"""Shares of the second ink at which a wet blend is looked at."""

LEANS = {"none": 0.0, "cool": 260.0, "warm": 60.0, "muted": 0.0, "vivid": 0.0}
"""Ways that a shadow may lean: cool and warm with the CIELAB hue angle in degrees that they lean to, muted toward
less light, vivid toward more ink; "none" is the colourist's usual way."""

_HUE_WIDTH = 6.0
_OFF_WIDTH = 6.0
_DIP_WIDTH = 6.0
_STEP_FLOOR = 3.0
_STEP_TAIL = 20.0
_LINE_WIDTH = 9.0
_LEAN_SHARES = {"usual": 0.35, "strong": 0.7}
"""What a companion on the less-light line loses by default at most, and where the base is pale, warm or yellow."""
_PALE_FROM, _PALE = 70.0, 85.0
"""L* from which a base begins to count as pale, and counts wholly. Own judgement."""
_WARM_HUES = (20.0, 110.0)
"""Hues of Lab, in degrees, that are warm: red to yellow. Own judgement."""
_WARM_CHROMA = 6.0
"""Chroma from which a warm base counts wholly as one. Own judgement."""
_WEIGHTS = {"step": 0.15, "hue": 0.3, "chroma": 0.3, "lean": 1.0, "blend": 0.15}
"""Exponents of the score's parts. Own judgement; what was weighed: tests/derive/README.md."""
WORTH_BLENDING = 12.0
"""Score below which nobody asks whether the two blend. Own judgement."""


@dataclass(frozen=True, slots=True)
class Taste:
    """What the colourist asks of a shadow: the window of L* steps, and which way it may lean."""

    window: tuple[float, float] = DEFAULT_WINDOW
    lean: str = "none"

    def __post_init__(self) -> None:
        low, high = self.window
        if not 0.0 < low < high <= 100.0:
            raise ColourError(
                f"The window of lightness steps is {low:g} to {high:g}; it goes up, within 0 to 100."
            )
        if self.lean not in LEANS:
            raise ColourError(f"A shadow can't lean “{self.lean}”; accepted: {', '.join(LEANS)}")


@dataclass(frozen=True)
class Scores:
    """Scores of companions and the numbers behind them; every array has the shape of the pairs scored.

    Args:
        score: 0 to 100.
        step: how much darker (or, for lights, lighter) the companion is, L*; positive in the wanted direction.
        hue: metric hue difference from the nearest natural shadow, Lab units, signed.
        chroma: chroma less that one's, Lab units; negative where greyer.
        muted: where between more ink (0) and less light (1) the companion lies.
        evenness: mean step of the wet blend over its largest, 0 to 1; NaN where it was not worth predicting.
        dip: how far the blend's chroma falls below both ends, Lab units; NaN likewise.
        parts: the five part scores, 0 to 1, by name: step, hue, chroma, lean, blend.
    """

    score: Floats
    step: Floats
    hue: Floats
    chroma: Floats
    muted: Floats
    evenness: Floats
    dip: Floats
    parts: dict[str, Floats]


def predict_series(lab: ArrayLike, lightness: ArrayLike, lean: str = "none") -> Floats:
    """Colour of a surface when light falls or rises until it has the wanted L*.

    Args:
        lab: the surface in its own light, shape (..., 3).
        lightness: L* wanted, broadcast with the leading shape of *lab*; 0 to 100.
        lean: a key of :data:`LEANS`; leaning adds a fifth of the chroma, at least 3, toward that hue.

    Returns: Lab on the shading series, shape (..., 3); above the surface's own L* it may be no real surface.
    Source: X, Y and Z scale together when the light does (CIE 015:2018, tristimulus values are linear).
    """
    lab = np.asarray(lab, dtype=np.float64)
    lightness = np.asarray(lightness, dtype=np.float64)
    xyz1 = lab_to_xyz1(lab)
    wanted = lab_to_xyz1(np.stack([lightness, np.zeros_like(lightness), np.zeros_like(lightness)], axis=-1))
    factor = wanted[..., 1] / np.maximum(xyz1[..., 1], 1e-9)
    series = xyz1_to_lab(xyz1 * factor[..., None])
    return series + _lean(series, lean)


def _lean(lab: Floats, lean: str) -> Floats:
    """What a cool or warm lean adds to a shadow."""
    if not LEANS[lean]:
        return np.zeros(3)
    angle = np.radians(LEANS[lean])
    amount = np.maximum(3.0, 0.2 * np.hypot(lab[..., 1], lab[..., 2]))
    added: Floats = amount[..., None] * np.array([0.0, np.cos(angle), np.sin(angle)])
    return added


@dataclass(frozen=True)
class _Nearest:
    """The nearest point of a line, (..., 3), and how far off it is: in hue, in all else, and in both."""

    lab: Floats
    hue: Floats
    other: Floats
    off: Floats


def _nearest(line: Floats, shadow: Floats) -> _Nearest:
    """Find the point nearest to *shadow*, (..., 3), on the straight pieces of *line*, (..., K, 3).

    Near means by the differences of CIE94 (CIE 116-1995, graphic arts), which count less where chroma is high.
    """
    start, piece = line[..., :-1, :], np.diff(line, axis=-2)
    along = ((shadow[..., None, :] - start) * piece).sum(-1) / np.maximum((piece**2).sum(-1), 1e-12)
    near = start + np.clip(along, 0.0, 1.0)[..., None] * piece
    apart = shadow[..., None, :] - near
    chroma = np.hypot(near[..., 1], near[..., 2])
    more = np.hypot(shadow[..., None, 1], shadow[..., None, 2]) - chroma
    hue = np.maximum(apart[..., 1] ** 2 + apart[..., 2] ** 2 - more**2, 0.0) / (1.0 + 0.015 * chroma) ** 2
    other = apart[..., 0] ** 2 + (more / (1.0 + 0.045 * chroma)) ** 2
    best = np.argmin(hue + other, axis=-1)[..., None]
    hue, other = (np.take_along_axis(squares, best, axis=-1)[..., 0] for squares in (hue, other))
    lab = np.take_along_axis(near, best[..., None], axis=-2)[..., 0, :]
    return _Nearest(lab, np.sqrt(hue), np.sqrt(other), np.sqrt(hue + other))


def _less_light(lab: Floats, lightness: Floats) -> Floats:
    """Dim surfaces lighter than *lightness* to it; the others stay.

    In CIELAB a and b shrink with L* + 16 along the shading series, exactly where X, Y and Z are above 0.9 % of
    white; darker ones are hardly told apart.
    """
    wanted = np.minimum(lightness, lab[..., 0])
    share = (wanted + 16.0) / (lab[..., 0] + 16.0)
    return np.stack([wanted, share * lab[..., 1], share * lab[..., 2]], axis=-1)


def _strong_lean(lab: Floats) -> Floats:
    """How pale, or how warm or yellow, a base is: 0 to 1, shape (...)."""
    pale = np.clip((lab[..., 0] - _PALE_FROM) / (_PALE - _PALE_FROM), 0.0, 1.0)
    hue = np.degrees(np.arctan2(lab[..., 2], lab[..., 1]))
    warm = (hue > _WARM_HUES[0]) & (hue < _WARM_HUES[1])
    strength = np.clip(np.hypot(lab[..., 1], lab[..., 2]) / _WARM_CHROMA, 0.0, 1.0)
    return np.maximum(pale, warm * strength)


def _step_score(step: Floats, window: tuple[float, float]) -> Floats:
    low, high = window
    rising = (step - _STEP_FLOOR) / max(low - _STEP_FLOOR, 1e-6)
    falling = 1.0 - (step - high) / _STEP_TAIL
    return np.clip(np.minimum(rising, falling), 0.0, 1.0)


def _bell(distance: Floats, width: Floats | float) -> Floats:
    bell: Floats = 1.0 / (1.0 + (distance / width) ** 2)
    return bell


def score_shading(
    model: InkModel,
    base: Looks,
    other: Looks,
    more_ink: Floats,
    *,
    lighter: bool = False,
    taste: Taste | None = None,
    least: float = WORTH_BLENDING,
) -> Scores:
    """Score how well each *other* shades (or, with *lighter*, lights) each *base*, from 0 to 100.

    A light companion is judged as what it has to be: a colour that the base is a good shadow of.

    Args:
        model: the ink model.
        base: the bases, as they look on the paper.
        other: the companions on trial; their leading shape is broadcast with that of *base*.
        more_ink: ``Inked.more_ink`` of the bases, or for lights of the others: the paler of each pair.
        lighter: look for lights rather than shadows.
        taste: window and lean; the defaults when None.
        least: a pair that can't score as much, however well it blends, isn't blended, and scores 0.

    Returns: scores with the broadcast leading shape.
    """
    taste = taste or Taste()
    base_lab, other_lab = np.broadcast_arrays(base.lab, other.lab)
    surface, shadow = (other_lab, base_lab) if lighter else (base_lab, other_lab)
    step = surface[..., 0] - shadow[..., 0]
    wanted = shadow - _lean(shadow, taste.lean)
    line = np.broadcast_to(more_ink, (*step.shape, *more_ink.shape[-2:]))
    ink = _nearest(line, wanted)
    between = _nearest(_less_light(line, shadow[..., None, 0]), wanted)
    light = _nearest(_less_light(surface, shadow[..., 0])[..., None, :].repeat(2, axis=-2), wanted)
    hue = hue_step(between.lab, wanted)
    chroma = np.hypot(wanted[..., 1], wanted[..., 2]) - np.hypot(between.lab[..., 1], between.lab[..., 2])
    muted = ink.off / np.maximum(ink.off + light.off, 1e-9)
    strong = {"none": _strong_lean(surface), "vivid": np.ones(step.shape)}
    share = _LEAN_SHARES["usual"] + (_LEAN_SHARES["strong"] - _LEAN_SHARES["usual"]) * strong.get(
        taste.lean, np.zeros(step.shape)
    )
    parts = {
        "step": _step_score(step, taste.window),
        "hue": _bell(between.hue, _HUE_WIDTH),
        "chroma": _bell(between.other, _OFF_WIDTH),
        "lean": 1.0 - share * (1.0 - _bell((light if taste.lean == "muted" else ink).off, _LINE_WIDTH)),
    }
    bound = 100.0 * np.prod([parts[name] ** _WEIGHTS[name] for name in parts], axis=0)
    evenness = np.full(step.shape, np.nan)
    dip = np.full(step.shape, np.nan)
    worth = bound >= least
    if worth.any():
        bases, others = (looks.broadcast_to(step.shape)[worth] for looks in (base, other))
        path = blend_labs(bases, others, BLEND_RATIOS, model)
        steps = np.linalg.norm(np.diff(path, axis=-2), axis=-1)
        evenness[worth] = steps.mean(axis=-1) / np.maximum(steps.max(axis=-1), 1e-9)
        saturation = np.hypot(path[..., 1], path[..., 2])
        ends = np.minimum(saturation[..., 0], saturation[..., -1])
        dip[worth] = np.maximum(0.0, ends - saturation.min(axis=-1))
    blend = np.where(worth, np.nan_to_num(0.6 * evenness + 0.4 * _bell(dip, _DIP_WIDTH)), 0.0)
    parts["blend"] = blend
    score = bound * blend ** _WEIGHTS["blend"]
    return Scores(score, step, hue, chroma, muted, evenness, dip, parts)


_CHROMAS, _CELL = 160.0, 2.0
"""Chroma that is tabled, Lab units, and width of a cell, in them and in degrees of hue."""
_PAIRS_AT_ONCE = 8_000
"""Pairs scored at once, so that the working arrays of a large drawer stay within some 60 MB."""


@cache
def _most_alike() -> NDArray[np.float32]:
    """Most that the parts hue and chroma can be, weighed, by chroma and by hue distance: shape (80, 90).

    For a shadow of a chroma in a cell whose hue lies a cell's angle or more outside what a natural shadow can
    have, the largest over every chroma that the natural one can have, in cells, each by its own worst ends.
    """
    low = np.arange(0.0, _CHROMAS, _CELL)[:, None]
    near, far = low.T, np.append(low[1:, 0], np.inf)[None]
    below = np.maximum(low - far, 0.0) / (1.0 + 0.045 * np.minimum(far, _CHROMAS))
    above = np.maximum(near - low - _CELL, 0.0) / (1.0 + 0.045 * near)
    chroma = _bell(np.maximum(below, above), _OFF_WIDTH) ** _WEIGHTS["chroma"]
    with np.errstate(invalid="ignore"):
        ends = [np.nan_to_num(end / (1.0 + 0.015 * end) ** 2) for end in (near, far)]
    turned = 2.0 * (1.0 - np.cos(np.radians(np.arange(0.0, 180.0, _CELL))))
    hue = np.sqrt(low[..., None] * np.minimum(*ends)[..., None] * turned)
    alike: Floats = (chroma[..., None] * _bell(hue, _HUE_WIDTH) ** _WEIGHTS["hue"]).max(axis=1)
    table: NDArray[np.float32] = alike.astype(np.float32)
    return table


def bound_shading(surfaces: Floats, more_ink: Floats, shadows: Floats, taste: Taste) -> NDArray[np.float32]:
    """Score that no *shadow* of a *surface* can exceed: a cheap look at every pair of a large drawer.

    A natural shadow has a hue that the surface's own ink has at some strength: less light doesn't turn it.

    Args:
        surfaces: the paler of each pair, Lab, shape (n, 3).
        more_ink: ``Inked.more_ink`` of them, shape (n, STRENGTHS, 3).
        shadows: the darker, Lab, shape (m, 3).
        taste: window and lean.

    Returns: shape (n, m), 0 to 100; never below what :func:`score_shading` gives.
    """
    wanted = (shadows - _lean(shadows, taste.lean)).astype(np.float32)
    hues = np.degrees(np.arctan2(more_ink[..., 2], more_ink[..., 1]))
    turns = np.cumsum((np.diff(hues, axis=-1) + 180.0) % 360.0 - 180.0, axis=-1)
    low, high = np.minimum(turns.min(axis=-1), 0.0), np.maximum(turns.max(axis=-1), 0.0)
    middle = (hues[:, 0] + (low + high) / 2.0).astype(np.float32)[:, None]
    half = ((high - low) / 2.0 + 0.01).astype(np.float32)[:, None]
    apart = np.abs((np.degrees(np.arctan2(wanted[:, 2], wanted[:, 1])) - middle + 180.0) % 360.0 - 180.0)
    turned = (np.maximum(apart - half, 0.0) / _CELL).astype(np.int32)
    table = _most_alike()
    cell = (np.hypot(wanted[:, 1], wanted[:, 2]) / _CELL).astype(np.int32)
    bound = np.take(table, np.minimum(cell, len(table) - 1) * table.shape[1] + turned)
    bound[:, cell >= len(table)] = 1.0
    step = _step_score(surfaces[:, None, 0] - shadows[:, 0], taste.window).astype(np.float32)
    most: NDArray[np.float32] = bound * step ** np.float32(_WEIGHTS["step"]) * np.float32(100.001)
    return most


def score_pairs(
    model: InkModel,
    surfaces: Looks,
    more_ink: Floats,
    shadows: Looks,
    pairs: tuple[NDArray[np.intp], NDArray[np.intp]],
    taste: Taste,
) -> Floats:
    """Score pairs of a surface and its shadow, a part at a time.

    Args:
        model: the ink model.
        surfaces: the paler ones, shape (n,).
        more_ink: ``Inked.more_ink`` of them, shape (n, STRENGTHS, 3).
        shadows: the darker ones, shape (m,).
        pairs: rows of both, each of shape (p,).
        taste: window and lean.

    Returns: shape (p,), 0 to 100.
    """
    scores = np.empty(len(pairs[0]))
    for start in range(0, len(scores), _PAIRS_AT_ONCE):
        pale, dark = (rows[start : start + _PAIRS_AT_ONCE] for rows in pairs)
        found = score_shading(model, surfaces[pale], shadows[dark], more_ink[pale], taste=taste)
        scores[start : start + _PAIRS_AT_ONCE] = found.score
    return scores
