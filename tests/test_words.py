"""The one vocabulary: differences, steps of lightness, names of colours, one and many."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendkit import words
from blendkit.colour import hex_to_lab


@pytest.mark.parametrize(
    ("code", "name"),
    [  # CSS Color Module Level 4, section 6.1, named colours that crafters use as words
        ("#808000", "olive"),
        ("#008080", "teal"),
        ("#f5f5dc", "off white"),
        ("#ffa500", "orange"),
        ("#fa8072", "salmon"),
        ("#ff00ff", "fuchsia"),
        ("#d2b48c", "tan"),
        ("#ffc0cb", "pink"),
        ("#808080", "grey"),
    ],
)
def test_a_named_colour_of_the_web_standard_gets_its_name_or_a_shade_of_it(code, name):
    assert name in words.describe_colour(hex_to_lab(code))


@pytest.mark.parametrize(
    ("code", "name"),
    [
        ("#4b4b26", "dark olive"),
        ("#c89b3c", "ochre"),
        ("#1f2d50", "navy"),
        ("#7a2331", "maroon"),
        ("#c8553d", "terracotta"),
        ("#d8c3a5", "beige"),
        ("#f7f4ec", "white"),
        ("#111111", "black"),
        ("#7a4a2b", "brown"),
        ("#f2b6c0", "pink"),
    ],
)
def test_a_crafter_would_call_it_so(code, name):
    """Common practice, no source: what people call these colours."""
    assert name in words.describe_colour(hex_to_lab(code))


@given(st.tuples(st.floats(0, 100), st.floats(-100, 100), st.floats(-100, 100)))
def test_every_colour_has_a_name_without_numbers(lab):
    name = words.describe_colour(np.array(lab))
    assert name
    assert not any(letter.isdigit() for letter in name)


def test_bands_of_difference_rise_and_the_last_is_open():
    limits = [verdict.below for verdict in words.VERDICTS]
    assert limits == sorted(limits)
    assert words.verdict_of(1e9).word == "different"
    assert words.verdict_of(0.99).word == "same"
    assert words.verdict_of(1.0).word == "very close"


def test_a_step_of_lightness_says_its_direction():
    assert words.lightness_words(-16.0) == "clearly darker"
    assert words.lightness_words(16.0) == "clearly lighter"
    assert words.lightness_words(-3.0) == "barely darker"


def test_one_and_many_have_their_grammar():
    assert words.count_of(1, "marker") == "1 marker"
    assert words.count_of(0, "marker") == "0 markers"
    assert words.count_of(2, "family", "families") == "2 families"
    assert words.listed(["a"]) == "a"
    assert words.listed(["a", "b", "c"]) == "a, b and c"
