"""The coloured preview."""

import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from blendkit.art.depth import find_fronts
from blendkit.art.preview import draw_line_table, draw_ramp, encode_part_png, paint, ramp_labs
from blendkit.art.relief import find_relief
from blendkit.art.shading import BASE_TONE, shade
from blendkit.colour import delta_e_2000, srgb1_to_lab
from blendkit.errors import ProjectError
from blendkit.ink import predict_coats, predict_stack, swatch_from_lab
from blendkit.inked import ink_drawer
from blendkit.palette import read_palette
from blendkit.spectrum import reflectance_from_lab, reflectance_to_lab

DPI = 127.0
PAPER = np.array([250, 246, 236], np.uint8)
RAMP = np.stack(
    [np.linspace(255, 90, 256), np.linspace(240, 40, 256), np.linspace(200, 60, 256)], axis=1
).astype(np.uint8)


@pytest.fixture(scope="module")
def picture():
    labels = np.zeros((200, 300), np.int32)
    labels[40:160, 40:150] = 1
    labels[40:160, 150:260] = 2
    line = np.zeros(labels.shape, np.uint8)
    line[40:160, 148:153] = 255
    relief = find_relief(labels, line, find_fronts(labels, line, DPI), DPI)
    return labels, line, relief, shade(relief, 315)


def test_outside_and_uncoloured_parts_are_paper(picture):
    labels, line, relief, shades = picture
    painted = paint(shades, relief, {1: RAMP}, PAPER)
    clear = line == 0
    assert (painted[(labels != 1) & clear] == PAPER).all()


def test_a_coloured_part_shows_its_ramp_at_its_tone(picture):
    labels, line, relief, shades = picture
    painted = paint(shades, relief, {1: RAMP}, PAPER)
    inside = (labels == 1) & (line == 0)
    assert (painted[inside] == RAMP[np.round(shades.tone[inside] * 255).astype(int)]).all()


def test_the_line_covers_colour_and_never_lightens_it(picture):
    _, _, relief, shades = picture
    dark = np.full((256, 3), 10, np.uint8)
    painted = paint(shades, relief, {1: dark, 2: RAMP}, PAPER)
    assert painted[100, 151].tolist() == [24, 22, 24]
    assert painted[100, 149].tolist() == [10, 10, 10]


def test_half_a_line_covers_half_the_light(picture):
    """Linear mixing: half the light of white paper is sRGB 188 (IEC 61966-2-1)."""
    _, _, relief, shades = picture
    half = np.full(relief.full_line.shape, 128, np.uint8)
    white = np.array([255, 255, 255], np.uint8)
    painted = paint(shades, replace(relief, full_line=half), {}, white, (0, 0, 0), line_gain=1.0)
    assert np.abs(painted.astype(int) - 187).max() <= 1


def test_a_part_that_does_not_exist_is_refused(picture):
    _, _, relief, shades = picture
    with pytest.raises(ProjectError, match="part 3: this picture has parts 1 to 2"):
        paint(shades, relief, {3: RAMP}, PAPER)


@pytest.mark.parametrize("parts", [9, 255, 256, 700])
def test_the_part_png_holds_part_tone_and_line_exactly(parts):
    rng = np.random.default_rng(3)
    labels = rng.integers(0, parts + 1, (60, 80)).astype(np.int32)
    labels[0, 0] = parts
    tone = rng.uniform(0, 1, labels.shape).astype(np.float32)
    line = rng.integers(0, 256, labels.shape).astype(np.uint8)
    data = np.asarray(Image.open(io.BytesIO(encode_part_png(labels, tone, line)))).astype(int)
    assert data.shape == ((60 if parts <= 255 else 120), 80, 3)
    number = data[:60, :, 0] + (256 * data[60:, :, 0] if parts > 255 else 0)
    assert (number == labels).all()
    assert np.abs(data[:60, :, 1] / 255 - tone).max() <= 0.5 / 255 + 1e-6
    assert (data[:60, :, 2] == line).all()


def test_the_part_png_has_no_profile_that_would_change_its_numbers():
    png = Image.open(io.BytesIO(encode_part_png(np.ones((4, 4), int), np.ones((4, 4)), np.ones((4, 4)))))
    assert png.mode == "RGB"
    assert not {"gamma", "icc_profile", "srgb"} & set(png.info)


def lab_of(ramp):
    return srgb1_to_lab(ramp / 255.0)


ROWS = """\
name,kind,L,a,b,on
Snow,paper,95,0,2,
Kraft,paper,65,8,22,
Base,marker,70,18,45,Snow
Shadow,marker,50,25,35,Snow
Light,marker,86,6,24,Snow
Yellow,marker,88,-4,70,Snow
Blue,marker,60,-18,-38,Snow
"""


@pytest.fixture(scope="module")
def drawer(tmp_path_factory):
    path = tmp_path_factory.mktemp("drawer") / "five.csv"
    path.write_text(ROWS, encoding="utf-8")
    return read_palette(path)


def ramp_of(drawer, base, *shadow, light=None, on="Snow", bare_highlight=True):
    inked = ink_drawer(drawer, on)
    asked = [inked.asked(inked.row(name)) for name in (base, *shadow)]
    toward = light and inked.asked(inked.row(light))
    return draw_ramp(ramp_labs(inked, asked, asked[0], toward, bare_highlight=bare_highlight))


def test_the_ramp_runs_from_paper_over_one_coat_to_shadow_over_base(drawer):
    """By the ink model itself, from Lab and not from a drawer."""
    paper = reflectance_from_lab([95.0, 0.0, 2.0])
    base, shadow = swatch_from_lab([70.0, 18, 45]), swatch_from_lab([50.0, 25, 35])
    ramp = ramp_of(drawer, "Base", "Shadow")
    assert ramp.shape == (256, 3)
    expected = [paper, predict_coats(paper, base, 1), predict_stack(paper, np.stack([base, shadow]))]
    for place, reflectance in zip((0, round(255 * BASE_TONE), 255), expected, strict=True):
        assert delta_e_2000(reflectance_to_lab(reflectance), lab_of(ramp[place])) < 0.8
    twice = ramp_of(drawer, "Base", "Base")
    assert delta_e_2000(reflectance_to_lab(predict_coats(paper, base, 2)), lab_of(twice[255])) < 0.8


def test_the_ramp_never_gets_lighter(drawer):
    for ramp in (
        ramp_of(drawer, "Base", "Shadow"),
        ramp_of(drawer, "Base", "Shadow", light="Light"),
        ramp_of(drawer, "Base", "Base"),
    ):
        assert (np.diff(lab_of(ramp)[:, 0]) < 0.3).all()


def test_a_light_marker_makes_the_highlight_when_paper_is_not_left(drawer):
    ramp = ramp_of(drawer, "Base", "Shadow", light="Light", bare_highlight=False)
    assert delta_e_2000([86.0, 6, 24], lab_of(ramp[0])) < 0.8
    bare = ramp_of(drawer, "Base", "Shadow", light="Light")
    assert delta_e_2000([95.0, 0, 2], lab_of(bare[0])) < 0.8
    half = bare[round(255 * BASE_TONE / 2)]
    assert delta_e_2000([86.0, 6, 24], lab_of(half)) < 1.5


def test_without_highlight_or_light_marker_the_base_coat_is_even(drawer):
    ramp = ramp_of(drawer, "Base", "Shadow", bare_highlight=False)
    assert (ramp[: round(255 * BASE_TONE)] == ramp[0]).all()


def test_the_blend_is_ink_and_not_a_mixture_of_screen_colours(drawer):
    """Yellow worked into blue is green (subtractive); the mean of their screen colours is grey."""
    ramp = ramp_of(drawer, "Yellow", "Blue")
    lab = lab_of(ramp[round(255 * (BASE_TONE + 0.5 * (1 - BASE_TONE)))])
    assert lab[1] < -20


def test_on_tinted_card_the_highlight_is_the_card(drawer):
    ramp = ramp_of(drawer, "Base", "Shadow", on="Kraft")
    assert delta_e_2000([65.0, 8, 22], lab_of(ramp[0])) < 0.8
    assert lab_of(ramp[255])[0] < lab_of(ramp_of(drawer, "Base", "Shadow")[255])[0] + 1


def test_the_line_table_paints_as_painting_does(picture):
    """Looking a value up by line tone and colour gives the very pixels of `paint`."""
    _, line, relief, shades = picture
    painted = paint(shades, relief, {1: RAMP, 2: RAMP[::-1]}, PAPER)
    bare = paint(shades, replace(relief, full_line=np.zeros_like(line)), {1: RAMP, 2: RAMP[::-1]}, PAPER)
    table = draw_line_table()
    looked_up = np.stack([table[line, bare[..., channel], channel] for channel in range(3)], axis=-1)
    np.testing.assert_array_equal(looked_up, painted)
