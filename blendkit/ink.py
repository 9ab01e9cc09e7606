"""What coats of dye ink do to paper: coats, stacks and wet blends, as arrays of reflectance.

The picture behind it: a marker's dye lies in the paper's topmost fibres as a clear, coloured film on a white
ground. Light goes through the film, is scattered by the ground, comes back through the film, and at the
surface a share of it is thrown back for another round. A little light, a few percent, is reflected by the
surface before it meets any dye.

So, for each band, with R the reflectance, f the part that the surface reflects and k the share thrown back
inside (Saunderson 1942):

    (1)  c = (R - f) / (1 - f)                 without the surface
    (2)  t = c / (1 - k + k c)                 once through film, ground and film
    (3)  D = -ln t                             what the dyes absorb; it adds up (Beer and Lambert)

and the other way round to a colour. A coat adds D(swatch) - D(its paper). A later coat adds less than the
first, because paper that has had ink takes less: the share *transfer*, but no less than so that what it loses
in light taken is at most 1 - *transfer* of what the ink beneath takes. Over nothing it loses nothing, over its
own like the share is *transfer*, and a stack is never lighter than any of its coats alone. A blend averages D
by the ratio.

The surface's part f can't be seen in one colour; but an ink's darkest band can't be darker than the surface,
and on matt, open papers that band is visibly lighter. So f is that band less the little that even a full ink
lets through (*let_through*), times *surface_share*, up to a limit.

Everything here takes reflectance over WAVELENGTHS_NM, from 0 to 2 (above 1 where a paper is brightened), any
leading axes, and gives the same. tests/derive/evaluate_ink.py measures how far off it is on published
overprints; tests/derive/README.md has the tables, with all that was tried.

Sources:
    Saunderson 1942, J. Opt. Soc. Am. 32, 727-736 (surface and internal reflection);
    Judd and Wyszecki 1975, Color in Business, Science and Industry (0.6 inside a film of index 1.5; cited
    from memory);
    Williams and Clapper 1953, J. Opt. Soc. Am. 43, 595-599 (clear dye film on a scattering ground).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from blendkit.errors import InkError, Problem
from blendkit.spectrum import (
    BANDS,
    SURFACE_LIMIT,
    WAVELENGTHS_NM,
    reflectance_above_surface,
    reflectance_from_lab,
    reflectance_to_lab,
    reflectance_to_xyz1,
)

Floats = NDArray[np.float64]

INCREMENT_COLUMNS: Final = BANDS + 1
"""Length of an increment: one number a band, and one for the surface; they add up over coats."""

MODEL_BOUNDS: Final[Mapping[str, tuple[float, float]]] = MappingProxyType(
    {
        "internal_reflection": (0.0, 0.95),
        "surface_share": (0.0, 1.0),
        "surface_limit": (0.0, 0.1),
        "transfer": (0.3, 1.0),
        "let_through": (0.004, 0.04),
    }
)
"""Least and largest sensible value of each constant, for whoever fits them to a paper."""


@dataclass(frozen=True, slots=True)
class InkModel:
    """The constants of the ink model, five in all.

    *let_through* and *transfer* are fitted to published overprints (tests/derive/evaluate_ink.py), two are taken
    from theory, and *surface_share* is there for papers that were measured.

    Args:
        internal_reflection: share of the light from below that the surface throws back; theory gives 0.6 for
            a clear film of refractive index 1.5 (Judd and Wyszecki 1975).
        surface_share: the surface's reflection as a share of the swatch's darkest band less *let_through*.
        surface_limit: most that a surface reflects; theory gives 0.04 for a smooth film of that index, rough
            paper has a little more.
        transfer: what a coat adds to a paper that has had the same ink, as a share of what it adds to bare
            paper.
        let_through: reflectance by which the darkest band of a full ink lies above the surface.

    Raises: InkError for a value outside MODEL_BOUNDS.
    """

    internal_reflection: float = 0.6
    surface_share: float = 1.0
    surface_limit: float = SURFACE_LIMIT
    transfer: float = 0.77
    let_through: float = 0.012

    def __post_init__(self) -> None:
        """Refuse values that no paper and ink could have."""
        problems = [
            Problem(name, f"{getattr(self, name)!r}", f"{low:g} to {high:g}")
            for name, (low, high) in MODEL_BOUNDS.items()
            if not low <= getattr(self, name) <= high
        ]
        if problems:
            raise InkError("A constant of the ink model is out of range.", problems)


DEFAULT_MODEL: Final = InkModel()

_LEAST = 1e-9  # a reflectance of 0 has no finite D
_LEAST_D = -0.2  # D of a brightened paper; no sum of increments goes below it
_NEAR_LEAST = -24.0  # power of the sum that stands for the least of several surface parts, and adds up
_SAME_LAB = 1e-6  # Lab nearer than that is the same
_HALVINGS, _SAME_SHARE = 50, 1e-9  # for a share that is sought by halving
_PAIRS_AT_ONCE = 1 << 14  # blends worked on together: some 20 MB of working arrays


def _reflectance(name: str, values: ArrayLike, axes: int = 1) -> Floats:
    """Check a reflectance at the door: 36 bands, 0 to 2, all numbers."""
    array = np.asarray(values, dtype=np.float64)
    if array.ndim < axes or array.shape[-1] != BANDS:
        wanted = f"(..., K, {BANDS})" if axes == 2 else f"(..., {BANDS})"
        raise InkError(
            f"{name} has the wrong shape.", [Problem(name, f"shape {array.shape}", f"shape {wanted}")]
        )
    bad = ~((array >= 0) & (array <= 2))
    if bad.any():
        where = tuple(int(i) for i in np.argwhere(bad)[0])
        raise InkError(
            f"{name} holds something that no ink or paper reflects.",
            [
                Problem(
                    f"{name}{list(where)} ({WAVELENGTHS_NM[where[-1]]} nm)",
                    f"{float(array[where]):g}",
                    "0 to 2, where 1 is the perfect white",
                )
            ],
        )
    return array


def _amount(name: str, values: ArrayLike, high: float, accepted: str) -> Floats:
    array = np.asarray(values, dtype=np.float64)
    bad = ~((array >= 0) & (array <= high))
    if bad.any():
        found = f"{float(array.reshape(-1)[int(np.argmax(bad.reshape(-1)))]):g}"
        raise InkError(f"{name} is out of range.", [Problem(name, found, accepted)])
    return array


def _surface(reflectance: Floats, model: InkModel) -> Floats:
    """Part f that the surface of a swatch or paper reflects, shape (..., 1).

    The darkest band is read from the plain smoothest reflectance of the colour, so that a measured spectrum
    and a measured Lab of the same swatch get the same f.
    """
    if model.surface_share == 0 or model.surface_limit == 0:
        return np.zeros((*reflectance.shape[:-1], 1))
    # Axes that are only repeated (broadcast views) are worked out once.
    once = reflectance[tuple(slice(0, 1) if step == 0 else slice(None) for step in reflectance.strides[:-1])]
    return _surface_below(reflectance_from_lab(reflectance_to_lab(once)).min(axis=-1), once, model)


def _surface_below(plain_darkest: Floats, reflectance: Floats, model: InkModel) -> Floats:
    """The same, where the darkest band of the plain reflectance is at hand, shape (...)."""
    darkest = model.surface_share * np.maximum(plain_darkest - model.let_through, 0.0)
    darkest = np.minimum(darkest, 0.9 * reflectance.min(axis=-1))
    surface: Floats = np.minimum(darkest, model.surface_limit)[..., None]
    return surface


def _to_density(reflectance: Floats, surface: Floats, model: InkModel) -> Floats:
    """Steps (1) to (3)."""
    inner = np.maximum((reflectance - surface) / (1 - surface), _LEAST)
    back = model.internal_reflection
    density: Floats = np.log((1 - back) / inner + back)
    return density


def _from_density(density: Floats, surface: Floats, model: InkModel) -> Floats:
    """Steps (3) to (1)."""
    through = np.exp(-density)
    back = model.internal_reflection
    through *= (1 - back) / (1 - back * through)
    through *= 1 - surface
    through += surface
    return through


def swatch_from_lab(
    lab: ArrayLike, light: str = "D50", observer: int = 2, model: InkModel = DEFAULT_MODEL
) -> Floats:
    """Estimate the reflectance of one coat of ink from its measured Lab.

    No darker in any band than what the surface reflects (blendkit.spectrum.reflectance_above_surface, with
    the model's constants).

    Args:
        lab: CIELAB relative to the white of *light* and *observer*, shape (..., 3).
        light: one of blendkit.spectrum.LIGHTS.
        observer: 2 or 10, degrees.
        model: its *surface_share* and *surface_limit* are used.

    Returns: reflectance, 0 to 1, shape (..., 36); gives *lab* again, unless no reflectance does.
    Raises: ColourError, as reflectance_from_lab.
    """
    return reflectance_above_surface(
        lab, light, observer, share=model.surface_share, limit=model.surface_limit, through=model.let_through
    )


def swatch_and_surface(lab: ArrayLike, model: InkModel = DEFAULT_MODEL) -> tuple[Floats, Floats]:
    """Estimate the reflectance of one coat as :func:`swatch_from_lab` does, and the part its surface reflects.

    For whole drawers: the plain reflectance that both rest on is recovered once.

    Args:
        lab: CIELAB, D50, 2 degree, shape (..., 3).
        model: its *surface_share* and *surface_limit* are used.

    Returns: reflectance, shape (..., 36), and what :func:`surface_part` gives for it, shape (..., 1).
    Raises: ColourError, as reflectance_from_lab.
    """
    asked = np.asarray(lab, dtype=np.float64)
    darkest = reflectance_from_lab(asked).min(axis=-1)
    floor = np.clip(model.surface_share * (darkest - model.let_through), 0.0, model.surface_limit)
    swatch = reflectance_from_lab(asked, floor=floor)
    surface = _surface_below(darkest, swatch, model)
    # A colour that no reflectance has isn't that of its swatch, whose plain reflectance is another, too.
    other = np.abs(reflectance_to_lab(swatch) - asked).max(axis=-1) > _SAME_LAB
    if other.any():
        surface[other] = _surface(swatch[other], model)
    return swatch, surface


def ink_increment(
    swatch: ArrayLike,
    swatch_paper: ArrayLike,
    model: InkModel = DEFAULT_MODEL,
    surface: ArrayLike | None = None,
) -> Floats:
    """What one coat adds to bare paper, as numbers that add up.

    Args:
        swatch: reflectance of one coat, shape (..., 36).
        swatch_paper: reflectance of the paper under it, shape (..., 36).
        model: the constants.
        surface: the swatch's :func:`surface_part`, for a caller who has it; None to work it out.

    Returns: shape (..., 37): the density of every band, then what stands for the surface. Increments may be
        scaled and added; :func:`layer_increments` adds coats up as they follow each other.
    Raises: InkError, naming the argument and its first bad value.
    """
    own = None if surface is None else np.asarray(surface, dtype=np.float64)
    return _increment(_reflectance("swatch", swatch), _reflectance("swatch_paper", swatch_paper), model, own)


def _increment(swatch: Floats, paper: Floats, model: InkModel, own: Floats | None = None) -> Floats:
    paper_surface = _surface(paper, model)
    surface = np.minimum(_surface(swatch, model) if own is None else own, paper_surface)
    added = _to_density(swatch, surface, model) - _to_density(paper, surface, model)
    if (added < 0).any():
        # Lighter than its paper: nothing of that is the dye's, and the surface plays no part.
        bare = np.zeros(1)
        lighter = _to_density(swatch, bare, model) - _to_density(paper, bare, model)
        added = np.where(added < 0, lighter, added)
    if model.surface_share == 0 or model.surface_limit == 0:
        depth = np.zeros((*added.shape[:-1], 1))
    else:
        depth = np.maximum(surface, _LEAST) ** _NEAR_LEAST - np.maximum(paper_surface, _LEAST) ** _NEAR_LEAST
        depth = np.broadcast_to(depth, (*added.shape[:-1], 1))
    return np.concatenate([added, depth], axis=-1)


def layer_increments(increments: ArrayLike, paper: ArrayLike, model: InkModel = DEFAULT_MODEL) -> Floats:
    """Add coats up in the order in which they are laid, each dry before the next.

    The first coat counts in full, each later one by a share between the model's *transfer* and 1, the larger the
    less ink lies beneath (the module's text), and no later one lightens.

    Args:
        increments: of ink_increment, first coat first, shape (..., K, 37).
        paper: reflectance of what they are laid on, shape (..., 36).
        model: the constants.

    Returns: the total after each coat, shape (..., K, 37), for predict_from_increments.
    Raises: InkError for a wrong shape.
    """
    array = np.asarray(increments, dtype=np.float64)
    if array.ndim < 2 or array.shape[-1] != INCREMENT_COLUMNS:
        raise InkError(
            "increments has the wrong shape.",
            [Problem("increments", f"shape {array.shape}", f"shape (..., K, {INCREMENT_COLUMNS})")],
        )
    base = _reflectance("paper", paper)
    surface = _surface(base, model)
    total = array.copy()
    for place in range(1, array.shape[-2]):
        below, coat = total[..., place - 1, :], np.maximum(array[..., place, :], 0.0)
        kept = coat.copy()
        kept[..., :BANDS] *= _kept(below, coat, base, surface, model)[..., None]
        total[..., place, :] = below + kept
    return total


def later_coat(
    step: ArrayLike, below: ArrayLike, paper: ArrayLike, model: InkModel = DEFAULT_MODEL
) -> Floats:
    """Increments of coats that were seen to add *step* to what lay there: layer_increments adds that again.

    Args:
        step: what each coat added, shape (n, 37).
        below: total of what it was laid on, shape (n, 37).
        paper: reflectance of the paper under all, shape (n, 36).
        model: the constants.

    Returns: shape (n, 37).
    """
    base, coat = _reflectance("paper", paper), np.array(step, dtype=np.float64)
    surface = _surface(base, model)
    below = np.asarray(below, dtype=np.float64)
    low, high = np.full(len(coat), model.transfer), np.ones(len(coat))

    def tried(share: Floats) -> Floats:
        return np.concatenate([coat[:, :BANDS] / share[:, None], coat[:, BANDS:]], axis=1)

    # What a coat keeps grows less than the share that it is taken to keep, so that share is found by halving.
    middle = low
    for _ in range(_HALVINGS):
        kept = _kept(below, np.maximum(tried(middle), 0.0), base, surface, model)
        if np.all(np.abs(kept - middle) < _SAME_SHARE):
            break
        low, high = np.where(kept >= middle, middle, low), np.where(kept > middle, high, middle)
        middle = (low + high) / 2.0
    return tried(middle)


def _kept(below: Floats, coat: Floats, paper: Floats, surface: Floats, model: InkModel) -> Floats:
    """Share of a later coat that its place takes, *transfer* to 1; *below* is the total there, (..., 37)."""
    if model.transfer == 1.0:
        return np.ones(coat.shape[:-1])
    least = coat.copy()
    least[..., :BANDS] *= model.transfer
    alone, full, thin = (
        reflectance_to_xyz1(_laid(paper, total, model, surface))[..., 1]
        for total in (coat, below + coat, below + least)
    )
    return model.transfer + (1.0 - model.transfer) * _share_kept(alone, full, thin, 1.0 - model.transfer)


def _share_kept(alone: Floats, full: Floats, least: Floats, loss: float) -> Floats:
    """How far from the least to the full transfer a later coat has to go, 0 to 1.

    Args:
        alone: luminance of the coat alone on the paper; *full*, *least*: of the stack with the coat in full, and
            with the least transfer.
        loss: share of the light taken by the ink beneath that the coat may lose, 0 to 1.

    Since luminance falls ever more slowly as a coat's amount grows, going along the chord is going far enough.
    """
    wanted = np.maximum(alone, _LEAST) ** loss * np.maximum(np.minimum(full, alone), _LEAST) ** (1.0 - loss)
    share: Floats = np.clip((least - wanted) / np.maximum(least - full, _LEAST), 0.0, 1.0)
    return share


class QuickOverlaps:
    """Luminous colours of one coat over another, quickly and roughly: to choose which are worth an exact look.

    The same steps as :func:`layer_increments` and :func:`predict_from_increments`, in numbers of 32 bits, with
    what one ink lets through worked out once. XYZ is right to 0.00001 of its value.

    Args:
        paper: reflectance, shape (36,).
        coats: increments of one coat of each ink, shape (n, 37).
        model: the constants.
    """

    def __init__(self, paper: Floats, coats: Floats, model: InkModel) -> None:
        """Work out what depends on one ink."""
        small = np.float32
        self._weights = reflectance_to_xyz1(np.eye(BANDS)).astype(small)
        self._paper, self._back = paper.astype(small), small(model.internal_reflection)
        self._transfer = small(model.transfer)
        added = np.maximum(coats[:, :BANDS], 0.0)
        self._under = np.exp(-coats[:, :BANDS]).astype(small)
        self._lighter = np.asarray((coats[:, :BANDS] < 0.0).any(axis=1))
        self._added = added.astype(small)
        self._full, self._least = (np.exp(-share * added).astype(small) for share in (1.0, model.transfer))
        self._depth = coats[:, BANDS]
        self._paper_depth = np.maximum(_surface(paper, model), _LEAST) ** _NEAR_LEAST
        over = self._surfaces(np.zeros(1), np.arange(len(coats)))
        self._alone = self._seen(self._through(over) * self._full, over) @ self._weights[:, 1]

    def xyz1(self, under: int, overs: NDArray[np.intp]) -> NDArray[np.float32]:
        """Give XYZ of each of *overs*, rows of shape (m,), over one row that is dry: shape (m, 3)."""
        surface = self._surfaces(self._depth[under], overs)
        bare = self._through(np.zeros((1, 1), dtype=np.float32)) * self._under[under]
        paper = self._through(surface) * self._under[under]

        def seen(kept: NDArray[np.float32]) -> NDArray[np.float32]:
            colour = self._seen(paper * kept, surface)
            if self._lighter[under]:
                without = self._seen(bare * kept, np.zeros(1, dtype=np.float32))
                colour = np.where(self._under[under] * kept > 1.0, without, colour)
            return colour

        full, least = ((seen(kept[overs]) @ self._weights[:, 1]) for kept in (self._full, self._least))
        loss = 1.0 - float(self._transfer)
        alone, full, least = (one.astype(np.float64) for one in (self._alone[overs], full, least))
        share = _share_kept(alone, full, least, loss)
        kept = self._transfer + (1 - self._transfer) * share.astype(np.float32)
        return seen(np.exp(-kept[:, None] * self._added[overs])) @ self._weights

    def _surfaces(self, under: Floats, overs: NDArray[np.intp]) -> NDArray[np.float32]:
        depth = np.maximum(under + np.maximum(self._depth[overs], 0.0), 0.0)
        surface: NDArray[np.float32] = ((self._paper_depth + depth) ** (1 / _NEAR_LEAST)).astype(np.float32)
        return surface[:, None] if self._paper_depth[0] < _LEAST**_NEAR_LEAST else 0.0 * surface[:, None]

    def _through(self, surface: NDArray[np.float32]) -> NDArray[np.float32]:
        inner = np.maximum((self._paper - surface) / (1 - surface), np.float32(_LEAST))
        through: NDArray[np.float32] = inner / (1 - self._back + self._back * inner)
        return through

    def _seen(self, through: NDArray[np.float32], surface: NDArray[np.float32]) -> NDArray[np.float32]:
        through = np.minimum(through, np.float32(np.exp(-_LEAST_D)))
        return surface + (1 - surface) * (1 - self._back) * through / (1 - self._back * through)


def predict_from_increments(
    paper: ArrayLike, total_increment: ArrayLike, model: InkModel = DEFAULT_MODEL
) -> Floats:
    """Reflectance of *paper* under a sum of increments.

    Args:
        paper: reflectance, shape (..., 36).
        total_increment: sum of what ink_increment gave, shape (..., 37); all 0 gives *paper*.
        model: the constants.

    Returns: reflectance, shape (..., 36).
    Raises: InkError, naming the argument and its first bad value.
    """
    base = _reflectance("paper", paper)
    total = np.asarray(total_increment, dtype=np.float64)
    if total.ndim == 0 or total.shape[-1] != INCREMENT_COLUMNS:
        raise InkError(
            "total_increment has the wrong shape.",
            [Problem("total_increment", f"shape {total.shape}", f"shape (..., {INCREMENT_COLUMNS})")],
        )
    if not np.isfinite(total).all():
        where = tuple(int(i) for i in np.argwhere(~np.isfinite(total))[0])
        raise InkError(
            "total_increment holds something that is not a number.",
            [Problem(f"total_increment{list(where)}", repr(float(total[where])), "a finite number")],
        )
    return _laid(base, total, model)


def _laid(paper: Floats, total: Floats, model: InkModel, surface: Floats | None = None) -> Floats:
    added = total[..., :BANDS]
    if surface is None:
        surface = _surface(paper, model)
    if surface.any():
        depth = np.maximum(surface, _LEAST) ** _NEAR_LEAST + np.maximum(total[..., BANDS:], 0.0)
        surface = depth ** (1 / _NEAR_LEAST)
    density = _to_density(paper, surface, model) + added
    result = _from_density(np.maximum(density, _LEAST_D), surface, model)
    lighter = added < 0
    if lighter.any():
        bare = np.zeros(1)
        density = _to_density(paper, bare, model) + added
        result = np.where(lighter, _from_density(np.maximum(density, _LEAST_D), bare, model), result)
    return np.where(added == 0, paper, result)


def _first_increment(
    paper: Floats, swatch: Floats, swatch_paper: ArrayLike | None, model: InkModel
) -> Floats:
    """Increment of one coat on *paper*; on another paper than its own, a dye never lightens."""
    if swatch_paper is None:
        return _increment(swatch, paper, model)
    own = _reflectance("swatch_paper", swatch_paper)
    increment = _increment(swatch, own, model)
    elsewhere = (increment[..., :BANDS] < 0) & (paper != own)
    if elsewhere.any():
        increment[..., :BANDS][elsewhere] = 0.0
    return increment


def predict_coats(
    paper: ArrayLike,
    swatch: ArrayLike,
    coats: ArrayLike,
    swatch_paper: ArrayLike | None = None,
    model: InkModel = DEFAULT_MODEL,
) -> Floats:
    """Reflectance of *paper* after *coats* of the ink that left *swatch*.

    Args:
        paper: reflectance, shape (..., 36).
        swatch: reflectance of one coat, shape (..., 36).
        coats: 0 or more, a number or shape (...); 0 returns *paper*, 1 returns *swatch* when it was measured
            on this paper. Half a coat is half the ink.
        swatch_paper: reflectance of the paper under the swatch, shape (..., 36); None for *paper* itself.
        model: the constants.

    Returns: reflectance, shape (..., 36); another coat never lightens any band.
    Raises: InkError, naming the argument and its first bad value.
    """
    base, one = _reflectance("paper", paper), _reflectance("swatch", swatch)
    number = _amount("coats", coats, 1000.0, "0 or more")[..., None]
    increment = _first_increment(base, one, swatch_paper, model)
    first, later = np.minimum(number, 1.0), np.maximum(number - 1.0, 0.0)
    added = increment[..., :BANDS]
    added = first * added + later * model.transfer * np.maximum(added, 0.0)
    total = np.concatenate([added, number * increment[..., BANDS:]], axis=-1)
    return _laid(base, total, model)


def predict_stack(
    paper: ArrayLike,
    swatches: ArrayLike,
    swatch_paper: ArrayLike | None = None,
    model: InkModel = DEFAULT_MODEL,
) -> Floats:
    """Reflectance of *paper* after one coat each of several inks, each dry before the next.

    Args:
        paper: reflectance, shape (..., 36).
        swatches: reflectance of one coat of each, first laid first, shape (..., K, 36); K may be 0.
        swatch_paper: reflectance of the paper under the swatches, shape (36,) or, one for each,
            (..., K, 36); None for *paper* itself.
        model: the constants.

    Returns: reflectance, shape (..., 36).
    Raises: InkError, naming the argument and its first bad value.
    """
    base, several = _reflectance("paper", paper), _reflectance("swatches", swatches, axes=2)
    if several.shape[-2] == 0:
        return np.broadcast_to(base, np.broadcast_shapes(base.shape, (*several.shape[:-2], BANDS))).copy()
    increments = _first_increment(base[..., None, :], several, swatch_paper, model)
    return _laid(base, layer_increments(increments, base, model)[..., -1, :], model)


def predict_blend(
    paper: ArrayLike,
    first: ArrayLike,
    second: ArrayLike,
    ratio: ArrayLike,
    swatch_paper: ArrayLike | None = None,
    model: InkModel = DEFAULT_MODEL,
) -> Floats:
    """Reflectance of *paper* under one coat of two inks that are worked together while wet.

    Args:
        paper: reflectance, shape (..., 36).
        first: reflectance of one coat of the first ink, shape (..., 36).
        second: the same of the second.
        ratio: share of the second ink, 0 to 1, a number or shape (...); 0 is *first*, 1 is *second*.
        swatch_paper: reflectance of the paper under both swatches, shape (..., 36); None for *paper* itself.
        model: the constants.

    Returns: reflectance, shape (..., 36); each band goes one way only from *first* to *second*.
    Raises: InkError, naming the argument and its first bad value.
    """
    base = _reflectance("paper", paper)
    one, other = _reflectance("first", first), _reflectance("second", second)
    share = _amount("ratio", ratio, 1.0, "0 (the first ink) to 1 (the second)")[..., None]
    if swatch_paper is not None:
        one = predict_coats(base, one, 1, swatch_paper, model)
        other = predict_coats(base, other, 1, swatch_paper, model)
    surface = np.minimum(_surface(one, model), _surface(other, model))
    return _blended(one, other, surface, share, model)


def _blended(one: Floats, other: Floats, surface: Floats, share: Floats, model: InkModel) -> Floats:
    start = _to_density(one, surface, model)
    end = _to_density(other, surface, model)
    mixed = _from_density(start + share * (end - start), surface, model)
    # Rounding must not carry a blend past its ends.
    low, high = np.minimum(one, other), np.maximum(one, other)
    mixed = np.where(share == 1, other, np.where(share == 0, one, mixed))
    result: Floats = np.clip(mixed, low, high)
    return result


def surface_part(reflectance: ArrayLike, model: InkModel = DEFAULT_MODEL) -> Floats:
    """Part that the surface of each swatch or paper reflects.

    Args:
        reflectance: of the swatch or paper, shape (..., 36).
        model: the constants.

    Returns: shape (..., 1), 0 to *surface_limit*. Where two swatches are blended the less of the two holds.
    Raises: InkError, naming the argument and its first bad value.
    """
    return _surface(_reflectance("reflectance", reflectance), model)


def predict_blend_labs(
    first: ArrayLike,
    second: ArrayLike,
    ratios: ArrayLike,
    light: str = "D50",
    observer: int = 2,
    model: InkModel = DEFAULT_MODEL,
    surface: ArrayLike | None = None,
) -> Floats:
    """Lab of many blends at several ratios, worked out a part at a time.

    For whole drawers: every pair of 400 markers at five ratios is 800,000 blends, whose reflectance nobody
    needs at once.

    Args:
        first: reflectance of one coat of the first ink on the paper, shape (..., 36).
        second: the same of the second, of a shape that broadcasts with *first*.
        ratios: shares of the second ink, 0 to 1, shape (M,).
        light: one of blendkit.spectrum.LIGHTS.
        observer: 2 or 10, degrees.
        model: the constants.
        surface: the less of the two swatches' :func:`surface_part`, for a caller who blends the same swatches
            in many pairs; None to work it out.

    Returns: Lab, relative to the white of *light*, shape (..., M, 3).
    Raises: InkError, naming the argument and its first bad value.
    """
    one, other = _reflectance("first", first), _reflectance("second", second)
    share = _amount("ratios", ratios, 1.0, "0 (the first ink) to 1 (the second)").reshape(-1, 1)
    shape = np.broadcast_shapes(one.shape, other.shape)
    if surface is None:
        surface = np.minimum(_surface(one, model), _surface(other, model))
    pair_surface = np.broadcast_to(np.asarray(surface), (*shape[:-1], 1)).reshape(-1, 1)
    one_flat = np.broadcast_to(one, shape)
    other_flat = np.broadcast_to(other, shape)
    count = int(np.prod(shape[:-1]))
    result = np.empty((count, len(share), 3))
    index = np.arange(count)
    for start in range(0, count, _PAIRS_AT_ONCE // max(len(share), 1) + 1):
        part = index[start : start + _PAIRS_AT_ONCE // max(len(share), 1) + 1]
        places = np.unravel_index(part, shape[:-1]) if len(shape) > 1 else ()
        blended = _blended(
            one_flat[places].reshape(-1, 1, BANDS),
            other_flat[places].reshape(-1, 1, BANDS),
            pair_surface[part][:, None, :],
            share,
            model,
        )
        result[part] = reflectance_to_lab(blended, light, observer)
    return result.reshape(*shape[:-1], len(share), 3)
