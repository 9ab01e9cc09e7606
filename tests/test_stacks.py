"""Stacks of two markers: the search that leaves markers out finds what the search of all finds."""

import numpy as np
import pytest

from blendkit.advice.papers import find_matches
from blendkit.advice.stacks import find_stacks
from blendkit.colour import delta_e_2000, parse_colour
from blendkit.inked import ink_drawer
from blendkit.palette import demo_palette_path, read_palette


@pytest.fixture(scope="module")
def inked():
    return ink_drawer(read_palette(demo_palette_path()))


@pytest.mark.parametrize("code", ["#8a6b4f", "#4b4b26", "#c8553d", "#9db7c4", "#2f6f78", "#d9a441"])
def test_the_nearest_stack_is_the_nearest_of_all(inked, code):
    lab = parse_colour(code)
    everything = inked.crossing_labs(np.arange(len(inked.markers)), np.arange(len(inked.markers)))
    darker = inked.lab[:, None, 0] >= inked.lab[None, :, 0]
    off = np.where(darker, delta_e_2000(lab, everything), np.inf)
    found = find_stacks(inked, lab, 8.0, 5)
    if off.min() <= 8.0:
        assert found.delta[0] == pytest.approx(off.min(), abs=1e-6)
    assert list(found.delta) == sorted(found.delta)
    near = np.sort(off[off <= 8.0])[:5]
    np.testing.assert_allclose(found.delta, near, atol=1e-6)


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
