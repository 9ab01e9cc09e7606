"""Ranges under other lights: the truth lies within, and three verdicts follow from them."""

import warnings

import numpy as np
import pytest

from blendkit.advice import lamps
from blendkit.colour import delta_e_2000
from blendkit.spectrum import WAVELENGTHS_NM, reflectance_above_surface, reflectance_to_lab


@pytest.fixture(scope="module")
def measured():
    """The 99 measured test colours of CIE 224:2017, as colour-science ships them, over our bands."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from colour import SpectralShape
        from colour.quality.cfi2017 import load_TCS_CIE2017

        rows = load_TCS_CIE2017(SpectralShape(380, 780, 5)).values.T
    return np.array([np.interp(WAVELENGTHS_NM, np.arange(380, 781, 5), row) for row in rows])


@pytest.mark.gold
def test_the_truth_lies_within_the_range_for_95_of_100_measured_pairs(measured):
    """CIE 224:2017; other sets, and which of them were never seen, in tests/derive/derive_spectra_spread.py."""
    lab = reflectance_to_lab(measured)
    apart = np.triu(delta_e_2000(lab[:, None], lab[None]), 1)
    first, second = np.nonzero((apart > 0) & (apart < 15))
    recovered = reflectance_above_surface(lab)
    ranges = lamps.difference_ranges(recovered[first], recovered[second])
    inside = []
    for light, (least, most) in ranges.items():
        under = reflectance_to_lab(measured, light)
        true = delta_e_2000(under[first], under[second])
        inside.append((true >= least) & (true <= most))
    assert len(first) > 200
    assert 0.92 <= np.mean(inside) <= 0.98


def test_two_measured_spectra_leave_nothing_open(measured):
    least, most = lamps.difference_ranges(measured[:5], measured[5:10], (True, True))["A"]
    np.testing.assert_allclose(least, most)
    under = reflectance_to_lab(measured[:10], "A")
    np.testing.assert_allclose(least, delta_e_2000(under[:5], under[5:]), atol=1e-9)


def test_what_a_colour_could_be_keeps_its_colour_by_day(measured):
    lab = reflectance_to_lab(measured)
    likely = lamps.likely_reflectances(reflectance_above_surface(lab))
    off = delta_e_2000(lab[:, None], reflectance_to_lab(likely))
    assert np.median(off) < 0.2
    assert np.quantile(off, 0.95) < 1.5


@pytest.mark.parametrize(
    ("delta", "least", "most", "verdict"),
    [
        (0.5, 0.2, 1.2, "holds"),
        (0.5, 0.2, 3.0, "can't tell"),
        (0.5, 2.2, 4.0, "parts"),
        (4.0, 1.0, 9.0, "holds"),  # no match by day, so nothing to part
    ],
)
def test_a_range_gives_one_of_three_verdicts(delta, least, most, verdict):
    assert lamps.lamp_verdict(delta, least, most) == verdict
