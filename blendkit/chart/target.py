"""A colour target laid beside the chart: its description file, and where it lies in a picture.

Any card of flat colour patches will do whose colours were measured. A small file describes it, UTF-8 JSON::

    {
      "format": "blendkit-target",       always this word
      "version": 1,
      "name": "my grey and colour card",
      "frame": "card",                   "card": the card lies anywhere beside the chart and is searched for;
                                         "page": places are millimetres of the chart's page, and may lie off it
      "patch_mm": [9, 9],                width and height of a patch
      "patches": [
        {"label": "A1", "centre_mm": [4.5, 4.5], "lab": [37.9, 13.6, 14.1]},
        {"label": "A2", "centre_mm": [15.5, 4.5], "reflectance": {"nm": [400, 410, ...], "values": [0.05, ...]}}
      ]
    }

Places are the patches' middles, x to the right and y down. Lab is CIELAB, D50, 2 degrees; reflectance is 0 to 1
at the wavelengths given. Six patches are needed, and a search needs ten that aren't alike.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Literal

import numpy as np
from numpy.typing import NDArray

from blendkit.chart.box_colour import PaperLight, measure_spots
from blendkit.chart.description import BoxSpec
from blendkit.chart.find_page import PageFit
from blendkit.colour import lab_to_xyz1
from blendkit.errors import BlendkitError, Problem, SheetError
from blendkit.files import read_json
from blendkit.forms import At, Numbers, Own, Record, Rows, Words, read_form
from blendkit.picture import Picture
from blendkit.spectrum import reflectance_to_lab, resample_reflectance

Floats = NDArray[np.float64]

MOST_BYTES = 4_000_000
"""Largest description that is read. Own judgement."""

_LEAST_PATCHES = 6
_LEAST_TO_SEARCH = 10
_LEAST_LIKENESS = 0.8
"""Correlation of what is seen with what is known below which the target counts as not found."""
_COARSE_MM, _COARSE_DEG = 4.0, 4.0
_STEPS = ((3.0, 0.05, 0.3), (1.5, 0.025, 0.3), (1.0, 0.012, 0.42), (0.5, 0.006, 0.44), (0.25, 0.003, 0.44))
"""Steps of the fine search: millimetres, radians, and how near to their edges patches are looked at."""
_READ_PART = 0.6
"""Part of a patch's side that is read, about its middle. Own judgement."""


@dataclass(frozen=True)
class TargetSpec:
    """A colour target: where its patches are and what colour they have.

    ``frame`` tells whether places are the card's own or the page's millimetres; ``centres_mm`` is (n, 2),
    ``lab`` (n, 3).
    """

    name: str
    frame: Literal["card", "page"]
    patch_mm: tuple[float, float]
    labels: tuple[str, ...]
    centres_mm: Floats
    lab: Floats


@dataclass(frozen=True)
class PlacedTarget:
    """A target found in a picture: its patches' light relative to the paper, (n, 3), and what they should be."""

    relative: Floats
    lab: Floats
    centres_mm: Floats
    notes: tuple[str, ...]


def _read_reflectance(value: Any, at: At) -> Any:
    """The Lab of a spectrum."""
    try:
        nm = np.array(value["nm"], dtype=np.float64)
        values = np.array(value["values"], dtype=np.float64)
        return np.asarray(reflectance_to_lab(resample_reflectance(nm, values)), dtype=np.float64)
    except (BlendkitError, KeyError, TypeError, ValueError) as error:
        words = str(error).splitlines()[0]
        return at.fault(words, "reflectance 0 to 1 at rising wavelengths", words=True)


def _check_patch(patch: "_Patch", given: Mapping[str, Any], at: At) -> None:
    if not {"lab", "reflectance"} & set(given):
        at.fault("no colour", '"lab": three numbers, or "reflectance": {"nm", "values"}', words=True)


@dataclass(frozen=True, slots=True)
class _Patch:
    """A patch as the file tells it; *reflectance* as Lab."""

    centre_mm: Annotated[tuple[float, float], Numbers(2, -1000, 2000)]
    label: Annotated[Any, Own(lambda value, at: value)] = None
    lab: Annotated[tuple[float, ...] | None, Numbers(3, -200, 200)] = None
    reflectance: Annotated[Floats | None, Own(_read_reflectance)] = None


@dataclass(frozen=True, slots=True)
class _Card:
    """A target as its file tells it."""

    patch_mm: Annotated[tuple[float, float], Numbers(2, 1, 200)]
    patches: Annotated[
        tuple[_Patch, ...], Rows(Record(_Patch, sense=_check_patch), most=10_000, row="patch", by="label")
    ]
    name: Annotated[str, Words()] = ""
    frame: Annotated[Literal["card", "page"], Words(("card", "page"))] = "card"


def read_target_file(path: Path) -> TargetSpec:
    """Read a target's description file.

    Raises: SheetError when it can't be opened or is not right; every bad patch is named.
    """
    data = read_json(path, MOST_BYTES, "a target's description file", SheetError)
    if not isinstance(data, dict) or data.get("format") != "blendkit-target" or data.get("version") != 1:
        raise SheetError(
            f'{path} is not a target\'s description file; it should open with "format": "blendkit-target", '
            '"version": 1'
        )
    problems: list[Problem] = []
    card = read_form(_Card, data, At(path.name, problems, strict=False))
    if not problems and len(card.patches) < _LEAST_PATCHES:
        problems.append(Problem("patches", str(len(card.patches)), f"{_LEAST_PATCHES} or more"))
    if problems:
        raise SheetError(f"{path} can't be used", problems)
    return TargetSpec(
        name=card.name or path.stem,
        frame=card.frame,
        patch_mm=card.patch_mm,
        labels=tuple(
            str(number if one.label is None else one.label) for number, one in enumerate(card.patches, 1)
        ),
        centres_mm=np.array([one.centre_mm for one in card.patches]),
        lab=np.array([one.reflectance if one.lab is None else one.lab for one in card.patches]),
    )


def find_target(picture: Picture, fit: PageFit, light: PaperLight | None, target: TargetSpec) -> PlacedTarget:
    """Find the target in a picture and measure its patches.

    The card lies on the same table as the page, so only its place and turn are unknown, not its size.

    Raises: SheetError when it can't be found, or reaches out of the picture.
    """
    expected = np.cbrt(np.maximum(lab_to_xyz1(target.lab) @ np.linalg.inv(picture.encoding.matrix).T, 0.0))
    middle = target.centres_mm.mean(axis=0)
    seen = _Seen(picture, fit, target.centres_mm - middle, expected, min(target.patch_mm))
    if target.frame == "page":
        places = seen.near(np.array([middle[0], middle[1], 0.0, 0.0]))
    else:
        if len(target.lab) < _LEAST_TO_SEARCH:
            raise SheetError(
                f"the target {target.name} has {len(target.lab)} patches, too few to search for; give their "
                'places on the page ("frame": "page") or use a card of ten or more'
            )
        places = seen.search()
    best, likeness = np.zeros(4), -1.0
    for start in places:
        place, score = seen.refine(start)
        if score > likeness:
            best, likeness = place, score
    if likeness < _LEAST_LIKENESS:
        raise SheetError(
            f"{picture.name}: the target {target.name} could not be found (likeness {likeness:.2f}, "
            f"{_LEAST_LIKENESS:.2f} needed). Lay it flat beside the page, wholly in the picture, without glare"
        )
    centres = seen.centres(best[None])[0]
    w, h = (side * _READ_PART for side in target.patch_mm)
    w = h = min(w, h)  # the card may be turned
    boxes = tuple(
        BoxSpec(label, "anchor", (), 1, None, float(x - w / 2), float(y - h / 2), w, h)
        for label, (x, y) in zip(target.labels, centres, strict=True)
    )
    colours = measure_spots(picture, fit, light, boxes, table=True)
    good = [
        index
        for index, colour in enumerate(colours)
        if not (
            colour.off_picture or colour.clipped or colour.under_exposed or float(colour.scatter.max()) > 0.3
        )
    ]
    notes = []
    if len(good) < _LEAST_PATCHES:
        raise SheetError(
            f"{picture.name}: only {len(good)} patches of the target {target.name} are well exposed and wholly "
            "in the picture; photograph again without glare"
        )
    if len(good) < len(colours):
        left = ", ".join(target.labels[i] for i in range(len(colours)) if i not in good)
        notes.append(f"patches of the target not used, since they are too dark, too bright or uneven: {left}")
    return PlacedTarget(
        relative=np.array([colours[index].relative for index in good]),
        lab=target.lab[good],
        centres_mm=centres,
        notes=tuple(notes),
    )


class _Seen:
    """The table about the page as cube roots of light, and how like the target any part of it looks."""

    def __init__(
        self, picture: Picture, fit: PageFit, offsets: Floats, expected: Floats, patch_mm: float
    ) -> None:
        self.picture, self.fit, self.offsets, self.patch_mm = picture, fit, offsets, patch_mm
        self.expected = expected - expected.mean(axis=0)
        self.expected_size = np.sqrt((self.expected**2).sum(axis=0))

    def centres(self, places: Floats) -> Floats:
        """Patch middles on the page's plane, (k, n, 2), of places (k, 4): x, y, turn (radians), log of size."""
        size = np.exp(places[:, 3])
        cosine, sine = size * np.cos(places[:, 2]), size * np.sin(places[:, 2])
        x = cosine[:, None] * self.offsets[:, 0] - sine[:, None] * self.offsets[:, 1]
        y = sine[:, None] * self.offsets[:, 0] + cosine[:, None] * self.offsets[:, 1]
        return np.stack([x + places[:, :1], y + places[:, 1:2]], axis=-1)

    def roots(self, mm: Floats) -> tuple[Floats, NDArray[np.bool_]]:
        """Cube roots of light at page millimetres (..., 2), and which of them lie in the picture."""
        px = np.rint(self.fit.map_table(mm)).astype(np.int64)
        inside = np.all((px >= 0) & (px < [self.picture.width_px, self.picture.height_px]), axis=-1)
        columns = np.clip(px[..., 0], 0, self.picture.width_px - 1)
        rows = np.clip(px[..., 1], 0, self.picture.height_px - 1)
        return np.cbrt(self.picture.to_linear(self.picture.pixels[rows, columns])), inside

    def score(self, places: Floats, part: float = 0.3) -> Floats:
        """Mean correlation of the three channels less unevenness within patches, of places (k, 4).

        Patches are looked at in their middles and *part* of their width towards each corner.
        """
        centres = self.centres(places)
        reach = part * self.patch_mm
        steps = np.array([[0, 0], [reach, reach], [-reach, reach], [reach, -reach], [-reach, -reach]])
        roots, inside = self.roots(centres[:, :, None, :] + steps)
        mean = roots.mean(axis=2)
        uneven = roots.std(axis=2).mean(axis=1)
        about = mean - mean.mean(axis=1, keepdims=True)
        size = np.sqrt((about**2).sum(axis=1))
        likeness = (about * self.expected).sum(axis=1) / np.maximum(size * self.expected_size, 1e-9)
        penalty = uneven / np.maximum(size / math.sqrt(len(self.offsets)), 1e-3)
        result = (likeness - 0.3 * penalty).mean(axis=1)
        return np.where(inside.all(axis=(1, 2)), result, -1.0)

    def search(self) -> list[Floats]:
        """Most promising places, by the light's correlation alone on a coarse raster."""
        reach = float(np.max(np.linalg.norm(self.offsets, axis=1))) * 2 + 60.0
        width, height = self.fit.page.size_mm
        xs = np.arange(-reach, width + reach, _COARSE_MM)
        ys = np.arange(-reach, height + reach, _COARSE_MM)
        grid = np.stack(np.meshgrid(xs, ys), axis=-1)
        roots, inside = self.roots(grid)
        plane = np.where(inside, roots[..., 1], np.nan)
        wanted = self.expected[:, 1] / self.expected_size[1]
        found: list[tuple[float, Floats]] = []
        for turn in np.deg2rad(np.arange(0, 360, _COARSE_DEG)):
            offsets = np.rint(self.centres(np.array([[0.0, 0.0, turn, 0.0]]))[0] / _COARSE_MM).astype(int)
            low, high = offsets.min(axis=0), offsets.max(axis=0)
            rows, columns = len(ys) - (high[1] - low[1]), len(xs) - (high[0] - low[0])
            if rows <= 0 or columns <= 0:
                continue
            total = np.zeros((rows, columns))
            square = np.zeros((rows, columns))
            product = np.zeros((rows, columns))
            for (dx, dy), weight in zip(offsets - low, wanted, strict=True):
                part = plane[dy : dy + rows, dx : dx + columns]
                total += part
                square += part * part
                product += weight * part
            size = np.sqrt(np.maximum(square - total**2 / len(offsets), 1e-9))
            score = np.where(np.isfinite(product), product / size, -1.0)
            for index in np.argsort(score, axis=None)[-3:]:
                row, column = divmod(int(index), columns)
                place = np.array([xs[column - low[0]], ys[row - low[1]], turn, 0.0])
                found.append((float(score[row, column]), place))
        found.sort(key=lambda pair: -pair[0])
        return [place for _, place in found[:24]]

    def near(self, place: Floats) -> list[Floats]:
        """Most promising places within 16 mm of one; a curled page tells its table's height but roughly."""
        steps = np.arange(-16.0, 17.0, 4.0)
        tries = np.array(
            [place + np.array([x, y, t, 0.0]) for x in steps for y in steps for t in (-0.05, 0.0, 0.05)]
        )
        return list(tries[np.argsort(-self.score(tries, 0.2))[:6]])

    def refine(self, start: Floats) -> tuple[Floats, float]:
        """Move and turn a place to where the likeness is greatest."""
        place = start.copy()
        best = -1.0
        for step_mm, step_rad, part in _STEPS:
            best = float(self.score(place[None], part)[0])
            for _ in range(5):
                moves = np.array(
                    [
                        [x * step_mm, y * step_mm, t * step_rad, 0.0]
                        for x in (-1, 0, 1)
                        for y in (-1, 0, 1)
                        for t in (-1, 0, 1)
                    ]
                    + [[0.0, 0.0, 0.0, -step_rad], [0.0, 0.0, 0.0, step_rad]]
                )
                scores = self.score(place + moves, part)
                winner = int(np.argmax(scores))
                if scores[winner] <= best + 1e-6:
                    break
                place, best = place + moves[winner], float(scores[winner])
        return place, best
