"""Putting colour right: the numbers' meaning, and what is claimed of the uncertainty."""

import numpy as np
import pytest
from scipy.stats import chi2
from simulate import device, spectra

from blendkit.chart import correct_colour
from blendkit.chart.correct_colour import Anchors, fit_correction, within_95
from blendkit.colour import delta_e_2000, lab_to_xyz1, srgb1_to_linear, xyz1_to_lab
from blendkit.picture.encoding import srgb_encoding

MATRIX = srgb_encoding().matrix
PAPER = (94.0, 0.2, -0.8)


def seen(kind, seed, inks=60):
    """Linear light relative to the paper of inks and of a target in a simulated device, and their Lab."""
    rng = np.random.default_rng([77, seed])
    seen_by = device.phone(rng) if kind == "photo" else device.scanner(rng, kind)
    paper = spectra.paper_reflectance(rng)
    reflectance = np.stack(
        [spectra.inked_reflectance(paper, spectra.ink_absorption(rng), np.array(1.0)) for _ in range(inks)]
    )
    patches = spectra.target_reflectance()
    everything = np.concatenate([reflectance, patches, paper[None]])
    exposure = 0.75 / (seen_by.linear(paper).max() * 1.05)
    linear = srgb1_to_linear(seen_by.finish(seen_by.linear(everything), exposure))
    relative = linear[:-1] / linear[-1]
    labs = spectra.reflectance_to_lab(everything)
    return relative[:inks], labs[:inks], relative[inks:], labs[inks:-1], tuple(labs[-1])


def test_bare_paper_comes_out_as_the_papers_own_lab():
    """Relative light of 1 is the paper, whatever its colour."""
    correction = fit_correction(MATRIX, paper_lab=(88.0, 3.0, 14.0))
    assert correction.to_lab(np.ones((1, 3)))[0] == pytest.approx([88.0, 3.0, 14.0], abs=1e-6)
    assert correction.method == "paper known"


def test_with_nothing_known_but_the_paper_light_is_only_scaled():
    """Without anchors the reading is the picture's own colour scaled to the paper in linear light."""
    relative = np.array([[0.4, 0.2, 0.1], [0.05, 0.3, 0.6]])
    paper = np.linalg.solve(MATRIX, lab_to_xyz1(PAPER))
    wanted = xyz1_to_lab((relative * paper) @ MATRIX.T)
    assert fit_correction(MATRIX, paper_lab=PAPER).to_lab(relative) == pytest.approx(wanted, abs=1e-4)


@pytest.mark.gold
def test_the_root_polynomial_keeps_its_colour_at_any_exposure():
    """Light scaled by k gives XYZ scaled by k (Finlayson, Mackiewicz and Hurlbert 2015, section III)."""
    correction = fit_correction(MATRIX, paper_lab=PAPER)
    numbers = correction.numbers.copy()
    numbers[3:18] = np.random.default_rng(0).normal(0, 0.1, 15)
    relative = np.array([[0.5, 0.3, 0.2], [0.2, 0.6, 0.4]])
    full = lab_to_xyz1(correct_colour._to_lab(numbers, relative, MATRIX))
    half = lab_to_xyz1(correct_colour._to_lab(numbers, relative / 2, MATRIX))
    assert half == pytest.approx(full / 2, rel=1e-5)


def test_known_colours_bring_a_bent_device_nearer():
    """With a target of 24 patches the median error of inks falls by a third or more in a phone's picture."""
    before, after = [], []
    for seed in range(6):
        relative, labs, patches, patch_labs, paper = seen("photo", seed)
        plain = fit_correction(MATRIX, paper_lab=paper)
        anchored = fit_correction(
            MATRIX, paper_lab=paper, anchors=Anchors(patches, patch_labs, np.ones(24, bool))
        )
        before.append(delta_e_2000(labs, plain.to_lab(relative)))
        after.append(delta_e_2000(labs, anchored.to_lab(relative)))
    assert np.median(after) < np.median(before) * 2 / 3
    assert np.percentile(after, 95) < np.percentile(before, 95)


def test_a_target_in_other_light_than_the_page_is_allowed_for():
    """Patches 8 % brighter than the page's light give the same colours as patches in the same light."""
    relative, _, patches, patch_labs, paper = seen("white", 1)
    beside = np.ones(24, bool)
    same = fit_correction(MATRIX, paper_lab=paper, anchors=Anchors(patches, patch_labs, beside))
    brighter = fit_correction(MATRIX, paper_lab=paper, anchors=Anchors(patches * 1.08, patch_labs, beside))
    assert np.median(delta_e_2000(same.to_lab(relative), brighter.to_lab(relative))) < 0.6


def test_one_wrong_anchor_counts_little():
    """A marker swapped for another in an anchor box moves the readings by less than 1.5 in the middle."""
    relative, labs, _, _, paper = seen("photo", 3)
    known = labs[:12].copy()
    on_page = np.zeros(12, bool)
    right = fit_correction(MATRIX, paper_lab=paper, anchors=Anchors(relative[:12], known, on_page))
    known[4] = labs[20]
    wrong = fit_correction(MATRIX, paper_lab=paper, anchors=Anchors(relative[:12], known, on_page))
    assert np.median(delta_e_2000(right.to_lab(relative[12:]), wrong.to_lab(relative[12:]))) < 1.5


@pytest.mark.parametrize("anchored", [False, True])
def test_most_errors_stay_within_the_stated_figure(anchored):
    """Over phones and scanners of fresh seeds 88 to 100 % of errors lie within what is stated as 95 %."""
    inside = []
    for kind in ("photo", "photo", "white", "rgb-led"):
        for seed in range(20, 25):
            relative, labs, patches, patch_labs, paper = seen(kind, seed + 100 * len(inside))
            anchors = Anchors(patches, patch_labs, np.ones(24, bool)) if anchored else None
            correction = fit_correction(MATRIX, paper_lab=paper, anchors=anchors)
            whole, within = correction.uncertainty(relative, np.full(relative.shape, 0.003))
            inside.append(delta_e_2000(labs, correction.to_lab(relative)) <= whole)
            assert np.all(within < whole)
    assert 0.88 <= np.mean(inside) <= 1.0


def test_more_is_known_with_anchors_and_less_without_the_paper():
    """The stated figure falls with anchors and rises when the paper is guessed or not seen."""
    relative, _, patches, patch_labs, paper = seen("white", 5)
    noise = np.full(relative.shape, 0.003)
    anchors = Anchors(patches, patch_labs, np.ones(24, bool))
    figures = []
    for lab, picture_paper, known in (
        (paper, None, anchors),
        (paper, None, None),
        (None, None, None),
        (None, np.ones(3), None),
    ):
        correction = fit_correction(MATRIX, paper_lab=lab, picture_paper=picture_paper, anchors=known)
        figures.append(np.median(correction.uncertainty(relative, noise)[0]))
    assert figures == sorted(figures)
    assert fit_correction(MATRIX, paper_lab=None, picture_paper=np.ones(3)).method == "lightness only"


@pytest.mark.gold
def test_within_95_is_the_chi_squared_quantile_for_a_round_cloud():
    """For three equal spreads it is the root of SciPy's 95 % chi-squared quantile of three degrees."""
    found = within_95(np.array([np.eye(3) * 4.0]))[0]
    assert found == pytest.approx(2 * np.sqrt(chi2.ppf(0.95, 3)), rel=0.01)


@pytest.mark.gold
def test_small_steps_weigh_as_ciede2000_does():
    """The weights turn steps of 0.01 Lab into CIEDE2000 to 12 %, away from the blue region's rotation term."""
    rng = np.random.default_rng(4)
    labs = np.stack([rng.uniform(20, 95, 300), rng.uniform(-60, 60, 300), rng.uniform(-5, 70, 300)], axis=1)
    steps = rng.normal(0, 0.01, labs.shape)
    weighed = np.linalg.norm(np.einsum("nij,nj->ni", correct_colour._delta_e_weights(labs), steps), axis=1)
    assert np.median(np.abs(weighed / delta_e_2000(labs, labs + steps) - 1)) < 0.03
    assert np.percentile(np.abs(weighed / delta_e_2000(labs, labs + steps) - 1), 95) < 0.12
