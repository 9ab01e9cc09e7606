"""Numbers of closed areas stand where they can be read."""

import numpy as np
import pytest

from blendkit.plan.number_places import NumberGround, number_size_mm

PER_MM = 10.0


@pytest.fixture
def drawing():
    """A box (1) with a bar of ink across it, a sliver (2) beside it, a spot (3) within it; 40 by 30 mm."""
    labels = np.zeros((300, 400), np.int32)
    labels[50:250, 50:250] = 1
    labels[50:250, 250:256] = 2
    labels[70:78, 70:78] = 3
    line = np.zeros(labels.shape, np.uint8)
    for axis in (0, 1):
        edge = np.diff(labels, axis=axis) != 0
        y, x = np.nonzero(edge)
        line[y, x] = 255
    line[140:160, 50:250] = 255
    return labels, line


def ground_of(drawing):
    return NumberGround(*drawing, PER_MM)


def box_of(place, size):
    x, y, w, h = place.x_mm * PER_MM, place.y_mm * PER_MM, size[0] * PER_MM, size[1] * PER_MM
    return slice(int(y - h / 2), int(y + h / 2)), slice(int(x - w / 2), int(x + w / 2))


def test_a_number_stands_within_its_area_and_on_no_line(drawing):
    size = number_size_mm("12", 8.0)
    place = ground_of(drawing).within(1, [size])
    view = box_of(place, size)
    assert (drawing[0][view] == 1).all()
    assert not drawing[1][view].any()


def test_a_number_takes_the_largest_size_that_fits(drawing):
    place = ground_of(drawing).within(1, [(30.0, 30.0), (6.0, 4.0), (1.0, 1.0)])
    assert place.size == 1


def test_a_number_that_fits_nowhere_in_its_area_goes_beside_with_a_line_to_it(drawing):
    ground = ground_of(drawing)
    size = number_size_mm("2", 6.0)
    assert ground.within(2, [size]) is None
    place = ground.beside(2, size)
    view = box_of(place, size)
    assert not drawing[1][view].any()
    assert (drawing[0][view] == 0).all()
    x, y = place.end_mm
    assert drawing[0][int(y * PER_MM), int(x * PER_MM)] == 2


def test_numbers_never_cover_each_other(drawing):
    ground = ground_of(drawing)
    size = number_size_mm("88", 8.0)
    taken = np.zeros(drawing[0].shape, int)
    for place in [ground.within(1, [size]) for _ in range(6)] + [
        ground.beside(area, size) for area in (2, 3)
    ]:
        taken[box_of(place, size)] += 1
    assert taken.max() == 1


def test_a_picture_full_of_ink_still_gives_a_place(drawing):
    labels, line = drawing
    place = NumberGround(labels, np.full_like(line, 255), PER_MM).beside(3, (2.0, 2.0))
    assert 0 <= place.x_mm <= 40
    assert 0 <= place.y_mm <= 30
