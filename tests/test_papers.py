"""Matches of papers, ribbons and inks."""

import numpy as np
import pytest

from blendkit.advice.papers import find_matches
from blendkit.colour import delta_e_2000
from blendkit.palette import read_palette
from blendkit.records import to_json
from blendkit.words import VERDICTS, verdict_of


@pytest.mark.gold
@pytest.mark.parametrize(
    ("delta", "band"),
    [(0.0, 0), (0.99, 0), (1.0, 1), (1.99, 1), (2.0, 2), (3.49, 2), (3.5, 3), (4.99, 3), (5.0, 4)],
)
def test_the_bands_are_those_of_the_survey(delta, band):
    """Mokrzycki and Tatol 2011, Colour difference ΔE: a survey: limits 1, 2, 3.5 and 5."""
    assert verdict_of(delta) is VERDICTS[band]


def test_matches_come_nearest_first_and_leave_nothing_out(demo):
    answer = find_matches(demo, "rosehip noon")
    differences = [match.delta_e_2000 for match in answer.matches]
    assert differences == sorted(differences)
    assert {match.name for match in answer.matches} == {
        item.name for item in (*demo.papers, *demo.ribbons, *demo.inks)
    }


def test_the_difference_is_to_the_colour_as_it_looks_on_its_paper(demo):
    on_kraft = find_matches(demo, "morning sky noon", on="Kraft parcel")
    on_white = find_matches(demo, "morning sky noon")
    assert on_kraft.target.lab != on_white.target.lab
    first = on_kraft.matches[0]
    assert first.delta_e_2000 == pytest.approx(float(delta_e_2000(on_kraft.target.lab, first.lab)))


def test_a_pair_that_matches_by_day_and_parts_under_a_lamp_is_flagged(tmp_path):
    """Two spectra of one colour in D50 and different ones under A: made by adding a metameric black."""
    from blendkit.spectrum import (
        WAVELENGTHS_NM,
        reflectance_from_lab,
        reflectance_to_lab,
        reflectance_to_xyz1,
    )

    base = reflectance_from_lab([60.0, 5.0, 10.0])
    basis = np.stack([reflectance_to_xyz1(row) for row in np.eye(36)], axis=1)
    wave = np.cos(np.arange(36) * 1.1)
    black = wave - np.linalg.pinv(basis) @ (basis @ wave)
    other = base + black * 0.9 * min(base.min(), 1 - base.max()) / np.abs(black).max()
    np.testing.assert_allclose(reflectance_to_lab(base), reflectance_to_lab(other), atol=1e-6)
    head = ",".join(str(nm) for nm in WAVELENGTHS_NM)
    rows = [
        f"name,kind,on,{head}",
        "card,paper,," + ",".join(f"{value:.6f}" for value in other),
        "white,paper,," + ",".join("0.9" for _ in WAVELENGTHS_NM),
        "ink on it,marker,white," + ",".join(f"{value:.6f}" for value in base),
    ]
    file = tmp_path / "metamers.csv"
    file.write_text("\n".join(rows))
    match = next(m for m in find_matches(read_palette(file), "ink on it").matches if m.name == "card")
    assert match.delta_e_2000 < 0.2
    assert match.verdict == "same"
    assert match.parts_under
    assert "part" in match.words
    assert not match.estimated


def test_a_patterned_paper_stands_once_by_its_nearest_colour(tmp_path):
    file = tmp_path / "pattern.csv"
    file.write_text(
        "name,kind,L,a,b,pattern,share\nwhite,paper,95,0,0,,\n"
        "field,paper,90,2,8,leaf print,0.7\nleaf,paper,50,-25,25,leaf print,0.25\n"
        "dot,paper,40,50,30,leaf print,0.05\ninked,marker,50,-25,25,,\n"
    )
    palette = read_palette(file)
    answer = find_matches(palette, "inked")
    assert [match.name for match in answer.matches].count("leaf print") == 1
    assert answer.matches[0].name == "leaf print"
    assert "leaf, 25 % of the sheet" in answer.matches[0].pattern_colour
    # The dot covers less than a tenth, so the sheet does not count as matching it.
    assert find_matches(palette, "lab(40 50 30)").matches[0].delta_e_2000 > 5.0


def test_a_foil_ribbon_and_an_unsure_reading_are_said_to_be_so(tmp_path):
    file = tmp_path / "unsure.csv"
    file.write_text(
        "name,kind,L,a,b,finish,uncertainty\nfoil,ribbon,60,10,40,foil,\ncard,paper,60,10,40.5,,2\n"
        "inked,marker,60,10,41,,0.2\n"
    )
    matches = {match.name: match for match in find_matches(read_palette(file), "inked").matches}
    assert matches["foil"].rough
    assert "rough" in matches["foil"].words
    assert matches["card"].unsure
    assert not matches["foil"].unsure


def test_nothing_near_enough_is_said_with_the_nearest_miss(demo):
    answer = find_matches(demo, "lab(50 90 -80)")
    assert not answer.fits
    assert answer.near_miss is answer.matches[0] or answer.near_miss == answer.matches[0]


def test_a_palette_of_papers_alone_is_matched_to_a_typed_colour(tmp_path):
    file = tmp_path / "papers.csv"
    file.write_text("name,kind,L,a,b\nrust card,paper,45,35,35\nfog card,paper,80,0,0\nink,ink,20,0,0\n")
    palette = read_palette(file)
    assert find_matches(palette, "lab(45 35 34)").matches[0].name == "rust card"
    assert find_matches(palette, "rust card").matches[0].name != "rust card"


def test_only_the_kinds_asked_for_are_ranked(demo):
    answer = find_matches(demo, "rosehip noon", kinds=("ribbon",), count=3)
    assert {match.kind for match in answer.matches} == {"ribbon"}
    assert len(answer.matches) == 3


def test_json_has_the_documented_keys(demo):
    data = to_json(find_matches(demo, "rosehip noon", count=2))
    assert {"schema", "target", "matches"} <= set(data)
    keys = {"name", "kind", "delta_e_2000", "verdict", "contrast_wcag", "lightness_step", "by_light"}
    assert keys <= set(data["matches"][0])
    assert set(data["matches"][0]["by_light"]) == {"D65", "A", "LED-B3", "F11"}
