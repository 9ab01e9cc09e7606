"""The marker look: two tones in strokes, a darker rim; the highlights stay bare."""

import numpy as np
import pytest

from blendkit.art.depth import Fronts
from blendkit.art.preview import marker_look
from blendkit.art.relief import find_relief
from blendkit.art.shading import BASE_TONE, LEFT_WHITE, STRUCK, shade


@pytest.fixture(scope="module")
def shades():
    """A long bar, 80 by 30 mm, with a drawn outline; 5 pixels a millimetre."""
    labels = np.zeros((250, 500), np.int32)
    labels[50:200, 50:450] = 1
    line = np.zeros(labels.shape, np.uint8)
    line[48:53, 48:453] = line[198:203, 48:453] = 255
    line[48:203, 48:53] = line[48:203, 448:453] = 255
    none = np.zeros(0)
    fronts = Fronts(np.zeros((0, 2), np.int64), none, none, none, np.zeros(0, bool))
    return shade(find_relief(labels, line, fronts, 127.0), 315)


def test_tones_stay_near_the_two_that_are_laid(shades):
    drawn = marker_look(shades).tone
    inside = shades.relief.full_labels > 0
    near = np.minimum.reduce([np.abs(drawn - level) for level in (0, BASE_TONE, 1)])
    assert near[inside].max() < 0.2
    assert (drawn[inside & (shades.tone > STRUCK)] > 0.9).all()
    assert (drawn[inside & (shades.tone < LEFT_WHITE)] == 0).all()


def test_strokes_run_along_the_longer_side(shades):
    drawn = marker_look(shades).tone
    flat = np.s_[110:150, 150:200]
    same = np.abs(np.diff(drawn[flat], axis=1)).mean()
    across = np.abs(np.diff(drawn[flat], axis=0)).mean()
    assert across > 5 * same


def test_the_rim_is_darker_than_the_middle(shades):
    drawn = marker_look(shades).tone
    inside = np.s_[90:140]
    assert drawn[inside, 54].mean() > drawn[inside, 62].mean() + 0.03


def test_paper_stays_paper_and_the_index_follows(shades):
    drawn = marker_look(shades)
    assert not drawn.tone[shades.relief.full_labels == 0].any()
    assert (drawn.index % 256 == np.round(drawn.tone * 255)).all()
