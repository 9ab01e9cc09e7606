"""Colour targets beside the chart: their file, and finding them in a picture."""

import json

import numpy as np
import pytest
from simulate import device, picture, spectra, trial
from simulate import page as pages

from blendkit.chart.box_colour import find_paper_light
from blendkit.chart.find_page import find_marks, fit_page
from blendkit.chart.scan import read_scan
from blendkit.chart.target import find_target, read_target_file
from blendkit.errors import SheetError

SPEC = pages.plain_chart()
PAGE = SPEC.pages[0]
CARD = picture.target_beside(PAGE.size_mm)


def target_data(frame="card"):
    """A description of the simulated card: half its patches by Lab, half by reflectance."""
    shift = 0.0 if frame == "page" else CARD.centres_mm[0]
    centres = (CARD.centres_mm - shift).tolist()
    labs = spectra.reflectance_to_lab(CARD.reflectance).tolist()
    patches = []
    for number, (centre, lab, values) in enumerate(
        zip(centres, labs, CARD.reflectance.tolist(), strict=True), 1
    ):
        colour = (
            {"lab": lab} if number % 2 else {"reflectance": {"nm": spectra.NM.tolist(), "values": values}}
        )
        patches.append({"label": f"P{number}", "centre_mm": centre, **colour})
    return {
        "format": "blendkit-target", "version": 1, "name": "invented card", "frame": frame,
        "patch_mm": [9, 9], "patches": patches,
    }  # fmt: skip


def written(tmp_path, data):
    path = tmp_path / "card.json"
    path.write_text(json.dumps(data), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def photo():
    """A photo of a chart with the card beside it."""
    rng = np.random.default_rng(71)
    return trial.make_trial(
        rng,
        SPEC,
        "photo",
        picture_px=(1800, 1350),
        tilt_deg=25,
        curl_rad=0.1,
        target=CARD,
        seen_by=device.ideal(),
    )


def place(made):
    grey = made.picture.pixels.mean(axis=2).astype(np.uint8)
    fit = fit_page(find_marks(grey), PAGE, (grey.shape[1], grey.shape[0]))
    return fit, find_paper_light(made.picture, fit)


@pytest.mark.gold
def test_reflectance_and_lab_of_a_patch_agree(tmp_path):
    """Lab worked out from a patch's reflectance is what colour-science's tables give, to 0.3."""
    target = read_target_file(written(tmp_path, target_data()))
    assert target.lab == pytest.approx(spectra.reflectance_to_lab(CARD.reflectance), abs=0.3)
    assert target.labels[:2] == ("P1", "P2")


def test_the_card_is_searched_for_and_found(tmp_path, photo):
    """Wherever the card lies, its patches' middles are found to 1.5 mm."""
    fit, light = place(photo)
    placed = find_target(photo.picture, fit, light, read_target_file(written(tmp_path, target_data())))
    true = photo.view.map(CARD.centres_mm, flat=True)
    off = np.linalg.norm(fit.map_table(placed.centres_mm) - true, axis=1) / fit.px_per_mm
    assert off.max() < 1.5
    assert len(placed.lab) >= 20


def test_a_card_of_known_place_is_found_there(tmp_path, photo):
    """With places on the page, a card moved by 2 mm is still read in its patches' middles."""
    data = target_data("page")
    for patch in data["patches"]:
        patch["centre_mm"] = [patch["centre_mm"][0] + 2.0, patch["centre_mm"][1] - 2.0]
    fit, light = place(photo)
    placed = find_target(photo.picture, fit, light, read_target_file(written(tmp_path, data)))
    true = photo.view.map(CARD.centres_mm, flat=True)
    assert (np.linalg.norm(fit.map_table(placed.centres_mm) - true, axis=1) / fit.px_per_mm).max() < 1.5


def test_a_card_that_is_not_there_is_refused(tmp_path):
    """A photo without the card is not read with it."""
    rng = np.random.default_rng(72)
    made = trial.make_trial(rng, SPEC, "photo", picture_px=(1200, 900), tilt_deg=10)
    with pytest.raises(SheetError, match="could not be found"):
        read_scan(made.picture, SPEC, target=written(tmp_path, target_data()))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"format": "something"}, "blendkit-target"),
        ({"patches": []}, "6 or more"),
        ({"frame": "table"}, "card, page"),
        ({"patch_mm": 9}, "patch_mm"),
        ({"patches": [{"label": "A", "centre_mm": [1, 2]}]}, "patch 1 (A)"),
        ({"patches": [{"label": "A", "lab": [50, 0, 0]}]}, "centre_mm"),
        (
            {"patches": [{"label": "A", "centre_mm": [1, 2], "reflectance": {"nm": [400], "values": []}}]},
            "patch 1 (A)",
        ),
    ],
)
def test_a_bad_target_file_is_refused_with_its_place(tmp_path, change, words):
    """Every bad part of the file is named."""
    with pytest.raises(SheetError) as caught:
        read_target_file(written(tmp_path, {**target_data(), **change}))
    assert words in str(caught.value)


def test_a_target_file_that_is_no_json_or_missing_is_refused(tmp_path):
    """Neither words nor nothing is a target."""
    path = tmp_path / "card.json"
    path.write_text("patches", encoding="utf-8")
    with pytest.raises(SheetError, match="not a target"):
        read_target_file(path)
    with pytest.raises(SheetError, match="no such file"):
        read_target_file(tmp_path / "none.json")
