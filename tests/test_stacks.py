"""Stacks of two markers: the search that leaves markers out finds what the search of all finds."""

import numpy as np
import pytest

from blendkit.advice.papers import find_matches
from blendkit.advice.stacks import _ROUGH, find_stacks
from blendkit.colour import WHITE_D50, delta_e_2000, parse_colour, xyz1_to_lab
from blendkit.ink import InkModel
from blendkit.inked import ink_drawer
from blendkit.palette import demo_palette_path, read_palette
from blendkit.palette.palette import palette_from_sheet
from blendkit.palette.table import decode_sheet
from blendkit.spectrum import white_xyz1


@pytest.fixture(scope="module")
def inked():
    return ink_drawer(read_palette(demo_palette_path()))


@pytest.mark.parametrize("code", ["#8a6b4f", "#4b4b26", "#c8553d", "#9db7c4", "#2f6f78", "#d9a441"])
def test_the_nearest_stack_is_the_nearest_of_all(inked, code):
    lab = parse_colour(code)
    everything = inked.crossing_labs(np.arange(len(inked.markers)), np.arange(len(inked.markers)))
    darker = inked.lab[:, None, 0] >= inked.lab[None, :, 0]
    off = np.where(darker, delta_e_2000(lab, everything), np.inf)
    found = find_stacks(inked, lab[None], np.array([8.0]), 5)[0]
    if off.min() <= 8.0:
        assert found.delta[0] == pytest.approx(off.min(), abs=1e-6)
    assert list(found.delta) == sorted(found.delta)
    near = np.sort(off[off <= 8.0])[:5]
    np.testing.assert_allclose(found.delta, near, atol=1e-6)
    assert len(found.delta) == len(near)


@pytest.mark.parametrize("paper", ["95,0,-2", "70,8,25", "30,5,-20"])
@pytest.mark.parametrize("model", [InkModel(), InkModel(surface_share=0.0), InkModel(0.3, 0.6, 0.1, 1.0)])
def test_a_rough_stack_is_far_nearer_its_exact_colour_than_the_search_allows(paper, model):
    """Markers of every depth, and some lighter than their paper in part or whole."""
    labs = np.random.default_rng(3).uniform((3, -60, -60), (97, 60, 60), (40, 3))
    rows = [f"ink {place},marker,{lab[0]},{lab[1]},{lab[2]}" for place, lab in enumerate(labs)]
    table = "\n".join(["name,kind,L,a,b", f"card,paper,{paper}", *rows])
    drawer = ink_drawer(palette_from_sheet(decode_sheet(table.encode(), "drawer.csv")), None, model)
    everything = np.arange(len(labs))
    for under in everything.tolist():
        others = np.delete(everything, under)
        exact = drawer.crossing_labs([under], others)[0]
        rough = xyz1_to_lab(drawer.quick.xyz1(under, others) / white_xyz1("D50", 2) * WHITE_D50)
        assert delta_e_2000(exact, rough).max() < _ROUGH / 20.0


def test_stacks_for_several_colours_are_those_for_each_alone(inked):
    labs = np.array([parse_colour(code) for code in ("#8a6b4f", "#9db7c4", "#111111")])
    together = find_stacks(inked, labs, np.array([3.0, 8.0, 5.0]), 20)
    for lab, tolerance, found in zip(labs, (3.0, 8.0, 5.0), together, strict=True):
        alone = find_stacks(inked, lab[None], np.array([tolerance]), 20)[0]
        np.testing.assert_array_equal(found.rows, alone.rows)


def test_a_colour_is_matched_by_markers_coats_and_stacks(inked):
    found = find_matches(inked.palette, "#4b4b26", kinds=("marker",), count=12, inked=inked)
    assert {match.kind for match in found.matches} == {"marker"}
    assert any(len(set(match.laid)) == 2 for match in found.matches)
    single = [match for match in found.matches if len(match.laid) == 1]
    assert single
    for match in found.matches:
        names = set(match.laid)
        assert names <= {marker.name for marker in inked.markers}
    assert [m.delta_e_2000 for m in found.matches] == sorted(m.delta_e_2000 for m in found.matches)


def test_a_marker_is_not_matched_by_itself(inked):
    name = inked.markers[3].name
    found = find_matches(inked.palette, name, kinds=("marker",), count=30, inked=inked)
    assert all(name not in match.laid for match in found.matches)
