"""Which fonts a sheet needs, so that a name in any script is shown, and what can't be.

Latin, Greek and Cyrillic come from two small fonts in the package, so that a sheet looks the same on every
computer. Letters that they lack are looked for in DejaVu Sans, which Matplotlib brings along (Arabic, Hebrew,
Armenian, Georgian, many signs), and then in the fonts installed on this computer. What no font has is spelled
by its Unicode number, such as ``[U+71C8]``, never printed as an empty box, and :func:`find_typeface` says so.
"""

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

FONTS_FOLDER = Path(__file__).parent / "fonts"
SHEET_FAMILY = "Blendkit Sheet Sans"
UPRIGHT_STYLES = (("normal", 400),)
PREFERRED = ("Noto Sans ", "Noto Serif ", "Noto ", "DejaVu ", "")
"""Openings of family names, best first, when several installed fonts hold a letter."""
OTHER_NAMES = {
    "HIRAGANA": "CJK JP",
    "KATAKANA": "CJK JP",
    "CJK": "CJK JP",
    "HANGUL": "CJK KR",
    "BOPOMOFO": "CJK TC",
    "IDEOGRAPHIC": "CJK JP",
    "FULLWIDTH": "CJK JP",
    "ORIYA": "Oriya",
}
"""First words of Unicode character names whose fonts carry another word in their family name."""


@dataclass(frozen=True, slots=True)
class Typeface:
    """Font families to try in turn, the files that they come from, and letters that none of them has."""

    families: tuple[str, ...]
    files: tuple[Path, ...]
    unshown: frozenset[str]


def find_typeface(texts: Iterable[str]) -> Typeface:
    """Find fonts for every letter of *texts*, the package's own first.

    Returns: the families in order, with their files; letters that no font here has are its ``unshown``.
    """
    letters = {letter for text in texts for letter in unicodedata.normalize("NFC", text)}
    needed = frozenset(letter for letter in letters if not _is_silent(letter))
    return _typeface(needed - _sheet_letters())


def spell(text: str, unshown: frozenset[str]) -> str:
    """Give *text* with each letter that can't be shown spelled by its Unicode number, in brackets."""
    text = unicodedata.normalize("NFC", text)
    if not unshown.intersection(text):
        return text
    parts: list[str] = []
    for letter in text:
        if letter not in unshown:
            parts.append(letter)
        elif parts and parts[-1].startswith("[U+"):
            parts[-1] = f"{parts[-1][:-1]} {ord(letter):04X}]"
        else:
            parts.append(f"[U+{ord(letter):04X}]")
    return "".join(parts)


def _is_silent(letter: str) -> bool:
    """Whether *letter* is white space, a control or a joiner, which need no picture."""
    return letter.isspace() or unicodedata.category(letter) in {"Cc", "Cf"} or "\ufe00" <= letter <= "\ufe0f"


@lru_cache(maxsize=1)
def _sheet_letters() -> frozenset[str]:
    return _letters_in(FONTS_FOLDER / "SheetSans-Regular.ttf", 0)


@lru_cache(maxsize=64)
def _typeface(missing: frozenset[str]) -> Typeface:
    families, files = [SHEET_FAMILY], sorted(FONTS_FOLDER.glob("*.ttf"))
    if missing:
        shipped = _shipped_dejavu()
        if shipped is not None and (found := missing & _letters_in(shipped, 0)):
            families.append("DejaVu Sans")
            files.append(shipped)
            missing -= found
    for family, path, index in _installed_fonts(missing) if missing else ():
        if found := missing & _letters_in(path, index):
            families.append(family)
            files.append(path)
            missing -= found
        if not missing:
            break
    return Typeface(tuple(families), tuple(files), missing)


def _shipped_dejavu() -> Path | None:
    """Give Matplotlib's DejaVu Sans, found without loading Matplotlib."""
    from importlib.util import find_spec

    spec = find_spec("matplotlib")
    if spec is None or spec.origin is None:
        return None
    path = Path(spec.origin).parent / "mpl-data" / "fonts" / "ttf" / "DejaVuSans.ttf"
    return path if path.is_file() else None


def _installed_fonts(missing: frozenset[str]) -> list[tuple[str, Path, int]]:
    """Give the upright fonts on this computer, the likeliest for the *missing* letters first."""
    import typst

    hints = {OTHER_NAMES.get(word, word.title()) for word in map(_first_word, missing) if word}

    def rank(entry: tuple[str, Path, int]) -> tuple[bool, int, str, str, int]:
        family, path, index = entry
        hinted = any(hint in family for hint in hints)
        preferred = next(place for place, opening in enumerate(PREFERRED) if family.startswith(opening))
        return (not hinted, preferred, family, str(path), index)

    found = {
        (font.family, Path(font.path), font.index)
        for font in typst.Fonts(include_embedded_fonts=False).fonts()
        if font.path is not None and (font.style, font.weight) in UPRIGHT_STYLES and font.stretch == 1.0
    }
    return sorted(found, key=rank)


def _first_word(letter: str) -> str:
    return unicodedata.name(letter, "").split(" ")[0].split("-")[0]


@lru_cache(maxsize=512)
def _letters_in(path: Path, index: int) -> frozenset[str]:
    """Give every letter that the font at *path* has; none if it can't be read."""
    from fontTools.ttLib import TTFont, TTLibError

    try:
        with TTFont(path, fontNumber=index, lazy=True) as font:
            return frozenset(map(chr, font.getBestCmap() or {}))
    except (OSError, TTLibError, KeyError, ValueError):
        return frozenset()
