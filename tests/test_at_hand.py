"""What is out (empty, lent) is left out of every advice, and can still be asked about."""

import pytest

import blendkit
from blendkit.advice.gaps import find_gaps
from blendkit.advice.kit import Target, find_kit
from blendkit.errors import PaletteError
from blendkit.palette import read_palette


@pytest.fixture
def drawer(tmp_path):
    """An invented drawer in which one dark marker, one card and one ink pad are out."""
    path = tmp_path / "drawer.csv"
    path.write_text(
        "name,kind,hex,out,price\n"
        "leaf pale,marker,#b7cf9a,,2.50\n"
        "leaf mid,marker,#7d9a5a,empty,2.50\n"
        "leaf deep,marker,#556b3a,,3\n"
        "fog,marker,#9aa0a2,no,2\n"
        "white card,paper,#f7f6f2,,\n"
        "moss card,paper,#7d9a5a,yes,\n"
        "barn card,paper,#8a3b2e,,\n"
        "sky card,paper,#a9c4dc,,\n"
        "soot,ink,#1c1c1c,lent,\n"
        "bark,ink,#4a3627,,\n",
        encoding="utf-8",
    )
    return read_palette(path)


def test_what_is_out_is_in_the_palette_and_in_no_advice(drawer):
    assert drawer.marker("leaf mid").out
    pair = blendkit.find_pair(drawer, "leaf pale", count=9)
    assert "leaf mid" not in {one.name for one in (*pair.shadow, *pair.light)}
    assert "leaf deep" in {one.name for one in pair.shadow}
    match = blendkit.find_matches(drawer, "#7d9a5a")
    assert not {"moss card", "soot"} & {one.name for one in match.matches}
    kit = find_kit(drawer, [Target("#7d9a5a", 3.0)])
    assert "leaf mid" not in {one.marker.name for one in kit.markers}
    assert "leaf mid" not in {need.base for need in find_gaps(drawer).needs}
    schemes = blendkit.find_schemes(drawer, ["leaf pale"])
    used = {one.name for scheme in schemes.schemes for one in (scheme.base, scheme.mat, scheme.accent)}
    assert "moss card" not in used


def test_what_is_out_can_be_asked_about_and_looks_as_it_does(drawer):
    here = blendkit.find_pair(drawer.at_hand(), "leaf mid")
    assert here.base.name == "leaf mid"
    assert here.base.lab == pytest.approx(drawer.marker("leaf mid").lab, abs=0.05)


def test_what_is_named_is_left_out_too(drawer):
    without = drawer.at_hand(["leaf-deep"])
    assert {item.name for item in without.away} == {"leaf mid", "leaf deep", "moss card", "soot"}
    with pytest.raises(PaletteError, match="isn't at hand"):
        without.marker("leaf deep")
    with pytest.raises(PaletteError):
        drawer.at_hand(["no such marker"])


def test_prices_are_numbers_and_an_odd_word_is_refused(drawer, tmp_path):
    assert drawer.marker("leaf pale").price == 2.5
    assert drawer.paper("white card").price is None
    path = tmp_path / "odd.csv"
    path.write_text("name,kind,hex,out,price\nfog,marker,#9aa0a2,perhaps,-2\n", encoding="utf-8")
    with pytest.raises(PaletteError) as refused:
        read_palette(path)
    assert {"out", "price"} <= {problem.where.split()[-1] for problem in refused.value.problems}


def test_a_budget_is_kept_and_what_is_beyond_it_is_named(drawer):
    wanted = [Target("#b7cf9a", 3.0, "leaf"), Target("#556b3a", 3.0, "shade"), Target("#9aa0a2", 3.0, "mist")]
    kit = find_kit(drawer, wanted, layered=False, budget=4.6)
    assert kit.price <= 4.6
    assert sum(target.met for target in kit.targets) == 2  # 2.50 and 2; the third would cost 3 more
    assert "Beyond the budget" in " ".join(kit.words)
    assert sum(target.met for target in find_kit(drawer, wanted, layered=False, budget=8).targets) == 3


def test_purchases_keep_to_the_budget_and_have_prices(drawer, tmp_path):
    path = tmp_path / "shop.csv"
    path.write_text(
        "name,kind,hex,price\nfern,marker,#8fa86b,4\nfern deep,marker,#6f8850,\nfog deep,marker,#6d7275,9\n",
        encoding="utf-8",
    )
    shop = read_palette(path)
    for budget in (3.0, 4.0, 13.0):
        offer = find_gaps(drawer, shop=shop, purchases=3, budget=budget).shop
        assert all(one.price is not None for one in offer.purchases)
        assert sum(one.price for one in offer.purchases) <= budget
