"""How well one colour shades another: the shading series, the blend between, and one score for both.

Under less of the same light a surface keeps its chromaticity and its tristimulus values shrink by one factor,
so ideal shadows lie on a line toward black on which lightness and chroma fall together. Everything here is
arrays over that line; :mod:`blendkit.advice.pairs` puts names and words to it.

The weights and widths below are our own judgement of what colourists call a good shadow, tried on the families
of the demo palette; they have no source.
"""

from dataclasses import dataclass

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

LEANS = {"none": 0.0, "cool": 260.0, "warm": 60.0}
"""Ways that a shadow may lean, with the CIELAB hue angle in degrees that it leans to; "none" leans nowhere."""

_HUE_WIDTH = 9.0
_VIVID_WIDTH = 12.0
_VIVID_SHARE = 0.5
_GREY_WIDTH = 18.0
_DIP_WIDTH = 6.0
_STEP_FLOOR = 3.0
_STEP_TAIL = 20.0
_WEIGHTS = {"step": 0.30, "hue": 0.30, "chroma": 0.25, "blend": 0.15}
WORTH_BLENDING = 12.0


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
        hue: metric hue difference from the ideal, Lab units, signed.
        chroma: chroma less the ideal's, Lab units; negative where greyer.
        evenness: mean step of the wet blend over its largest, 0 to 1; NaN where it was not worth predicting.
        dip: how far the blend's chroma falls below both ends, Lab units; NaN likewise.
        parts: the four part scores, 0 to 1, by name: step, hue, chroma, blend.
    """

    score: Floats
    step: Floats
    hue: Floats
    chroma: Floats
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
    if lean != "none":
        angle = np.radians(LEANS[lean])
        amount = np.maximum(3.0, 0.2 * np.hypot(series[..., 1], series[..., 2]))
        series = series + amount[..., None] * np.array([0.0, np.cos(angle), np.sin(angle)])
    return series


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
        lighter: look for lights rather than shadows.
        taste: window and lean; the defaults when None.
        least: a pair that can't score as much, however well it blends, isn't blended, and scores 0.

    Returns: scores with the broadcast leading shape.
    """
    taste = taste or Taste()
    base_lab, other_lab = np.broadcast_arrays(base.lab, other.lab)
    surface, shadow = (other_lab, base_lab) if lighter else (base_lab, other_lab)
    step = surface[..., 0] - shadow[..., 0]
    ideal = predict_series(surface, shadow[..., 0], taste.lean)
    hue = hue_step(ideal, shadow)
    ideal_chroma = np.hypot(ideal[..., 1], ideal[..., 2])
    chroma = np.hypot(shadow[..., 1], shadow[..., 2]) - ideal_chroma
    # Dark dyes are more vivid than shade alone would make them; the more so, the more vivid the base.
    vivid = _VIVID_WIDTH + _VIVID_SHARE * ideal_chroma
    parts = {
        "step": _step_score(step, taste.window),
        "hue": _bell(hue, _HUE_WIDTH),
        "chroma": _bell(chroma, np.where(chroma > 0.0, vivid, _GREY_WIDTH)),
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
    return Scores(score, step, hue, chroma, evenness, dip, parts)
