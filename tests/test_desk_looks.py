"""What a screen needs beside the records."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendkit.colour import contrast_wcag, delta_e_2000, hex_to_lab
from blendkit.desk.looks import _from_home, hexes_of, light_tint, look_under, shown, text_on
from blendkit.records import to_json

HEX = st.integers(0, 0xFFFFFF).map(lambda value: f"#{value:06x}")


@given(st.lists(HEX, min_size=1, max_size=20))
def test_text_on_any_swatch_keeps_a_contrast_of_4_5(hexes):
    """WCAG 2.2, success criterion 1.4.3: small text has a contrast ratio of at least 4.5."""
    for swatch, text in zip(hexes, text_on(hexes), strict=True):
        assert float(contrast_wcag(hex_to_lab(swatch), hex_to_lab(text))) >= 4.5


def test_a_record_is_shown_as_json_gives_it_with_text_colours_beside(demo):
    """Nothing of the record is left out or changed; only ``text`` stands beside each ``hex``."""
    from blendkit.advice.pairs import find_pair

    record = find_pair(demo, demo.markers[0].name)
    data = shown(record)

    def without_text(value):
        if isinstance(value, dict):
            return {key: without_text(one) for key, one in value.items() if key != "text"}
        return [without_text(one) for one in value] if isinstance(value, list) else value

    assert without_text(data) == to_json(record)
    assert data["base"]["text"] in ("#241d19", "#fffdf9", "#000000", "#ffffff")
    assert data["shadow"][0]["blend"][0]["text"]


def test_hexes_are_those_of_the_colours():
    """Many at once as one at a time."""
    labs = np.array([hex_to_lab("#c8553d"), hex_to_lab("#112233")])
    assert hexes_of(labs) == ["#c8553d", "#112233"]
    assert hexes_of(np.zeros((0, 3))) == []


def test_a_white_paper_stays_white_under_every_light(demo):
    """Eyes used to a light see white paper as white."""
    paper = demo.papers[0].reading
    for light in ("D50", "D65", "A", "LED-B3", "F11"):
        lab = hex_to_lab(look_under([paper], light)[0])
        assert lab[0] > 90
        assert np.hypot(lab[1], lab[2]) < 4


def test_a_missing_cone_brings_red_and_green_together():
    """A red and a green of one lightness are told apart by usual eyes and hardly without the cones for it."""
    from blendkit.spectrum import reflectance_from_lab

    pair = list(reflectance_from_lab(np.array([[55.0, 45.0, 30.0], [55.0, -35.0, 35.0]])))

    def apart(vision):
        first, second = (hex_to_lab(one) for one in look_under(pair, "D65", vision))
        return float(delta_e_2000(first, second))

    assert apart("") > 50
    assert apart("deutan") < 0.5 * apart("")


@pytest.mark.parametrize(("light", "warmer"), [("A", True), ("D65", False)])
def test_the_wall_is_warm_under_a_lamp_and_cool_in_daylight(light, warmer):
    """Its tint goes the lamp's way."""
    assert (hex_to_lab(light_tint(light))[2] > 2) == warmer


def test_a_folder_is_shown_as_people_write_it(monkeypatch, tmp_path):
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    assert _from_home(tmp_path / "home" / "markers") == str(Path("~") / "markers")
    assert _from_home(tmp_path / "elsewhere") == str(tmp_path / "elsewhere")
