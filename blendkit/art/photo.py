"""The main colours of a photo: of fabric, patterned paper or a garden.

The photo is averaged down in linear light, balanced if the user names a grey or white spot in it, and its
evenly coloured places are grouped in CIELAB by k-means (SciPy), then joined where groups can hardly be told
apart. Lightness counts for less than hue and chroma there, so that one cloth in uneven light stays one
colour. Small spots that are vivid and unlike all else are kept as accents. A finely patterned photo is looked
at in tiles from close by; light is averaged in proportion, as an eye from further off does.

Every step is deterministic: the same photo gives the same record.
"""

import warnings
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendkit.colour import (
    WHITE_D50,
    adapt_xyz1,
    delta_e_2000,
    lab_to_display,
    lab_to_xyz1,
    linear_to_srgb1,
    xyz1_to_lab,
)
from blendkit.errors import PictureError, Problem
from blendkit.picture import Picture
from blendkit.picture.encoding import srgb_encoding
from blendkit.words import describe_colour

Floats = NDArray[np.float64]

MAX_MAIN = 24
MAX_ACCENTS = 8
"""Most that can be asked for: what a contact picture has room for. Own judgement."""

_GROUPED = 20_000
"""About how many of them, evenly spread, k-means works on; shares and medians are taken of all."""

_SEEDS = 40
"""Groups that k-means starts from."""

_LIGHTNESS = 0.55
"""Weight of L* against a* and b* when places are grouped. Chosen by tests/derive/evaluate_photo.py."""

_JOIN = 8.0
"""Groups nearer than this (CIEDE2000, lightness weighed as above) are one colour. Chosen likewise."""

_LEAST_MAIN = 0.012
"""Least share of the area of a main colour."""

_LEAST_ACCENT = 0.0006
"""Least share of the area of an accent."""

_CERTAIN = 5
"""Least number of evenly coloured blocks that show an accent."""

_ACCENT_CHROMA = 32.0
_ACCENT_APART = 14.0
"""An accent's least chroma, and its least CIEDE2000 from every other colour found."""

_LIGHT_HUES_DEG = ((45.0, 110.0), (225.0, 300.0))
"""Hues that lamps and shade tint a grey: toward yellow and orange, and toward blue (the line of black bodies)."""

_TINT_OF_LIGHT, _TINT_OTHER = 45.0, 16.0
"""Largest chroma of a grey in those hues, and in others, such as the green of tubes. A filament lamp seen by a
camera set to daylight tints a grey of L* 60 by 44 (computed from CIE illuminants A and D65); own judgement for
the other."""

_TINTS = ((3.0, "hardly any tint"), (8.0, "a slight tint"), (16.0, "a clear tint"), (999.0, "a strong tint"))
"""Words for what was taken off, each up to its CIEDE2000. Own judgement."""

_RIDGE = 3.0
"""Chroma by which a place in a thin line may fall short of the most vivid around it. Own judgement."""

_WHITE_LAB = 95.0
"""L* that a white spot is taken to have: white card. Common practice, no source."""


@dataclass(frozen=True, eq=False)
class MainColour:
    """One colour of a photo.

    Attributes:
        lab: CIELAB, D50 / 2 degree, shape (3,).
        share: of the photo's area, 0 to 1.
        x_px: a place in the upright photo that shows it well.
        y_px: as *x_px*, downwards.
        is_accent: whether it is a small vivid one, rather than one of the largest.
        hex: nearest colour that a screen shows.
        mapped: whether *hex* had to differ from *lab* for lack of range.
        words: the colour in plain words.
    """

    lab: Floats
    share: float
    x_px: int
    y_px: int
    is_accent: bool
    hex: str
    mapped: bool
    words: str


@dataclass(frozen=True, eq=False)
class MainColours:
    """The main colours of a photo, largest first, then its accents.

    Attributes:
        picture: name of the file.
        width_px: of the upright photo.
        height_px: likewise.
        colours: what was found.
        rest: share of the area that is nearer to none of them than they are to each other.
        balance: a sentence on the white balance.
        notes: further plain sentences, the reader's own among them.
        spot_px: (x, y) of the grey or white spot that was used, or None.
        spot_lab: what the photo shows there before balancing, or None.
        balancing: shape (3, 3), XYZ of the photo (as a column) to XYZ as balanced.
    """

    picture: str
    width_px: int
    height_px: int
    colours: tuple[MainColour, ...]
    rest: float
    balance: str
    notes: tuple[str, ...] = ()
    spot_px: tuple[int, int] | None = None
    spot_lab: Floats | None = None
    balancing: Floats = field(default_factory=lambda: np.eye(3), repr=False)


def find_main_colours(
    picture: Picture,
    *,
    count: int = 6,
    accents: int = 3,
    grey_point: tuple[float, float] | None = None,
    white_point: tuple[float, float] | None = None,
) -> MainColours:
    """Find the colours that make up a photo.

    Args:
        picture: the photo, as ``picture.read_picture`` gives it.
        count: most main colours wanted, 1 to :data:`MAX_MAIN`; fewer are found where the photo has fewer.
        accents: most small vivid colours wanted besides, 0 to :data:`MAX_ACCENTS`.
        grey_point: (x, y), pixels of the upright photo, of a spot that is neutral grey in truth; the photo's
            tint is taken off, its lightness stays.
        white_point: likewise of a spot that is white card or paper; the photo's tint is taken off, and its
            lightness is set so that this spot has L* 95.

    Returns: the colours, with a sentence on what was done about the white.
    Raises: PictureError for a count out of range, a spot outside the photo, overexposed, black, or too
        strongly coloured to be grey or white, or both spots at once.
    """
    _check_counts(count, accents)
    view = view_photo(picture)
    balancing, balance, spot, spot_lab = _balance(picture, grey_point, white_point)
    lab = np.asarray(xyz1_to_lab(view.linear @ picture.encoding.matrix.T @ balancing.T))
    beyond = float(np.mean(lab[..., 0] > 100.0))
    lab[..., 0] = np.minimum(lab[..., 0], 100.0)
    even = _even_places(lab) | _vivid_lines(lab)
    groups, weights = _groups(lab[even])
    labs, places, chosen_accents, rest = _choose(lab, even, groups, weights, count, accents)
    colours = []
    for index, (colour, (share, row, column)) in enumerate(zip(labs, places, strict=True)):
        shown = lab_to_display(colour)
        x, y = int(view.x_px[row, column]), int(view.y_px[row, column])
        accent = index in chosen_accents
        words = describe_colour(colour)
        colours.append(MainColour(colour, share, x, y, accent, shown.hex, shown.mapped, words))
    return MainColours(
        picture.name,
        picture.width_px,
        picture.height_px,
        tuple(colours),
        rest,
        balance,
        tuple(note for note in (*picture.notes, view.note, _brighter_words(beyond)) if note),
        spot,
        spot_lab,
        balancing,
    )


def shown_photo(picture: Picture, found: MainColours, longest_px: int = 1400) -> NDArray[np.uint8]:
    """Give a photo as balanced, small enough to be shown, as sRGB, shape (height, width, 3), uint8.

    Colours outside sRGB are clipped.
    """
    block = max(1, round(max(picture.height_px, picture.width_px) / longest_px))
    block = min(block, picture.height_px, picture.width_px)
    linear = averaged(picture.pixels, picture.encoding.curves, block)
    to_srgb = np.linalg.inv(srgb_encoding().matrix) @ found.balancing @ picture.encoding.matrix
    srgb1 = np.asarray(linear_to_srgb1(np.clip(linear @ to_srgb.T, 0.0, 1.0)))
    return np.asarray(np.rint(255.0 * srgb1), dtype=np.uint8)


def _brighter_words(share: float) -> str:
    """What is brighter than the white spot allows is white: threads and gloss throw back more than card."""
    if share <= 0.0:
        return ""
    part = f"{100 * share:.0f} %" if share >= 0.005 else "A little"
    return (
        f"{part} of the photo is brighter than the white card, as threads and gloss are; it counts as white."
    )


def _check_counts(count: int, accents: int) -> None:
    problems = []
    if not 1 <= count <= MAX_MAIN:
        problems.append(Problem("count", str(count), f"1 to {MAX_MAIN}"))
    if not 0 <= accents <= MAX_ACCENTS:
        problems.append(Problem("accents", str(accents), f"0 to {MAX_ACCENTS}"))
    if problems:
        raise PictureError("That many colours can't be looked for.", problems)


# --- white balance ---------------------------------------------------------------------------------------


def _balance(
    picture: Picture, grey_point: tuple[float, float] | None, white_point: tuple[float, float] | None
) -> tuple[Floats, str, tuple[int, int] | None, Floats | None]:
    """What takes the spot's tint off (Bradford), shape (3, 3); what is done; and what the spot looks like."""
    if grey_point is not None and white_point is not None:
        raise PictureError(
            "One spot is enough.", [Problem("white balance", "a grey and a white spot", "one of them")]
        )
    point = grey_point if grey_point is not None else white_point
    if point is None:
        sentence = "Not balanced: the colours are as the camera gave them, its tint and exposure included."
        return np.eye(3), sentence, None, None
    word = "grey" if grey_point is not None else "white"
    spot = _spot(picture, point, word)
    spot_lab = np.asarray(xyz1_to_lab(spot))
    balancing = adapt_xyz1(np.eye(3), spot / spot[1], WHITE_D50).T
    place = (round(point[0]), round(point[1]))
    tint = float(delta_e_2000([spot_lab[0], 0.0, 0.0], spot_lab))
    strength = next(words for limit, words in _TINTS if tint < limit)
    sentence = f"Balanced on the {word} spot at {place[0]}, {place[1]}: {strength} was taken off"
    if white_point is not None:
        scale = float(lab_to_xyz1([_WHITE_LAB, 0.0, 0.0])[1] / spot[1])
        balancing = balancing * scale
        sentence += ", and the light was set so that the spot is white card"
    sentence += "."
    if tint >= _TINTS[-2][0]:
        sentence += f" That is much, even for a warm lamp: is the spot truly {word}?"
    return balancing, sentence, place, spot_lab


def _spot(picture: Picture, point: tuple[float, float], word: str) -> Floats:
    """Mean XYZ around a spot; refused where it can't tell the light's colour."""
    x, y = point
    where = f"the {word} spot at {x:g}, {y:g}"
    width, height = picture.width_px, picture.height_px
    if not (np.isfinite(x) and np.isfinite(y) and 0 <= x < width and 0 <= y < height):
        accepted = f"x from 0 to {width - 1}, y from 0 to {height - 1}"
        raise PictureError("The spot lies outside the photo.", [Problem(where, f"{x:g}, {y:g}", accepted)])
    reach = max(2, round(min(width, height) / 150))
    rows = slice(max(0, int(y) - reach), int(y) + reach + 1)
    columns = slice(max(0, int(x) - reach), int(x) + reach + 1)
    codes = picture.pixels[rows, columns]
    full = np.iinfo(codes.dtype).max
    if float(np.mean(np.any(codes >= full - full // 128, axis=-1))) > 0.05:
        problem = Problem(
            where, "overexposed: at least one channel is at its limit", "a spot that shows detail"
        )
        raise PictureError(f"The {word} spot is too bright to tell its colour.", [problem])
    spot = picture.encoding.to_xyz1_d50(codes).reshape(-1, 3).mean(axis=0)
    lab = np.asarray(xyz1_to_lab(spot))
    least = 25.0 if word == "grey" else 45.0
    if lab[0] < least:
        problem = Problem(where, f"L* {lab[0]:.0f}", f"a spot of L* {least:.0f} or more")
        raise PictureError(f"The {word} spot is too dark to tell the light's colour.", [problem])
    chroma, hue = float(np.hypot(lab[1], lab[2])), float(np.degrees(np.arctan2(lab[2], lab[1])) % 360.0)
    light = any(low <= hue <= high for low, high in _LIGHT_HUES_DEG)
    if chroma > (_TINT_OF_LIGHT if light else _TINT_OTHER):
        accepted = f"a spot that is truly {word}: no light tints it as strongly as that"
        problem = Problem(where, describe_colour(lab), accepted)
        raise PictureError(f"The {word} spot is too strongly coloured to be {word}.", [problem])
    return np.asarray(spot, dtype=np.float64)


# --- grouping --------------------------------------------------------------------------------------------


def _even_places(lab: Floats) -> NDArray[np.bool_]:
    """Where a photo is of one colour around: edges, which mix two colours, are left out. Shape (rows, columns)."""
    from scipy.ndimage import gaussian_filter, maximum_filter, minimum_filter

    squared: Floats = np.zeros(lab.shape[:2])
    for channel, weight in enumerate((_LIGHTNESS, 1.0, 1.0)):
        smooth = gaussian_filter(weight * lab[..., channel], 1.0)
        squared = squared + (maximum_filter(smooth, 3) - minimum_filter(smooth, 3)) ** 2
    limit = max(5.0**2, float(np.quantile(squared, 0.35)))
    return np.asarray(squared <= limit)


def _vivid_lines(lab: Floats) -> NDArray[np.bool_]:
    """Where a photo is more vivid than all around: thin lines, which are nowhere even. Shape (rows, columns).

    An edge mixes two colours, and a mixture is never more vivid than both.
    """
    from scipy.ndimage import maximum_filter

    chroma = np.hypot(lab[..., 1], lab[..., 2])
    return np.asarray((chroma >= _ACCENT_CHROMA) & (chroma >= maximum_filter(chroma, 5) - _RIDGE))


def _weighed(lab: Floats) -> Floats:
    return np.asarray(lab * np.array([_LIGHTNESS, 1.0, 1.0]), dtype=np.float64)


def _seeds(points: Floats) -> Floats:
    """Starting points: the fullest cells of a grid over the colours, far ones first among the small."""
    cells = np.round(points / 6.0).astype(np.int64)
    cells -= cells.min(axis=0)
    keys = np.ravel_multi_index(tuple(cells.T), tuple(cells.max(axis=0) + 1))
    _, inverse, counts = np.unique(keys, return_inverse=True, return_counts=True)
    means = np.stack([np.bincount(inverse, points[:, i]) for i in range(3)], axis=1) / counts[:, None]
    chosen = [int(np.argmax(counts))]
    away = np.linalg.norm(means - means[chosen[0]], axis=1)
    while len(chosen) < min(_SEEDS, len(means)):
        score = np.sqrt(counts) * np.minimum(away, 40.0)
        best = int(np.argmax(score))
        if away[best] <= 0:
            break
        chosen.append(best)
        away = np.minimum(away, np.linalg.norm(means - means[best], axis=1))
    return np.asarray(means[chosen])


def _groups(points_lab: Floats) -> tuple[Floats, Floats]:
    """Group colours: k-means from deterministic seeds, then joined while two are nearly alike.

    Returns: Lab of each group, shape (n, 3), and its share of *points_lab*, largest first.
    """
    from scipy.cluster.vq import kmeans2, vq

    points = _weighed(points_lab)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # an empty group keeps its seed, which the shares below show
        some = points[:: max(1, len(points) // _GROUPED)]
        centres, _ = kmeans2(some, _seeds(points), iter=12, minit="matrix", missing="warn")
    centres = centres[np.all(np.isfinite(centres), axis=1)]
    labels, _ = vq(points, centres)
    weights = np.bincount(labels, minlength=len(centres)) / len(points)
    medians = [np.median(points_lab[labels == i], axis=0) for i in range(len(centres)) if weights[i] > 0]
    return _joined(np.array(medians), weights[weights > 0])


def _step(reference: Floats, sample: Floats) -> Floats:
    """Difference of colours with lightness weighed down."""
    one, two = (np.array(lab) for lab in np.broadcast_arrays(reference, sample))
    middle, half = (one[..., 0] + two[..., 0]) / 2, (one[..., 0] - two[..., 0]) / 2
    one[..., 0], two[..., 0] = middle + _LIGHTNESS * half, middle - _LIGHTNESS * half
    return np.asarray(delta_e_2000(one, two))


def _joined(labs: Floats, weights: Floats) -> tuple[Floats, Floats]:
    """Join the two nearest groups, weighted by area, until all are further apart than the limit."""
    labs, weights = labs.copy(), weights.copy()
    while len(labs) > 1:
        steps = _step(labs[:, None], labs[None])
        np.fill_diagonal(steps, np.inf)
        i, j = divmod(int(np.argmin(steps)), len(labs))
        if steps[i, j] > _JOIN:
            break
        both = weights[i] + weights[j]
        labs[i] = (labs[i] * weights[i] + labs[j] * weights[j]) / both
        weights[i] = both
        labs, weights = np.delete(labs, j, axis=0), np.delete(weights, j)
    order = np.argsort(-weights, kind="stable")
    return labs[order], weights[order]


# --- choosing --------------------------------------------------------------------------------------------


def _choose(
    lab: Floats, even: NDArray[np.bool_], groups: Floats, weights: Floats, count: int, accents: int
) -> tuple[Floats, list[tuple[float, int, int]], set[int], float]:
    """Main colours by area, accents by vividness; each with its share, and a place that shows it."""
    from scipy.cluster.vq import vq

    kinds = vq(_weighed(lab.reshape(-1, 3)), _weighed(groups))[0].reshape(even.shape)
    areas = np.bincount(kinds.ravel(), minlength=len(groups)) / kinds.size
    certain = np.bincount(kinds[even], minlength=len(groups))
    main = [i for i in range(len(groups)) if weights[i] >= _LEAST_MAIN][:count] or [0]
    small = [i for i in range(len(groups)) if i not in main]
    chosen = list(main)
    vivid: list[int] = []
    for i in sorted(small, key=lambda i: -_vividness(groups[i], groups[main])):
        if len(vivid) == accents:
            break
        chroma = float(np.hypot(groups[i, 1], groups[i, 2]))
        apart = float(np.min(delta_e_2000(groups[chosen], groups[i])))
        seen = areas[i] >= _LEAST_ACCENT and certain[i] >= _CERTAIN
        if seen and chroma >= _ACCENT_CHROMA and apart >= _ACCENT_APART:
            chosen.append(i)
            vivid.append(i)
    labs, places, kept = [], [], []
    for i in chosen:
        mine = kinds == i
        inside = mine & even
        if not inside.any():
            continue
        colour = np.median(lab[inside], axis=0)
        labs.append(colour)
        row, column = _place(lab, inside, colour)
        places.append((float(mine.mean()), row, column))
        kept.append(i)
    rest = max(0.0, 1.0 - sum(place[0] for place in places))
    first = sorted((n for n, i in enumerate(kept) if i in main), key=lambda n: -places[n][0])
    then = sorted((n for n, i in enumerate(kept) if i not in main), key=lambda n: -places[n][0])
    order = first + then
    marked = set(range(len(first), len(order)))
    return np.array([labs[n] for n in order]), [places[n] for n in order], marked, rest


def _vividness(lab: Floats, others: Floats) -> float:
    """How much a colour strikes: its chroma and its distance from the others, together."""
    return float(np.hypot(lab[1], lab[2]) + np.min(delta_e_2000(others, lab)))


def _place(lab: Floats, inside: NDArray[np.bool_], colour: Floats) -> tuple[int, int]:
    """Row and column, well inside a field of the colour, where the photo shows it most truly."""
    from scipy.ndimage import distance_transform_edt

    true = inside & (np.linalg.norm(lab - colour, axis=-1) <= 4.0)
    if not true.any():
        nearest = np.where(inside, np.linalg.norm(lab - colour, axis=-1), np.inf)
        row, column = np.unravel_index(int(np.argmin(nearest)), nearest.shape)
        return int(row), int(column)
    padded: Any = distance_transform_edt(np.pad(true, 1))
    depth = np.asarray(padded)[1:-1, 1:-1]
    row, column = np.unravel_index(int(np.argmax(depth)), depth.shape)
    return int(row), int(column)


_PIXELS = 120_000
"""Pixels that the photo is averaged down to, at most."""

_TILE = 48
_SPREAD = 0.07
_DETAILED = 0.3
"""A photo is finely patterned where more than this share of its blocks vary by more than *_SPREAD* (standard
deviation of the codes, 0 to 1); it is then looked at in tiles of *_TILE* smaller blocks a side."""


def averaged(codes: NDArray[Any], curves: Floats, block: int) -> Floats:
    """Linear RGB of codes (height, width, 3) averaged over square blocks, shape (rows, columns, 3).

    What is left over at the right and lower edge, less than a block, is not looked at.
    """
    rows, columns = codes.shape[0] // block, codes.shape[1] // block
    light = curves.astype(np.float32)
    averaged = np.empty((rows, columns, 3))
    strip = max(1, 400_000 // (block * codes.shape[1]))
    for top in range(0, rows, strip):
        bottom = min(rows, top + strip)
        part = codes[top * block : bottom * block, : columns * block]
        for channel in range(3):
            blocks = light[channel][part[..., channel]].reshape(bottom - top, block, columns, block)
            averaged[top:bottom, :, channel] = blocks.mean(axis=(1, 3), dtype=np.float64)
    return averaged


def _block_px(picture: Picture, pixels: int) -> int:
    """Side of the blocks that bring a picture down to about *pixels*."""
    block = int(np.ceil(np.sqrt(picture.height_px * picture.width_px / pixels)))
    return min(max(1, block), picture.height_px, picture.width_px)


@dataclass(frozen=True, eq=False)
class View:
    """What is looked at: linear RGB (rows, columns, 3), where each place lies in the photo, and a note."""

    linear: Floats
    x_px: NDArray[np.int64]
    y_px: NDArray[np.int64]
    note: str = ""


def view_photo(picture: Picture) -> View:
    """Look at the whole photo in blocks; at a finely patterned one, closely in tiles spread over it.

    Blocks would mix the colours of a pattern that is finer than they are.
    """
    block = _block_px(picture, _PIXELS)
    curves = picture.encoding.curves
    if block < 2 or _detailed_share(picture, block) <= _DETAILED:
        linear = averaged(picture.pixels, curves, block)
        y, x = np.mgrid[0 : linear.shape[0], 0 : linear.shape[1]] * block + block // 2
        return View(linear, x, y)
    fine = max(1, block // 4)
    side = _TILE * fine
    height, width = picture.height_px, picture.width_px
    down = min(max(1, round(np.sqrt(_PIXELS / _TILE**2 * height / width))), height // side)
    across = min(max(1, round(_PIXELS / _TILE**2 / down)), width // side)
    if down < 1 or across < 1:
        return View(*_tile(picture, 0, 0, height, width, fine))
    tops = np.linspace(0, height - side, down + 2)[1:-1].astype(int)
    lefts = np.linspace(0, width - side, across + 2)[1:-1].astype(int)
    bands = [[_tile(picture, top, left, side, side, fine) for left in lefts] for top in tops]
    linear, x, y = (
        np.concatenate([np.concatenate([tile[part] for tile in band], axis=1) for band in bands])
        for part in range(3)
    )
    note = (
        f"The photo is finely patterned, so it was looked at closely in {down * across} places spread over it; "
        "a small spot between them may be missed."
    )
    return View(linear, x, y, note)


def _tile(
    picture: Picture, top: int, left: int, height: int, width: int, block: int
) -> tuple[Floats, NDArray[np.int64], NDArray[np.int64]]:
    """Linear RGB of a part of the photo in small blocks, and the x and y of each block."""
    codes = picture.pixels[top : top + height, left : left + width]
    linear = averaged(codes, picture.encoding.curves, block)
    y, x = np.mgrid[0 : linear.shape[0], 0 : linear.shape[1]] * block + block // 2
    return linear, x + left, y + top


def _detailed_share(picture: Picture, block: int) -> float:
    """Share of the blocks within which the photo varies much, judged on every fourth row of blocks."""
    rows, columns = picture.height_px // block, picture.width_px // block
    full = np.iinfo(picture.pixels.dtype).max
    detailed = counted = 0
    for row in range(rows // 8 % 4, rows, 4):
        codes = picture.pixels[row * block : (row + 1) * block, : columns * block]
        blocks = codes.reshape(block, columns, block, 3).astype(np.float32) / full
        spread = blocks.std(axis=(0, 2)).max(axis=-1)
        detailed += int(np.count_nonzero(spread > _SPREAD))
        counted += columns
    return detailed / max(1, counted)
