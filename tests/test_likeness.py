"""What in the drawer comes nearest to colours from elsewhere."""

import numpy as np
import pytest

from blendkit.advice.likeness import find_likenesses
from blendkit.colour import delta_e_2000
from blendkit.errors import ColourError
from blendkit.inked import ink_drawer


def test_the_markers_of_the_drawer_find_themselves_first(demo):
    inked = ink_drawer(demo)
    wanted = [(demo.markers[row].name, inked.lab[row]) for row in (0, 40, 90)]
    answer = find_likenesses(demo, wanted, inked=inked)
    assert [one.markers[0].marker.name for one in answer.likenesses] == [name for name, _ in wanted]
    assert all(one.markers[0].verdict == "same" for one in answer.likenesses)


def test_markers_come_nearest_first_by_ciede2000(demo):
    lab = np.array([55.0, 30.0, 40.0])
    one = find_likenesses(demo, [("something", lab)], count=5).likenesses[0]
    inked = ink_drawer(demo)
    nearest = sorted(delta_e_2000(lab, inked.lab))[:5]
    assert [near.delta_e_2000 for near in one.markers] == pytest.approx(nearest)
    assert len(one.papers) == 5


def test_a_colour_beyond_every_ink_is_said_to_be_far(demo):
    answer = find_likenesses(demo, [("neon", np.array([60.0, 95.0, -60.0]))])
    assert not answer.fits
    assert "neon" in answer.words[0]


def test_no_colour_is_refused(demo):
    with pytest.raises(ColourError, match="no colour"):
        find_likenesses(demo, [])
