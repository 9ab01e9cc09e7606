"""Typst: a template and plain data become pages, as PDF, SVG or PNG. Knows neither shapes nor markers.

A template is a ``.typ`` file of the package. It opens with ``#import "look.typ": *``, and finds its data, with
every letter that no font at hand has spelled by its number, as ``data``. The same data give the same bytes.
"""

import json
import tempfile
import unicodedata
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Literal

from blendkit.errors import SheetError
from blendkit.page.typeface import find_typeface, spell

Form = Literal["pdf", "svg", "png"]

LOOK = Path(__file__).parent / "look.typ"
"""What the templates share: colours, swatches, strips, the heading and the cautions."""

PDF_STANDARD = "ua-1"
"""PDF/UA-1, ISO 14289-1: tagged, titled, in reading order, each picture with words for it."""


def set_template(
    template: Path,
    data: Mapping[str, Any],
    title: str,
    form: Form,
    *,
    pictures: Mapping[str, bytes] | None = None,
    sources: Mapping[str, str] | None = None,
    dpi: float | None = None,
) -> tuple[bytes, ...]:
    """Set pages from a template.

    Args:
        template: the ``.typ`` file; others of its folder may be imported by name.
        data: plain data, as ``records.plain`` gives it.
        title: what a PDF reader shows.
        form: "pdf", "svg" or "png".
        pictures: bytes of the picture files that the template names.
        sources: further Typst files by name, such as a drawing of true size.
        dpi: pixels an inch of a PNG.

    Returns: one PDF, or one file a page.
    Raises: SheetError when Typst can't set it.
    """
    files = {one.name: one.read_text(encoding="utf-8") for one in template.parent.glob("*.typ")}
    files |= {LOOK.name: LOOK.read_text(encoding="utf-8"), **(sources or {})}
    typeface = find_typeface([*texts_of(data), title, files[template.name], files[LOOK.name]])
    given = spelled(dict(data), typeface.unshown)
    main = (
        '#import "look.typ": *\n'
        f"#set document(title: {json.dumps(spell(title, typeface.unshown), ensure_ascii=False)}, date: none)\n"
        f'#set text(font: {font_list(typeface.families)}, fallback: false, hyphenate: false, lang: "en")\n'
        f'#include "{template.name}"\n'
    )
    files["data.json"] = json.dumps(given, ensure_ascii=False)
    return compile_pages(main, files, pictures or {}, typeface.files, form, dpi, title, standard=PDF_STANDARD)


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

    folders = [str(folder) for folder in sorted({file.parent for file in fonts})]
    known = typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=folders)
    tagged = {"pdf_standards": standard} if standard and form == "pdf" else {"pdf_tags": False}
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        for name, data in pictures.items():
            (root / name).write_bytes(data)
        for name, text in {**files, "main.typ": main}.items():
            (root / name).write_text(text, encoding="utf-8", newline="\n")
        try:
            result: bytes | list[bytes] | None = typst.compile(
                str(root / "main.typ"),
                root=folder,
                font_paths=known,
                format=form,
                ppi=dpi,
                timestamp=0,
                **tagged,
            )
        except RuntimeError as error:
            raise SheetError(f"the sheet “{title}” can't be set: {error}") from error
    return tuple(result) if isinstance(result, list) else (result or b"",)


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
