"""Typst: a template and plain data become pages, as PDF, SVG or PNG. Knows neither shapes nor markers.

A template is a ``.typ`` file of the package. It opens with ``#import "look.typ": *``, and finds its data, with
every letter that no font at hand has spelled by its number, as ``data``. The same data give the same bytes.
"""

import json
import tempfile
import unicodedata
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from blendkit.errors import SheetError
from blendkit.page.typeface import find_typeface, spell

Form = Literal["pdf", "svg", "png"]

LOOK = Path(__file__).parent / "look.typ"
"""What the templates share: colours, swatches, strips, the heading and the cautions."""

PDF_STANDARD = "ua-1"
"""PDF/UA-1, ISO 14289-1: tagged, titled, in reading order, each picture with words for it."""


@dataclass(frozen=True)
class Setting:
    """Pages to be set from a template.

    Args:
        template: the ``.typ`` file; others of its folder may be imported by name.
        data: plain data, as ``records.plain`` gives it.
        title: what a PDF reader shows.
        pictures: bytes of the picture files that the template names.
        sources: further Typst files by name, such as a drawing of true size.
    """

    template: Path
    data: Mapping[str, Any]
    title: str
    pictures: Mapping[str, bytes] = field(default_factory=dict, repr=False)
    sources: Mapping[str, str] = field(default_factory=dict, repr=False)

    def draw(self, form: Form, dpi: float | None = None) -> tuple[bytes, ...]:
        """Give one PDF, or one file a page. Raises: SheetError when Typst can't set it."""
        main, files, fonts = self._prepared()
        return compile_pages(main, files, self.pictures, fonts, form, dpi, self.title, standard=PDF_STANDARD)

    def ask(self, label: str) -> Any:
        """Give the value of the metadata that the template marks with *label*."""
        main, files, fonts = self._prepared()
        return ask_pages(main, files, self.pictures, fonts, label, self.title)

    def unshown(self) -> tuple[str, ...]:
        """Give the texts with letters that no font at hand can show; they are spelled by number."""
        missing = find_typeface(texts_of(self.data)).unshown
        return tuple(dict.fromkeys(one for one in texts_of(self.data) if missing.intersection(one)))

    def _prepared(self) -> tuple[str, dict[str, str], tuple[Path, ...]]:
        files = {one.name: one.read_text(encoding="utf-8") for one in self.template.parent.glob("*.typ")}
        files |= {LOOK.name: LOOK.read_text(encoding="utf-8"), **self.sources}
        typeface = find_typeface([*texts_of(self.data), self.title, *files.values()])
        title = json.dumps(spell(self.title, typeface.unshown), ensure_ascii=False)
        files["data.json"] = json.dumps(spelled(dict(self.data), typeface.unshown), ensure_ascii=False)
        main = (
            f"#set document(title: {title}, date: none)\n"
            f'#set text(font: {font_list(typeface.families)}, fallback: false, hyphenate: false, lang: "en")\n'
            f'#include "{self.template.name}"\n'
        )
        return main, files, typeface.files


def compile_pages(
    main: str,
    files: Mapping[str, str],
    pictures: Mapping[str, bytes],
    fonts: tuple[Path, ...],
    form: Form,
    dpi: float | None,
    title: str,
    standard: str | None = None,
) -> tuple[bytes, ...]:
    """Compile the Typst source *main* beside other *files* and *pictures*, with no clock in the result."""
    import typst

    tagged = {"pdf_standards": standard} if standard and form == "pdf" else {"pdf_tags": False}
    with _folder(files, pictures, main) as folder:
        try:
            result: bytes | list[bytes] | None = typst.compile(
                f"{folder}/main.typ",
                root=folder,
                font_paths=_fonts(fonts),
                format=form,
                ppi=dpi,
                timestamp=0,
                **tagged,
            )
        except RuntimeError as error:
            raise SheetError(f"the sheet “{title}” can't be set: {error}") from error
    return tuple(result) if isinstance(result, list) else (result or b"",)


def ask_pages(
    main: str,
    files: Mapping[str, str],
    pictures: Mapping[str, bytes],
    fonts: tuple[Path, ...],
    label: str,
    title: str,
) -> Any:
    """Give the value of the metadata marked with *label*, once the pages are laid out."""
    import typst

    with _folder(files, pictures, main) as folder:
        try:
            found = typst.query(
                f"{folder}/main.typ",
                f"<{label}>",
                field="value",
                one=True,
                root=folder,
                font_paths=_fonts(fonts),
            )
        except RuntimeError as error:
            raise SheetError(f"the sheet “{title}” can't be set: {error}") from error
    return json.loads(found)


@contextmanager
def _folder(files: Mapping[str, str], pictures: Mapping[str, bytes], main: str) -> Iterator[str]:
    """A folder with everything that the pages are set from, gone afterwards."""
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        for name, data in pictures.items():
            (root / name).write_bytes(data)
        for name, text in {**files, "main.typ": main}.items():
            (root / name).write_text(text, encoding="utf-8", newline="\n")
        yield folder


def _fonts(files: tuple[Path, ...]) -> Any:
    import typst

    folders = [str(folder) for folder in sorted({file.parent for file in files})]
    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=folders)


def font_list(families: tuple[str, ...]) -> str:
    """Give font families as a Typst array."""
    return "(" + "".join(f"{json.dumps(family, ensure_ascii=False)}," for family in families) + ")"


def texts_of(value: Any) -> Iterator[str]:
    """Give every string in plain data."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for one in value.values():
            yield from texts_of(one)
    elif isinstance(value, list | tuple):
        for one in value:
            yield from texts_of(one)


def spelled(value: Any, unshown: frozenset[str]) -> Any:
    """Give plain data with what can't be shown spelled by number, and without controls and soft hyphens."""
    if isinstance(value, str):
        kept = (
            one for one in value if one in "\n\t" or (unicodedata.category(one) != "Cc" and one != "\u00ad")
        )
        return spell("".join(kept), unshown)
    if isinstance(value, Mapping):
        return {key: spelled(one, unshown) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [spelled(one, unshown) for one in value]
    return value
