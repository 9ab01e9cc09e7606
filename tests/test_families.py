"""The adviser on simulated families of dyes: a family's own members shade and light each other.

That a pale marker is the same dye thinned and its shadow the stronger dye, and that grey is the muted choice, is
common practice, no source. The drawers are simulated by other dyes than the demo palettes: tests/data/README.md.
"""

import sys
from pathlib import Path

import pytest

from blendkit.advice.order import find_order
from blendkit.advice.pairs import find_companions, find_greys, find_pair
from blendkit.advice.shading_series import Taste
from blendkit.inked import ink_drawer
from blendkit.palette import read_palette

sys.path.insert(0, str(Path(__file__).parent / "derive"))
import evaluate_families


@pytest.fixture(scope="module")
def drawers(tmp_path_factory):
    """Each file, with and without a family column."""
    return {
        (file, named): evaluate_families.read_families(
            evaluate_families.DATA / file, named, tmp_path_factory.mktemp("families")
        )
        for file in evaluate_families.FILES
        for named in (False, True)
    }


@pytest.fixture(scope="module")
def families(drawers):
    return drawers["dye_families.csv", False]


@pytest.mark.parametrize(
    ("file", "lighter", "first", "among_two"),
    [
        ("dye_families.csv", False, 47, 50),
        ("dye_families.csv", True, 45, 47),
        ("dye_families_seen.csv", False, 46, 50),
        ("dye_families_seen.csv", True, 41, 45),
        ("dye_families_unseen.csv", False, 44, 50),
        ("dye_families_unseen.csv", True, 39, 43),
    ],
)
def test_the_own_fellow_comes_first_without_reading_the_family_column(
    drawers, file, lighter, first, among_two
):
    count = evaluate_families.count_fellows(drawers[file, False], lighter=lighter)
    assert count.bases >= 48
    assert count.first >= first
    assert count.among_two >= among_two
    assert count.grey_first == 0


@pytest.mark.parametrize("file", evaluate_families.FILES)
@pytest.mark.parametrize("lighter", [False, True])
def test_where_the_family_is_told_its_fellow_comes_first_for_every_base(drawers, file, lighter):
    count = evaluate_families.count_fellows(drawers[file, True], lighter=lighter)
    assert count.first == count.bases
    assert count.most_greys <= 1


def names_of(companions):
    return [one.name for one in companions]


@pytest.mark.parametrize("base", ["lake 1", "lake 2", "indigo 1"])
def test_a_light_blue_is_shaded_by_a_blue_before_any_grey(families, base):
    first = names_of(find_pair(families, base).shadow)[0]
    assert first.rpartition(" ")[0] in ("lake", "indigo")


@pytest.mark.parametrize("base", ["fair 1", "fair 2", "tan 1", "peach 1"])
def test_fair_skin_is_shaded_by_a_skin_or_peach_before_any_grey(families, base):
    """Grey on fair skin looks dead."""
    first = names_of(find_pair(families, base).shadow)[0]
    assert first.rpartition(" ")[0] in ("fair", "tan", "peach", "deep")


@pytest.mark.parametrize("base", ["straw 1", "straw 2", "honey 1", "honey 2"])
def test_yellow_goes_to_gold_ochre_or_orange(families, base):
    """Grey on yellow looks dirty, and so does olive; also where grey would be laid over it."""
    answer = find_pair(families, base)
    assert answer.shadow[0].how == "marker"
    assert answer.shadow[0].name.rpartition(" ")[0] in ("straw", "honey", "tan", "deep")
    assert not any("grey" in one.name for one in answer.shadow[:2])


@pytest.mark.parametrize("base", ["poppy 1", "mint 1", "lake 1", "walnut 1"])
def test_pale_pink_aqua_and_wood_get_their_own_deeper_colour(families, base):
    assert find_pair(families, base).shadow[0].name.startswith(base.split()[0])


@pytest.mark.parametrize("base", ["fair 1", "straw 1", "lake 1", "poppy 1", "pine 1", "lilac 1"])
def test_of_the_greys_one_is_offered_at_most_and_called_the_muted_way(drawers, base):
    answer = find_pair(drawers["dye_families.csv", True], base, count=12)
    greys = [one for one in answer.shadow if "grey" in one.name]
    assert len(greys) <= 1
    for one in greys:
        assert one.dull
        assert one.reasons.words.startswith("the muted way")
    assert "grey" not in answer.shadow[0].name


@pytest.mark.parametrize("file", evaluate_families.FILES)
def test_of_the_greys_one_is_offered_at_most_where_no_family_is_told(drawers, file):
    """Dull blue greys count as greys, too, and dull pinks, aquas and browns don't."""
    inked = ink_drawer(drawers[file, False])
    named_grey = [marker.name for marker in inked.markers if "grey" in marker.name]
    assert [inked.markers[row].name for row in find_greys(inked).nonzero()[0]] == named_grey
    for row, marker in enumerate(inked.markers):
        if "grey" not in marker.name:
            found = find_companions(inked, inked.asked(row), count=12)
            assert sum("grey" in one.name for one in found) <= 1, marker.name


def test_a_muted_lean_lets_greys_come_and_a_vivid_one_puts_them_off(families):
    muted = find_pair(families, "lake 1", taste=Taste(lean="muted"), count=6).shadow
    vivid = find_pair(families, "lake 1", taste=Taste(lean="vivid"), count=6).shadow
    assert sum("grey" in one.name for one in muted) >= 2
    assert "grey" in muted[0].name
    assert names_of(vivid)[0].startswith("lake")
    assert muted[0].reasons.muted > vivid[0].reasons.muted


def test_a_grey_is_shaded_by_a_grey(families):
    assert find_pair(families, "warm grey 3").shadow[0].name == "warm grey 4"


def test_a_family_is_grey_as_a_whole_or_not_at_all(drawers):
    inked = ink_drawer(drawers["dye_families.csv", True])
    greys = {inked.markers[row].family for row in find_greys(inked).nonzero()[0]}
    assert greys == {"warm grey", "cool grey"}


def test_the_reason_says_that_a_companion_is_of_the_family(drawers):
    first = find_pair(drawers["dye_families.csv", True], "fair 1").shadow[0]
    assert first.fellow
    assert first.reasons.words.startswith("of the same family")


def test_order_takes_the_shadow_that_pair_puts_first(families):
    for base in ("fair 1", "straw 1", "lake 1"):
        assert find_order(families, base).shadows[0].name == find_pair(families, base).shadow[0].name


def test_the_closing_sentence_follows_the_table(tmp_path):
    """Black doesn't “shade” the darkest skin while the table puts more coats first."""
    for base in ("tan 4", "deep 4", "plum 4", "straw 4"):
        answer = find_pair(read_palette(evaluate_families.DATA / "dye_families.csv"), base)
        first = answer.shadow[0]
        if first.fits:
            assert first.reasons.words in answer.words[0]
        if first.how == "coats":
            assert f"{first.coats} coats" in answer.words[0]


def test_markers_in_between_are_named_only_where_the_step_needs_one(families):
    for base in ("walnut 1", "plum 1", "lake 1"):
        for one in (*find_pair(families, base).shadow, *find_pair(families, base).light):
            if one.reasons.in_between == 0:
                assert one.reasons.in_between_markers == ()
                assert "between," not in one.reasons.words
            if not one.reasons.in_between_markers:
                assert "would smooth" not in one.reasons.words
