"""The demo palettes: large enough, invented and said to be, and coloured as real inks and papers could be."""

import importlib.util
import math
import sys
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from blendkit.colour import delta_e_2000, lab_to_lch
from blendkit.palette import demo_palette_path, read_palette

NAMES = ("hedgehog-lane", "market-stall", "first-box")


@pytest.fixture(scope="module")
def lane():
    return read_palette(demo_palette_path("hedgehog-lane"))


@pytest.fixture(scope="module")
def script():
    """The script that makes the palettes."""
    path = Path(__file__).parent / "derive" / "derive_demo_palettes.py"
    spec = importlib.util.spec_from_file_location("derive_demo_palettes", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # dataclasses look their module up
    spec.loader.exec_module(module)
    return module


def test_the_lane_has_markers_papers_inks_and_ribbons_enough(lane):
    assert len(lane.markers) >= 80
    assert len(lane.papers) >= 30
    assert len(lane.inks) >= 8
    assert len(lane.ribbons) >= 8
    assert sum(len(family) == 1 for family in lane.families.values()) >= 10
    assert sum(len(family) >= 2 for family in lane.families.values()) >= 30
    assert sum(bool(paper.pattern) for paper in lane.papers) >= 3
    assert {paper.finish for paper in lane.papers} == {"matt", "gloss", "pearl", "glitter", "foil"}


@pytest.mark.parametrize("name", NAMES)
def test_every_row_is_said_to_be_invented_and_every_swatch_lies_on_a_stated_paper(name):
    palette = read_palette(demo_palette_path(name))
    column = palette.sheet.column("note")
    assert all(row[column].startswith("invented") for row in palette.sheet.rows)
    assert all(palette.paper(marker.on).lab[0] > 94 for marker in palette.markers)


def test_colours_are_given_in_every_way_that_a_file_may_give_them(lane):
    readings = [reading for marker in lane.markers for _, reading in marker.readings]
    for ways in (
        [reading for reading in readings if reading.typed.startswith("#")],
        [reading for reading in readings if reading.reflectance is not None],
        [reading for reading in readings if (reading.light, reading.observer) == ("D65", 10)],
        [marker for marker in lane.markers if len(marker.readings) > 1],
    ):
        assert len(ways) >= 5
    assert max(coats for marker in lane.markers for coats, _ in marker.readings) == 3


@pytest.mark.parametrize("name", NAMES[:2])
def test_each_family_steps_down_clearly(name):
    steps = []
    for family in read_palette(demo_palette_path(name)).families.values():
        for light, dark in pairwise(family):
            steps.append(light.lab[0] - dark.lab[0])
    assert min(steps) > 8
    assert max(steps) < 20


def test_a_family_is_one_mixture_of_dyes_with_a_little_grey_and_a_neighbour(script):
    """As makers are said to make them (common practice, no source); greys are mixed one by one."""
    families = {name: script.MARKET_STALL[name] for name in ("copper kettle", "net loft", "lavender sack")}
    made = script.family_mixtures(families, script.STALL_DEPTH)
    for family in families:
        first, *darker = [amounts for _, name, amounts in made if name == family]
        for amounts in darker:
            strength = np.median(amounts[first > 1e-3] / first[first > 1e-3])
            assert strength > 1.3
            added = amounts / strength - first
            assert np.all(added > -1e-6)
            assert (added > 1e-6).sum() <= 2
            assert added.sum() < 0.2 * first.sum()


def test_more_coats_are_darker_and_each_adds_less(lane):
    for marker in lane.markers:
        lightness = [reading.lab[0] for _, reading in marker.readings]
        assert lightness == sorted(lightness, reverse=True)
        if len(lightness) == 3:
            assert lightness[0] - lightness[1] > lightness[1] - lightness[2]


def test_skin_reaches_every_class_of_the_typology_angle_with_two_shadows_each(lane):
    # Chardon, Cretois and Hourseau 1991: ITA = arctan((L* - 50) / b*), classes parted at 55, 41, 28, 10, -30.
    kin = [family for name, family in lane.families.items() if name.startswith("kin ")]
    assert all(len(family) == 3 for family in kin)
    angles = [math.degrees(math.atan2(base[0].lab[0] - 50, base[0].lab[2])) for base in kin]
    assert {int(np.searchsorted([-30, 10, 28, 41, 55], angle)) for angle in angles} == set(range(6))


def test_neutrals_are_warm_cool_and_true(lane):
    for name, low, high, chroma in (("warm ash", 40, 110, 8), ("cool pewter", 215, 290, 8)):
        lch = np.array([lab_to_lch(marker.lab) for marker in lane.families[name]])
        assert len(lch) == 4
        assert ((lch[:, 2] > low) & (lch[:, 2] < high) & (lch[:, 1] > 2) & (lch[:, 1] < chroma)).all()
    assert all(lab_to_lch(marker.lab)[1] < 2 for marker in lane.families["plain pebble"])


def test_the_first_box_is_twelve_of_the_lanes_markers(lane):
    box = read_palette(demo_palette_path("first-box"))
    assert len(box.markers) == 12
    assert all(marker.readings[0] == lane.marker(marker.name).readings[0] for marker in box.markers)


@pytest.mark.silver
def test_the_market_stall_is_what_its_script_makes(tmp_path, script):
    # The lane comes from the same steps; making it, too, would take this test three times as long.
    (tmp_path / "made.csv").write_text(script.table(script.market_stall()), encoding="utf-8")
    made, kept = read_palette(tmp_path / "made.csv"), read_palette(demo_palette_path("market-stall"))
    assert made.names == kept.names
    assert made.sheet.header == kept.sheet.header
    for first, second in zip(made.items, kept.items, strict=True):
        assert delta_e_2000(first.lab, second.lab) < 0.1, first.name
