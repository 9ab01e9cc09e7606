"""Plain data from outside is checked one way: limits beside the fields, every fault at once, with its line."""

import doctest
import math
from dataclasses import dataclass
from typing import Annotated

import pytest

from blendkit import forms
from blendkit.forms import UNREAD, At, Flag, Number, Numbers, Record, Rows, Words, read_form
from blendkit.project.reading import read_faulty_project


@dataclass(frozen=True)
class Lantern:
    name: Annotated[str, Words(needed="the lantern's name")]
    panes: Annotated[int, Number(3, 12, whole=True)] = 4
    lit: Annotated[bool, Flag()] = False


@dataclass(frozen=True)
class Garden:
    lanterns: Annotated[tuple[Lantern, ...], Rows(Record(Lantern), most=3, row="lantern")] = ()
    gate: Annotated[tuple[float, float] | None, Numbers(2, 0, 9)] = None


def read(given):
    problems = []
    return read_form(Garden, given, At("garden.toml", problems)), problems


def test_what_fits_is_taken_as_the_record_holds_it():
    garden, problems = read({"lanterns": [{"name": "  moss ", "lit": True}], "gate": [1, 2]})
    assert problems == []
    assert garden == Garden((Lantern("moss", 4, True),), (1.0, 2.0))


def test_every_fault_is_noted_once_and_the_rest_is_read():
    garden, problems = read(
        {"lanterns": [{"name": "dusk", "panes": 2}, {"panes": 5, "light": 1}, 7], "gate": [1, 10], "gaet": 1}
    )
    assert [str(one) for one in problems] == [
        "garden.toml: found the key “gaet”; accepted: gate",
        "garden.toml, lantern 1 (dusk), panes: found 2; accepted: a whole number from 3 to 12",
        "garden.toml, lantern 2: found the key “light”; accepted: lit",
        "garden.toml, lantern 2, name: found nothing; accepted: the lantern's name",
        "garden.toml, lantern 3: found 7; accepted: a table",
        "garden.toml, gate: found [1, 10]; accepted: 2 numbers, 0 to 9",
    ]
    assert [one.key for one in problems] == ["gaet", "panes", "light", "name", "lanterns", "gate"]
    assert garden == Garden()


def test_what_was_told_already_is_not_told_again():
    garden, problems = read({"lanterns": [{"name": UNREAD, "panes": UNREAD}], "gate": UNREAD})
    assert (garden, problems) == (Garden((Lantern("", 4),)), [])


@pytest.mark.parametrize("value", [True, "5", math.nan, math.inf, 10**400, -1, 13, 4.5, None, [4]])
def test_no_number_is_taken_for_a_whole_one_in_its_limits(value):
    assert not Number(3, 12, whole=True).fits(value)


def test_a_fault_of_a_project_knows_its_line_by_its_table(tmp_path):
    file = tmp_path / "project.toml"
    file.write_text(
        'image = "a.png"\nnotes = """\n[[parts]]\nshadow_mm = 9\n"""\n\n[[parts]]\nname = "hat"\nareas = 1\n\n'
        '[[parts]]\nname = "scarf"\nareas = 2\nshadow_mm = "wide"\nlight = \n\n[[parts]]\nareas = 3\n',
        encoding="utf-8",
    )
    project, problems = read_faulty_project(file)
    assert [part.name for part in project.parts] == ["hat", "scarf", ""]
    assert [(one.line, one.key) for one in problems] == [(15, "light"), (14, "shadow_mm"), (17, "name")]


def test_the_example_of_the_module_is_true():
    assert doctest.testmod(forms).failed == 0
