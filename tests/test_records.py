"""Records as plain data."""

import dataclasses
import json
from pathlib import Path

import numpy as np
import pytest

from blendkit.records import SCHEMA, plain, to_json


@dataclasses.dataclass(frozen=True)
class Inner:
    name: str
    lab: tuple


@dataclasses.dataclass(frozen=True)
class Outer:
    inner: Inner
    scores: np.ndarray
    place: Path
    table: dict
    hidden: np.ndarray = dataclasses.field(repr=False, default=None)


def test_a_record_opens_with_the_schema_and_leaves_working_arrays_out():
    record = Outer(
        Inner("leaf", (1.23456, 2.0, -0.0)),
        np.array([1.0, np.nan]),
        Path("a/b"),
        {1: np.int64(3)},
        np.ones(9),
    )
    data = to_json(record)
    assert next(iter(data)) == "schema"
    assert data == {
        "schema": SCHEMA,
        "inner": {"name": "leaf", "lab": [1.2346, 2.0, 0.0]},
        "scores": [1.0, None],
        "place": str(Path("a/b")),
        "table": {"1": 3},
    }
    assert json.loads(json.dumps(data)) == data


@pytest.mark.parametrize("value", [None, True, 3, "text"])
def test_plain_values_stay_as_they_are(value):
    assert plain(value) is value


def test_what_has_no_plain_form_is_a_fault_of_the_caller():
    with pytest.raises(TypeError, match="no plain form"):
        plain(object())
