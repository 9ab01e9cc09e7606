"""What the tables of a CGATS.17 file mean as colours, and colours written as such a file."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blendkit.colour import WHITE_D50, delta_e_2000, lab_to_xyz1, xyz1_to_lab
from blendkit.errors import ColourError, Problem
from blendkit.exchange.cgats import CgatsTable, parse_tables
from blendkit.exchange.records import ExchangeColour, ExchangeFile, refused
from blendkit.spectrum import (
    LIGHTS,
    WAVELENGTHS_NM,
    reflectance_to_lab,
    resample_reflectance,
    white_xyz1,
)

Floats = NDArray[np.float64]

_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_BAND = re.compile(
    r"(?:SPECTRAL|SPEC|REFLECTANCE|REFL|R)?_?(NM|DEC|PCT)?_?(\d{3,4}(?:[.,]\d+)?)_?(?:NM)?", re.ASCII
)
_LIGHT = re.compile(
    rf"\b({'|'.join(re.escape(one) for one in LIGHTS)}|D\d\d|C|E|FL?\d{{1,2}}|TL84)\b", re.ASCII
)
_OBSERVER = re.compile(r"(?<![\d.:/])(10|2)(?:\.0+)?\b(?!\s*[:/])", re.ASCII)
_LOOSE_LIGHT = re.compile(r"(?<![A-Z\d])(D50|D65)(?![\d])", re.ASCII)
_LOOSE_OBSERVER = re.compile(r"(?<![\d.:/])(10|2) ?(?:DEG|°)|OBSERVER(?:_?ANGLE)?\s*=\s*(10|2)\b")
_LIGHT_KEYS = ("ILLUMINANT", "ILLUMINATION_NAME", "WEIGHTING_FUNCTION", "COMPUTATIONAL_PARAMETER")
_OBSERVER_KEYS = ("OBSERVER", "OBSERVER_ANGLE", "WEIGHTING_FUNCTION", "COMPUTATIONAL_PARAMETER")


_LEAST_DOUBTFUL, _MOST_DOUBTFUL = 1.25, 5.0
"""Highest values between which it can't be told whether spectra are fractions or per cent. Own judgement."""


@dataclass
class _Notes:
    """Sentences for the user, each said once."""

    said: list[str]

    def say(self, sentence: str) -> None:
        if sentence not in self.said:
            self.said.append(sentence)


def parse_cgats(text: str, label: str) -> ExchangeFile:
    """Read the colours of a CGATS.17 / ISO 28178 text.

    Where several tables describe the same samples (Lab in one, spectra in another), they are joined by name.

    Args:
        text: the whole file.
        label: its name, for messages.

    Returns: its colours. Lab stays relative to the light that the file names; spectra are carried to the
        36 bands of ``spectrum.WAVELENGTHS_NM``.
    Raises: PaletteError with every line that can't be read.
    """
    title, tables = parse_tables(text, label)
    problems: list[Problem] = []
    notes = _Notes([])
    found: dict[str, ExchangeColour] = {}
    anonymous = 0
    for number, table in enumerate(tables, start=1):
        colours = _table_colours(table, number, label, problems, notes)
        seen: dict[str, int] = {}
        for colour in colours:
            seen[colour.name] = seen.get(colour.name, 0) + 1
            name = colour.name if seen[colour.name] == 1 else f"{colour.name} ({seen[colour.name]})"
            anonymous += seen[colour.name] > 1
            other = found.get(name)
            if other is None:
                found[name] = _renamed(colour, name)
            elif (other.lab is None and colour.lab is not None) or (
                other.reflectance is None and colour.reflectance is not None
            ):
                found[name] = _joined(other, colour)
            else:
                notes.say(
                    f"Table {number} measures samples again that an earlier table holds, as under another "
                    "condition; the earlier table was kept."
                )
    if problems:
        raise refused(f"{label} can't be read as CGATS.17 text.", problems)
    if not found:
        fields = ", ".join(dict.fromkeys(name for table in tables for name in table.fields[:20]))
        accepted = "LAB_L LAB_A LAB_B, XYZ_X XYZ_Y XYZ_Z, or spectra such as SPECTRAL_NM400"
        raise refused(
            f"{label} holds no measured colour.", [Problem(label, f"the fields {fields}", accepted)]
        )
    if anonymous:
        notes.say(f"{anonymous} samples share a name with another; a number was added to each.")
    _compare(found.values(), notes)
    return ExchangeFile("cgats", title, tuple(found.values()), tuple(notes.said))


def _renamed(colour: ExchangeColour, name: str) -> ExchangeColour:
    return ExchangeColour(
        name, colour.lab, colour.reflectance, light=colour.light, observer=colour.observer, line=colour.line
    )


def _joined(one: ExchangeColour, two: ExchangeColour) -> ExchangeColour:
    """Give the first sample with what it lacked from the second."""
    with_lab = one if one.lab is not None else two
    spectrum = one.reflectance if one.reflectance is not None else two.reflectance
    light, observer = with_lab.light, with_lab.observer
    return ExchangeColour(one.name, with_lab.lab, spectrum, light=light, observer=observer, line=one.line)


def _columns(table: CgatsTable) -> dict[str, int]:
    """Field names in capitals to their first place."""
    places: dict[str, int] = {}
    for place, name in enumerate(table.fields):
        places.setdefault(name.upper(), place)
    return places


def _table_colours(
    table: CgatsTable, number: int, label: str, problems: list[Problem], notes: _Notes
) -> list[ExchangeColour]:
    places = _columns(table)
    lab_places = [places.get(f"LAB_{letter}") for letter in "LAB"]
    xyz_places = [places.get(f"XYZ_{letter}") for letter in "XYZ"]
    spectra = _spectra(table, label, problems, notes)
    has_lab, has_xyz = None not in lab_places, None not in xyz_places
    if not has_lab and not has_xyz and spectra is None:
        return []
    upper = [name.upper() for name in table.fields]
    twice = [name for name in places if name.startswith(("LAB_", "XYZ_")) and upper.count(name) > 1]
    if twice:
        where = f"{label}, table {number}, field names"
        problems.append(Problem(where, f"{', '.join(twice)} twice", "each once"))
    _say_what_is_left(places, notes)
    light, observer = _condition(table, number, label, problems, notes, needed=has_lab or has_xyz)
    lab: Floats | None = None
    if has_lab:
        lab = _numbers(table, [place for place in lab_places if place is not None], label, problems)
        _check_range(lab, table, label, problems, -1.0, 101.0, (0,), "L* from 0 to 100")
        _check_range(lab, table, label, problems, -200.0, 200.0, (1, 2), "a* and b* from -200 to 200")
    elif has_xyz:
        xyz = _numbers(table, [place for place in xyz_places if place is not None], label, problems)
        _check_range(xyz, table, label, problems, -1.0, 200.0, (0, 1, 2), "X, Y and Z from 0 to about 110")
        scale = 1.0 if xyz.size and np.nanmax(xyz[:, 1], initial=0.0) <= 1.5 else 100.0
        notes.say(f"Lab was worked out from XYZ, with Y = {scale:g} for white.")
        lab = xyz1_to_lab(xyz / scale * WHITE_D50 / white_xyz1(light, observer))
    names = _names(table, places)
    return [
        ExchangeColour(
            names[row],
            None if lab is None else lab[row],
            None if spectra is None else spectra[row],
            light=light,
            observer=observer,
            line=table.lines[row],
        )
        for row in range(len(table.rows))
    ]


def _names(table: CgatsTable, places: dict[str, int]) -> list[str]:
    """Give each row's name: SAMPLE_NAME where it is filled, else SAMPLE_ID, else its place."""
    named = [places[key] for key in ("SAMPLE_NAME", "SAMPLENAME", "NAME") if key in places]
    numbered = [places[key] for key in ("SAMPLE_ID", "SAMPLEID", "SAMPLE_LOC") if key in places]
    names = []
    for row, cells in enumerate(table.rows, start=1):
        texts = [" ".join(cells[place].split()) for place in named + numbered]
        names.append(next((text for text in texts if text), f"sample {row}"))
    return names


def _number(text: str) -> float:
    return float(text.replace(",", ".")) if _NUMBER.fullmatch(text) else float("nan")


def _numbers(table: CgatsTable, places: Sequence[int], label: str, problems: list[Problem]) -> Floats:
    """Give the cells of some columns, shape (rows, columns); NaN where one is no number, and say so."""
    values = np.array([[_number(cells[place]) for place in places] for cells in table.rows], dtype=np.float64)
    values = values.reshape(len(table.rows), len(places))
    for row, column in np.argwhere(~np.isfinite(values)):
        where = f"{label}, line {table.lines[row]}, {table.fields[places[column]]}"
        problems.append(Problem(where, repr(table.rows[row][places[column]][:40]), "a number"))
    return values


def _check_range(
    values: Floats,
    table: CgatsTable,
    label: str,
    problems: list[Problem],
    low: float,
    high: float,
    columns: tuple[int, ...],
    accepted: str,
) -> None:
    for row in range(len(values)):
        for column in columns:
            value = values[row, column]
            if np.isfinite(value) and not low <= value <= high:
                problems.append(Problem(f"{label}, line {table.lines[row]}", f"{value:g}", accepted))


def _spectra(table: CgatsTable, label: str, problems: list[Problem], notes: _Notes) -> Floats | None:
    """Give the reflectance of each row over the 36 bands, shape (rows, 36), or None where there is none."""
    before = len(problems)
    upper = [name.upper() for name in table.fields]
    if "SPECTRAL_NM" in upper:
        read = _paired(table, upper, label, problems)
    else:
        read = _headed(table, upper, label, problems)
    if read is None or len(problems) > before:
        return None
    nm, values, scale_word = read
    if not len(values):
        return None
    where = f"{label}, line {table.lines[0]}"
    if any("DENSIT" in f"{key} {text}".upper() for key, text in table.keywords.items()):
        problems.append(Problem(where, "spectra of densities", "spectra of reflectances"))
        return None
    if np.any(values == -1.0):
        problems.append(Problem(where, "-1, which stands for no value", "reflectances"))
        return None
    scale = {"PCT": 100.0, "DEC": 1.0}.get(scale_word)
    if scale is None and _LEAST_DOUBTFUL < float(values.max()) <= _MOST_DOUBTFUL:
        found = f"a highest value of {values.max():g}: of 1 or of 100?"
        accepted = "field names with DEC (fractions of 1) or PCT (per cent), such as PCT_400"
        problems.append(Problem(where, found, accepted))
        return None
    if scale is None:
        scale = 100.0 if float(values.max()) > 2.0 else 1.0
        notes.say(f"The spectra were taken to be {'per cent' if scale == 100 else 'fractions of 1'}.")
    if float(values.min()) < -0.05 * scale or float(values.max()) > 2.0 * scale:
        found = f"from {values.min():g} to {values.max():g}"
        problems.append(Problem(where, f"reflectances {found}", f"reflectances from 0 to {scale:g}"))
        return None
    order = np.argsort(nm, kind="stable")
    try:
        spectra = resample_reflectance(nm[order], values[:, order] / scale)
    except ColourError as error:
        problems.extend(Problem(where, problem.found, problem.accepted) for problem in error.problems)
        return None
    if nm.min() > WAVELENGTHS_NM[0] or nm.max() < WAVELENGTHS_NM[-1]:
        notes.say(
            f"The spectra reach from {nm.min():g} to {nm.max():g} nm; beyond that the last value was held."
        )
    return spectra


def _headed(
    table: CgatsTable, upper: list[str], label: str, problems: list[Problem]
) -> tuple[Floats, Floats, str] | None:
    """Read spectra whose wavelength stands in the field name: SPECTRAL_NM400, NM_400, SPEC_400, R_400 ..."""
    bands: dict[float, int] = {}
    words: set[str] = set()
    for place, name in enumerate(upper):
        match = _BAND.fullmatch(name)
        wavelength = float(match[2].replace(",", ".")) if match else 0.0
        if match and 300 <= wavelength <= 1100 and wavelength not in bands:
            bands[wavelength] = place
            words.add(match[1] or "")
    if len(bands) < 4:
        return None
    word = next((word for word in ("PCT", "DEC") if word in words), "")
    return np.array(list(bands)), _numbers(table, list(bands.values()), label, problems), word


def _paired(
    table: CgatsTable, upper: list[str], label: str, problems: list[Problem]
) -> tuple[Floats, Floats, str] | None:
    """Read spectra given in pairs: SPECTRAL_NM SPECTRAL_PCT (or SPECTRAL_DEC), again and again."""
    at_nm = [place for place, name in enumerate(upper[:-1]) if name == "SPECTRAL_NM"]
    words = {upper[place + 1] for place in at_nm}
    if not words <= {"SPECTRAL_PCT", "SPECTRAL_DEC"} or len(words) != 1:
        where = f"{label}, field names"
        found = "SPECTRAL_NM followed by " + ", ".join(sorted(words))
        problems.append(Problem(where, found, "each followed by SPECTRAL_PCT, or each by SPECTRAL_DEC"))
        return None
    nm = _numbers(table, at_nm, label, problems)
    values = _numbers(table, [place + 1 for place in at_nm], label, problems)
    if not len(nm):
        return None
    different = np.flatnonzero(np.any(nm != nm[0], axis=1))
    for row in different:
        where = f"{label}, line {table.lines[row]}"
        problems.append(Problem(where, "other wavelengths than in the first row", "the same in every row"))
    return nm[0], values, words.pop().removeprefix("SPECTRAL_")


def _say_what_is_left(places: dict[str, int], notes: _Notes) -> None:
    if any(name.startswith(("CMYK_", "CMY_", "RGB_")) or "CLR_" in name for name in places):
        notes.say("Device values (CMYK, RGB) are no colours by themselves and were left out.")
    if any(name.startswith(("D_", "STDEV", "DE_")) for name in places):
        notes.say("Densities, differences and deviations were left out.")


def _condition(
    table: CgatsTable, number: int, label: str, problems: list[Problem], notes: _Notes, *, needed: bool
) -> tuple[str, int]:
    """Light and observer of a table's Lab, as its keywords say, else those of ISO 13655."""
    stated_light = _stated(table.keywords, _LIGHT_KEYS, _LIGHT)
    stated_observer = _stated(table.keywords, _OBSERVER_KEYS, _OBSERVER)
    if not needed:
        return "D50", 2
    named = "; ".join(
        text
        for key, text in table.keywords.items()
        if key in ("ILLUMINANT", "ILLUMINATION_NAME") or (key in _LIGHT_KEYS and "ILLUMINANT" in text.upper())
    )
    if named and not stated_light:
        problems.append(Problem(f"{label}, table {number}", f"the light {named!r}", ", ".join(LIGHTS)))
    light = {"FL11": "F11", "TL84": "F11"}.get(stated_light, stated_light) or "D50"
    if light not in LIGHTS:
        problems.append(Problem(f"{label}, table {number}", f"Lab under {light}", ", ".join(LIGHTS)))
        light = "D50"
    if not stated_light or not stated_observer:
        missing = [
            text for text, given in (("light", stated_light), ("observer", stated_observer)) if not given
        ]
        notes.say(
            f"The file names no {' and no '.join(missing)} for its Lab; "
            "D50 and 2 degree were taken where none is named, as ISO 13655 has it."
        )
    return light, int(stated_observer or 2)


def _stated(keywords: dict[str, str], keys: tuple[str, ...], what: re.Pattern[str]) -> str:
    for key in keys:
        text = keywords.get(key, "").upper()
        if key in ("WEIGHTING_FUNCTION", "COMPUTATIONAL_PARAMETER"):
            wanted = "OBSERVER" if what is _OBSERVER else "ILLUMINANT"
            text = " ".join(part for part in re.split(r";", text) if wanted in part)
        match = what.search(text.replace("°", " "))
        if match:
            return match[1]
    for key in ("INSTRUMENTATION", "MEASUREMENT_SOURCE", "PRINT_CONDITIONS"):
        match = (_LOOSE_OBSERVER if what is _OBSERVER else _LOOSE_LIGHT).search(keywords.get(key, "").upper())
        if match:
            return match[1] or match[match.lastindex or 0]
    return ""


def _compare(colours: Iterable[ExchangeColour], notes: _Notes) -> None:
    """Say where a file's Lab and its own spectra tell different colours."""
    both = [colour for colour in colours if colour.lab is not None and colour.reflectance is not None]
    if not both:
        return
    lab = np.array([colour.lab for colour in both])
    own = np.array(
        [reflectance_to_lab(c.reflectance, c.light, c.observer) for c in both if c.reflectance is not None]
    )
    worst = float(np.max(delta_e_2000(own, lab)))
    if worst > 1.0:
        notes.say(
            f"The file's Lab and its spectra differ by up to {worst:.1f} (CIEDE2000), as with another light "
            "or filter; the spectra are used."
        )


def _known(values: Floats | None) -> Floats:
    assert values is not None
    return values


def write_cgats(colours: Iterable[ExchangeColour], title: str) -> tuple[bytes, tuple[str, ...]]:
    """Write colours as CGATS.17 text: a table of Lab and XYZ, and one of spectra where there are any.

    Args:
        colours: with *lab* as D50 / 2 degree.
        title: what the file calls itself.

    Returns: the bytes of the file (no date in it, so that it is the same each time), and what it could
        not hold, in plain sentences.
    """
    chosen = [colour for colour in colours if colour.lab is not None]
    labs = np.array([colour.lab for colour in chosen]).reshape(-1, 3)
    xyz = 100.0 * np.asarray(lab_to_xyz1(labs))
    lines = [
        "CGATS.17",
        f'FILE_DESCRIPTOR "{_quotable(title)}"',
        'ORIGINATOR "blendkit"',
        'ILLUMINANT "D50"',
        'OBSERVER "CIE 2 degree"',
    ]
    names = [f'"{_quotable(colour.name)}{_coats(colour)}"' for colour in chosen]
    fields = ["SAMPLE_ID", "SAMPLE_NAME", *(f"LAB_{c}" for c in "LAB"), *(f"XYZ_{c}" for c in "XYZ")]
    rows = [
        [str(i + 1), names[i], *(f"{value:.4f}" for value in labs[i]), *(f"{value:.4f}" for value in xyz[i])]
        for i in range(len(chosen))
    ]
    lines += _table_lines(fields, rows)
    measured = [i for i, colour in enumerate(chosen) if colour.reflectance is not None]
    if measured:
        fields = ["SAMPLE_ID", "SAMPLE_NAME", *(f"SPECTRAL_NM{nm}" for nm in WAVELENGTHS_NM)]
        rows = [
            [str(i + 1), names[i], *(f"{value:.6f}" for value in np.asarray(chosen[i].reflectance))]
            for i in measured
        ]
        lines += ["", *_table_lines(fields, rows)]
    notes = [
        "CGATS.17 text holds names, Lab, XYZ and spectra: kinds, papers, families, finishes and notes "
        "are left out."
    ]
    if len(measured) < len(chosen):
        notes.append(
            f"{len(chosen) - len(measured)} of {len(chosen)} colours have no measured spectrum to write."
        )
    return ("\n".join(lines) + "\n").encode(), tuple(notes)


def _coats(colour: ExchangeColour) -> str:
    return f", {colour.coats} coats" if colour.coats != 1 else ""


def _quotable(text: str) -> str:
    clean = " ".join("".join(letter if letter.isprintable() else " " for letter in text).split())
    return clean.replace('"', "'")


def _table_lines(fields: list[str], rows: list[list[str]]) -> list[str]:
    return [
        f"NUMBER_OF_FIELDS {len(fields)}",
        "BEGIN_DATA_FORMAT",
        "\t".join(fields),
        "END_DATA_FORMAT",
        f"NUMBER_OF_SETS {len(rows)}",
        "BEGIN_DATA",
        *("\t".join(row) for row in rows),
        "END_DATA",
    ]
