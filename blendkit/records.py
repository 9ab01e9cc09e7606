"""Frozen records as plain data: what ``--json``, the page and the sheets share."""

import dataclasses
import math
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

SCHEMA = 1
"""Version of every JSON answer; a field may be added within a version, never renamed or removed."""


def plain(value: Any, digits: int = 4) -> Any:
    """Give *value* as what JSON can hold: dict, list, str, int, float, bool or None.

    Args:
        value: a frozen dataclass, mapping, sequence, NumPy array or scalar, path or plain value.
        digits: decimals kept of every number.

    Returns: plain data; a number that is not finite becomes None.
    Raises: TypeError for anything else, which is a fault of the caller.
    """
    kind: Any = type(value)
    if kind is float:
        return round(value, digits) + 0.0 if math.isfinite(value) else None
    if kind in _ALREADY:
        return value
    names = _field_names(kind)
    if names is not None:
        return {name: plain(getattr(value, name), digits) for name in names}
    if isinstance(value, Mapping):
        return {str(key): plain(item, digits) for key, item in value.items()}
    if isinstance(value, np.ndarray | np.generic):
        return plain(value.tolist(), digits)
    if isinstance(value, list | tuple | set | frozenset):
        return [plain(item, digits) for item in value]
    if isinstance(value, Path):
        return str(value)
    if isinstance(value, str | int):
        return value
    raise TypeError(f"no plain form for {kind.__name__}")


_ALREADY = frozenset({str, int, bool, type(None)})


@cache
def _field_names(kind: type) -> tuple[str, ...] | None:
    """Names of a dataclass's fields that belong in JSON; None for another type."""
    if not dataclasses.is_dataclass(kind):
        return None
    return tuple(field.name for field in dataclasses.fields(kind) if field.repr)


def to_json(record: Any) -> dict[str, Any]:
    """Give a record as a JSON object that opens with the schema version.

    Fields of a dataclass that are declared with ``repr=False`` (working arrays) stay out.
    """
    data = plain(record)
    return {"schema": SCHEMA, **data}
