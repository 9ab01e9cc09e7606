"""Write api.md, the page of blendkit's Python interface, from the docstrings.

Run ``python examples/write_api_page.py`` after changing a docstring; a test fails while the page is stale, and
the examples in the docstrings run as tests.
"""

import importlib
import inspect
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Any, get_args, get_origin

import numpy as np
from numpy.typing import ArrayLike

import blendkit

ROOMS = (
    "palette",
    "colour",
    "spectrum",
    "ink",
    "inked",
    "advice.pairs",
    "advice.shading_series",
    "advice.order",
    "advice.papers",
    "advice.schemes",
    "advice.check",
    "advice.gaps",
    "advice.doubles",
    "advice.kit",
    "advice.skin",
    "advice.likeness",
    "advice.calibrate",
    "palette.calibration_file",
    "exchange",
    "picture",
    "art.photo",
    "art.regions",
    "art.depth",
    "art.relief",
    "art.shading",
    "art.preview",
    "chart.chart",
    "chart.scan",
    "chart.scan_record",
    "chart.description",
    "chart.target",
    "project.records",
    "project.reading",
    "plan.making",
    "plan.records",
    "plan.files",
    "plan.check",
    "plan.cut_line",
    "report.report",
    "page.page",
    "desk.server",
    "records",
    "errors",
)
"""Rooms in the order of the page: data first, then what is done with it."""

PAGE = Path(__file__).with_name("api.md")


_ARRAY = r"numpy\.ndarray\[tuple\[(?:typing\.)?Any, \.\.\.\], numpy\.dtype\[([\w.]+)\]\]"
_SPELLINGS = {
    "pathlib._local.": "pathlib.",
    inspect.formatannotation(
        ArrayLike | Sequence[ArrayLike]
    ): "ArrayLike | collections.abc.Sequence[ArrayLike]",
    inspect.formatannotation(ArrayLike | None): "ArrayLike | None",
    inspect.formatannotation(ArrayLike): "ArrayLike",
}


def _plain(annotation: Any) -> Any:
    """Without what a form says of a field besides its type."""
    return get_args(annotation)[0] if get_origin(annotation) is Annotated else annotation


def _signature(value: object) -> str:
    try:
        signature = inspect.signature(value)  # type: ignore[arg-type]
        plain = [one.replace(annotation=_plain(one.annotation)) for one in signature.parameters.values()]
        text = str(signature.replace(parameters=plain))
    except (TypeError, ValueError):
        return ""
    # The same types are shown in other words by other versions of Python and NumPy.
    for spelling, name in _SPELLINGS.items():
        text = text.replace(spelling, name)
    text = re.sub(_ARRAY, r"NDArray[\1]", text)
    return text.replace("NDArray[numpy.float64]", "Floats")


def _entry(name: str, value: object) -> list[str]:
    doc = inspect.cleandoc(value.__doc__ or "")
    kind = "class " if inspect.isclass(value) else ""
    heading = f"#### `{kind}{name}`"
    shown = "" if inspect.isclass(value) and issubclass(value, Exception) else _signature(value)
    lines = [heading, ""]
    if shown and callable(value):
        lines += ["```python", f"{name}{shown}", "```", ""]
    return [*lines, "```text", doc, "```", ""]


def api_page() -> str:
    """Give the whole page as Markdown; arrays in it print as NumPy prints them, whatever else was imported."""
    with np.printoptions(legacy=False):
        return _page()


def _page() -> str:
    names = [name for name in blendkit.__all__ if name != "__version__"]
    lines = [
        "# The Python interface",
        "",
        "Written from the docstrings by `examples/write_api_page.py`; do not edit it by hand.",
        "",
        "`import blendkit` gives: " + ", ".join(f"`{name}`" for name in sorted(names, key=str.lower)) + ".",
        "",
    ]
    for room in ROOMS:
        module = importlib.import_module(f"blendkit.{room}")
        summary = inspect.cleandoc(module.__doc__ or "").split("\n\n")[0].replace("\n", " ")
        lines += [f"## `blendkit.{room}`", "", summary, ""]
        for name in getattr(module, "__all__", list(vars(module))):
            value = getattr(module, name)
            ours = hasattr(module, "__all__") or getattr(value, "__module__", "") == module.__name__
            if not name.startswith("_") and ours and (inspect.isfunction(value) or inspect.isclass(value)):
                lines += _entry(name, value)
    return "\n".join(lines).rstrip() + "\n"


if __name__ == "__main__":
    PAGE.write_text(api_page(), encoding="utf-8")
    print(f"Wrote {PAGE.name}")
