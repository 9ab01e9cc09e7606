"""Fit the ink model to the user's own markers on the user's own paper, and say whether that helps.

What is measured of one coat predicts two and three coats, and one marker over another; the constants are
fitted so that these predictions meet what was measured of them. Whether that helps is judged on markers that
the fit hasn't seen: each is left out in turn, and its stacks are predicted by constants fitted to the rest.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from blendkit.advice.ink_fit import FITTED, InkFit, Stack, helps_unseen, leave_markers_out, predict_stacks
from blendkit.colour import delta_e_2000
from blendkit.errors import PaletteError, Problem
from blendkit.files import read_whole
from blendkit.ink import DEFAULT_MODEL, MODEL_BOUNDS, InkModel
from blendkit.inked import Swatch, choose_paper, measured_or_estimated, swatch_of
from blendkit.palette import Marker, Palette, Paper, Reading, name_key, reading_from_hex, readings_from_labs
from blendkit.palette.calibration_file import Residual, StoredCalibration
from blendkit.palette.readings import HEX_ACCEPTED, given_hex, lab_fault
from blendkit.palette.table import column_key, decode_sheet, parse_number
from blendkit.words import count_of, verdict_of

Floats = NDArray[np.float64]

FEWEST_STACKS: Final = 6
"""Measured stacks below which nothing is fitted."""
FEWEST_MARKERS: Final = 3
"""Markers below which nothing is fitted: one is left out, and one alone says little of the others."""

_MEANING: Final = {
    "internal_reflection": "share of the light inside that the surface throws back",
    "surface_share": "how much of a swatch's darkest light is shine of the surface, not dye",
    "surface_limit": "most light that the surface reflects",
    "let_through": "light that even the fullest ink lets through",
    "transfer": "what a later coat adds, as a share of the first",
}


@dataclass(frozen=True, slots=True)
class Constant:
    """A constant of the ink model, before and after.

    Args:
        name: a field of ``ink.InkModel``.
        meaning: in words.
        before: the usual value.
        after: the value for this paper.
        low: least sensible value.
        high: largest sensible value.
        fitted: whether the fit may move it.
    """

    name: str
    meaning: str
    before: float
    after: float
    low: float
    high: float
    fitted: bool


@dataclass(frozen=True, slots=True)
class StackCheck:
    """One measured stack, and what is predicted of it.

    Args:
        name: such as “lantern glow dawn × 2” or “A over B”.
        kind: "coats" or "overlap".
        markers: first laid first.
        measured: the colour.
        before: predicted with the usual constants.
        after: predicted with the fitted ones.
        delta_e_before: CIEDE2000 of *before* from *measured*.
        delta_e_after: the same of *after*.
        delta_e_left_out: the same with constants fitted without the stack's markers, mean over them.
    """

    name: str
    kind: Literal["coats", "overlap"]
    markers: tuple[str, ...]
    measured: Swatch
    before: Swatch
    after: Swatch
    delta_e_before: float
    delta_e_after: float
    delta_e_left_out: float


@dataclass(frozen=True)
class Calibration:
    """Answer to “do other ink constants suit my paper better?”

    Args:
        on: the paper.
        verdict: "helps", "no help", or "too few" when nothing was fitted.
        keep: whether to store it: it helps, or was asked for all the same.
        date: as it was stated.
        observations: measured stacks that were found.
        markers: markers that they are made of.
        constants: all of the model's, the fitted ones first.
        before: residual under the usual constants; None when nothing was fitted.
        after: residual under the fitted ones.
        left_out: residual of each marker's stacks under constants fitted without it.
        stacks: every stack, in the drawer's order, overlaps last.
        words: what to know, and what to do.
        fits: False when nothing was fitted.
        model: the fitted constants, or the usual ones.
    """

    on: str
    verdict: Literal["helps", "no help", "too few"]
    keep: bool
    date: str
    observations: int
    markers: int
    constants: tuple[Constant, ...]
    before: Residual | None
    after: Residual | None
    left_out: Residual | None
    stacks: tuple[StackCheck, ...]
    words: tuple[str, ...]
    fits: bool
    model: InkModel = field(repr=False)

    @property
    def plain_words(self) -> tuple[str, ...]:
        """The outcome without figures: how far off coats and stacks are told, and whether to keep the fit."""
        if self.before is None or self.after is None or self.left_out is None:
            return self.words
        until, fitted, unseen = (
            verdict_of(one.median).words for one in (self.before, self.after, self.left_out)
        )
        told = (
            f"{count_of(len(self.stacks), 'stack')} of {count_of(self.markers, 'marker')} on {self.on}. Told as "
            f"until now, of most of them {until}; told by the fit, {fitted}.",
            f"Of markers that the fit has not seen: {unseen}.",
            {
                "helps": "So the fit helps, with your other markers too: keep it.",
                "no help": "So the fit doesn't help with other markers: the usual way is better.",
                "too few": "",
            }[self.verdict],
        )
        return tuple(words for words in told if words)

    @property
    def stored(self) -> StoredCalibration:
        """What ``calibration_file.store_calibration`` keeps of it."""
        return StoredCalibration(
            self.on,
            self.model,
            self.date,
            self.observations,
            self.markers,
            self.before,
            self.after,
            self.left_out,
        )


OVERLAP_COLUMNS = ("under", "over", "L", "a", "b", "hex")
"""Columns of a table of overlaps; a row has L, a and b (D50, 2 degree) or hex."""

_MAX_MB = 4
"""Largest table of overlaps that is read. Own judgement."""


@dataclass(frozen=True)
class Overlap:
    """The colour where one coat of a marker lies over one coat of another, which was dry.

    Args:
        under: name of the marker that was laid first.
        over: name of the marker that was laid on it.
        reading: the colour.
        where: where it stands, for messages; "" when nobody needs to know.
    """

    under: str
    over: str
    reading: Reading
    where: str = ""


def read_overlaps(path: Path, names: Iterable[str]) -> tuple[Overlap, ...]:
    """Read a CSV table of measured overlaps.

    Args:
        path: a file with the columns under, over and L, a, b, or hex; others are passed over.
        names: the markers that the palette knows.

    Returns: one entry a row, in the file's order.
    Raises: PaletteError with every fault of every row, each with its line.
    """
    sheet = decode_sheet(
        read_whole(path, _MAX_MB * 1_000_000, f"a CSV table of at most {_MAX_MB} MB"), path.name
    )
    keys = {column_key(text): place for place, text in reversed(list(enumerate(sheet.header)))}
    missing = [column for column in ("under", "over") if column not in keys]
    if missing or not ({"l", "a", "b"} <= keys.keys() or "hex" in keys):
        found = ", ".join(text.strip() for text in sheet.header)
        accepted = "under, over, L, a, b; or under, over, hex"
        raise PaletteError(
            f"{path.name} is no table of overlaps.", [Problem(f"{path.name}, header line", found, accepted)]
        )
    known = {name_key(name): name for name in names}
    problems: list[Problem] = []
    overlaps: list[Overlap] = []
    for index, row in enumerate(sheet.rows):
        cells = {key: row[place].strip() if place < len(row) else "" for key, place in keys.items()}
        if not any(cells.values()):
            continue
        overlap = _overlap(cells, known, f"{path.name}, line {sheet.line(index)}", problems)
        if overlap is not None:
            overlaps.append(overlap)
    if problems:
        raise PaletteError(f"{path.name} has rows that can't be used.", problems)
    return tuple(overlaps)


def _overlap(
    cells: dict[str, str], known: dict[str, str], where: str, problems: list[Problem]
) -> Overlap | None:
    """Check one row; what is wrong with it goes to *problems*."""
    before = len(problems)
    names = {}
    for column in ("under", "over"):
        name = known.get(name_key(cells[column]))
        if name is None:
            from blendkit.palette.records import nearest_names

            near = "; ".join(nearest_names(cells[column], list(known.values()), 3))
            problems.append(Problem(f"{where}, {column}", repr(cells[column]), f"a marker: {near}"))
        else:
            names[column] = name
    reading = _reading(cells, where, problems)
    if len(problems) > before or reading is None:
        return None
    return Overlap(names["under"], names["over"], reading, where)


def _reading(cells: dict[str, str], where: str, problems: list[Problem]) -> Reading | None:
    texts = {letter: cells.get(letter.lower(), "") for letter in "Lab"}
    if not any(texts.values()):
        text = cells.get("hex", "")
        if given_hex(text) is None:
            problems.append(Problem(f"{where}, hex", repr(text), f"L, a and b, or {HEX_ACCEPTED}"))
            return None
        return reading_from_hex(text)
    lab = []
    for letter, text in texts.items():
        value = parse_number(text)
        fault = "a number" if value is None else lab_fault(letter, value)
        if value is None or fault:
            problems.append(Problem(f"{where}, {letter}", repr(text), fault))
        else:
            lab.append(value)
    return readings_from_labs([lab])[0] if len(lab) == 3 else None


@dataclass(frozen=True)
class _Measured:
    """The stacks that were measured on the paper: names, kinds and rows of *markers*, with their Lab."""

    markers: list[Marker]
    names: list[str]
    kinds: list[Literal["coats", "overlap"]]
    stacks: list[Stack]
    labs: list[Floats]

    @property
    def used(self) -> list[int]:
        """Rows of the markers that any stack is made of."""
        return sorted({row for stack in self.stacks for row in stack})


def calibrate_ink(
    palette: Palette,
    *,
    on: str | None = None,
    overlaps: Sequence[Overlap] = (),
    force: bool = False,
    date: str = "",
) -> Calibration:
    """Fit the ink model's constants to measured stacks on one paper. Nothing is written.

    The stacks are the second and third coats in the palette, of markers whose swatches lie on that paper, and
    the overlaps that are given. Pearl, glitter and foil are passed over: one Lab can't tell their colour.

    Args:
        palette: the drawer.
        on: the paper; None for the one that most swatches lie on.
        overlaps: measured overlaps on that paper.
        force: keep the fit though it doesn't help with markers it hasn't seen.
        date: when it was made, to be stored with it.

    Returns: constants, residuals and every stack; ``verdict`` "too few" when there is too little to fit.
    Raises: PaletteError for an unknown paper, or an overlap of markers that weren't measured on it.
    """
    paper = choose_paper(palette, on)
    measured = _measured(palette, paper, overlaps)
    used = measured.used
    if len(measured.stacks) < FEWEST_STACKS or len(used) < FEWEST_MARKERS:
        return _too_few(paper, measured, date)
    swatches = [marker.readings[0][1] for marker in measured.markers]
    paper_reflectance = measured_or_estimated([paper.reading])[0]
    labs = np.stack(measured.labs)
    fit = InkFit.of(paper_reflectance, swatches, measured.stacks, labs)
    model = fit.model()
    before_labs = predict_stacks(paper_reflectance, swatches, measured.stacks)
    after_labs = predict_stacks(paper_reflectance, swatches, measured.stacks, model)
    before, after = delta_e_2000(labs, before_labs), delta_e_2000(labs, after_labs)

    unseen = leave_markers_out(fit, paper_reflectance, swatches, measured.stacks, labs)
    left_out = np.nanmean(unseen, axis=0)
    helps = helps_unseen(before, unseen)
    checks = tuple(
        StackCheck(
            name=name,
            kind=kind,
            markers=tuple(measured.markers[row].name for row in stack),
            measured=swatch_of(name, labs[place]),
            before=swatch_of(f"{name}, usual constants", before_labs[place]),
            after=swatch_of(f"{name}, fitted constants", after_labs[place]),
            delta_e_before=float(before[place]),
            delta_e_after=float(after[place]),
            delta_e_left_out=float(left_out[place]),
        )
        for place, (name, kind, stack) in enumerate(
            zip(measured.names, measured.kinds, measured.stacks, strict=True)
        )
    )
    residuals = (_residual(before), _residual(after), _residual(left_out))
    return Calibration(
        on=paper.name,
        verdict="helps" if helps else "no help",
        keep=helps or force,
        date=date,
        observations=len(checks),
        markers=len(used),
        constants=_constants(model),
        before=residuals[0],
        after=residuals[1],
        left_out=residuals[2],
        stacks=checks,
        words=_words(paper, checks, len(used), model, residuals, helps, force),
        fits=True,
        model=model,
    )


def _measured(palette: Palette, paper: Paper, overlaps: Sequence[Overlap]) -> _Measured:
    usual = name_key(choose_paper(palette, None).name)
    here = name_key(paper.name)
    markers = [
        marker for marker in palette.markers if (name_key(marker.on) or usual) == here and not marker.rough
    ]
    found = _Measured(markers, [], [], [], [])
    for row, marker in enumerate(markers):
        for coats, reading in marker.readings:
            if coats > 1:
                found.names.append(f"{marker.name} × {coats}")
                found.kinds.append("coats")
                found.stacks.append((row,) * coats)
                found.labs.append(reading.lab)
    rows = {name_key(marker.name): row for row, marker in enumerate(markers)}
    problems = []
    for overlap in overlaps:
        pair = [palette.marker(name) for name in (overlap.under, overlap.over)]
        if any(marker.rough for marker in pair):
            continue
        for marker in pair:
            if name_key(marker.name) not in rows:
                where = overlap.where or f"{overlap.over} over {overlap.under}"
                lies = f"{marker.name!r}, whose swatch lies on {marker.on or 'no stated paper'}"
                problems.append(Problem(where, lies, f"a marker measured on {paper.name}"))
        if not problems:
            under, over = (rows[name_key(marker.name)] for marker in pair)
            found.names.append(f"{pair[1].name} over {pair[0].name}")
            found.kinds.append("overlap")
            found.stacks.append((under, over))
            found.labs.append(overlap.reading.lab)
    if problems:
        raise PaletteError("Some overlaps are of markers that were measured on another paper.", problems)
    return found


def _residual(errors: Floats) -> Residual:
    return Residual(float(np.median(errors)), float(errors.mean()), float(errors.max()))


def _constants(model: InkModel) -> tuple[Constant, ...]:
    names = (*FITTED, *(name for name in MODEL_BOUNDS if name not in FITTED))
    return tuple(
        Constant(
            name,
            _MEANING[name],
            getattr(DEFAULT_MODEL, name),
            getattr(model, name),
            *MODEL_BOUNDS[name],
            name in FITTED,
        )
        for name in names
    )


def _too_few(paper: Paper, measured: _Measured, date: str) -> Calibration:
    count, used = len(measured.stacks), len(measured.used)
    words: tuple[str, ...] = (
        f"Nothing was fitted: {count} measured stack{'s' if count != 1 else ''} of {used} "
        f"marker{'s' if used != 1 else ''} on {paper.name}; a fit needs at least {FEWEST_STACKS}, "
        f"of at least {FEWEST_MARKERS} markers. The usual constants stay.",
        "What is missing are second and third coats, or one marker over another. Print "
        f'blendkit chart --coats 3 --on "{paper.name}" on that paper and colour it, each coat dry before the '
        "next; read it back with blendkit scan PHOTO --into FILE, then calibrate again.",
        "Choose markers of several hues, light and dark; ten of them tell much more than three.",
    )
    if not measured.markers:
        words = (
            words[0],
            f"No marker's swatch lies on {paper.name}. A palette file holds each marker on one paper, so keep a "
            "file of its own for this paper: copy yours, and measure the markers anew on it, "
            "one coat to three.",
            *words[1:],
        )
    return Calibration(
        paper.name, "too few", False, date, count, used, _constants(DEFAULT_MODEL), None, None, None,
        (), words, False, DEFAULT_MODEL,
    )  # fmt: skip


def _words(
    paper: Paper,
    checks: Sequence[StackCheck],
    markers: int,
    model: InkModel,
    residuals: tuple[Residual, Residual, Residual],
    helps: bool,
    force: bool,
) -> tuple[str, ...]:
    before, after, left_out = residuals
    words = [
        f"On {len(checks)} stacks of {markers} markers on {paper.name} the usual constants are off by CIEDE2000 "
        f"{before.median:.1f} in the middle and {before.max:.1f} at most, the fitted ones by "
        f"{after.median:.1f} and {after.max:.1f}.",
        "Each marker left out in turn, and predicted from the rest: "
        f"{left_out.median:.1f} in the middle and {left_out.max:.1f} at most.",
    ]
    if helps:
        words.append("So the fit also helps with markers that it has not seen.")
    else:
        words.append(
            "So the fit does not help with markers that it has not seen; "
            + ("it is kept because you asked." if force else "the usual constants are the better choice.")
        )
    words.append(
        f"A later coat adds {model.transfer:.0%} of what the first adds; usually {DEFAULT_MODEL.transfer:.0%}."
    )
    for name in FITTED:
        low, high = MODEL_BOUNDS[name]
        value = getattr(model, name)
        if min(value - low, high - value) < 0.005:
            words.append(
                f"{name} went to the end of its range, {value:g}: the model doesn't tell this paper well, "
                "so trust predictions of coats less."
            )
    worst = max(checks, key=lambda check: check.delta_e_after)
    if worst.delta_e_after > max(3.0, 3 * after.median):
        words.append(
            f"Farthest off still is {worst.name}, by {worst.delta_e_after:.1f}: "
            "look at its box again, it may be a slip; else the model can't tell it."
        )
    return tuple(words)
