"""The drawer's trays."""

import pytest

from blendkit.advice.gaps import find_gaps
from blendkit.desk.looks import ARRANGEMENTS, arrange
from blendkit.inked import ink_drawer


@pytest.mark.parametrize("by", ARRANGEMENTS)
def test_every_marker_lies_in_one_tray_lightest_first(demo, by):
    """Nothing is lost or shown twice, and no tray is empty."""
    inked = ink_drawer(demo)
    trays = arrange(inked, by, find_gaps(demo) if by == "gap" else None)
    names = [name for tray in trays for name in tray.names]
    assert sorted(names) == sorted(marker.name for marker in demo.markers)
    for tray in trays:
        lightness = [inked.lab[inked.row(name), 0] for name in tray.names]
        assert lightness == sorted(lightness, reverse=True)
        assert lightness


def test_families_stay_together(demo):
    """A tray by family is that family."""
    trays = {tray.title: set(tray.names) for tray in arrange(ink_drawer(demo), "family")}
    for family, members in demo.families.items():
        assert trays[family] == {marker.name for marker in members}


def test_what_is_missing_is_what_the_gaps_say(demo):
    """A marker lies under “No shadow” exactly when the gap advice lacks its shadow alone."""
    gaps = find_gaps(demo)
    trays = {tray.title: set(tray.names) for tray in arrange(ink_drawer(demo), "gap", gaps)}
    lack_shadow = {need.base for need in gaps.needs if need.lacks == "shadow"}
    lack_light = {need.base for need in gaps.needs if need.lacks == "light"}
    assert trays.get("No shadow", set()) == lack_shadow - lack_light
    assert trays.get("No light", set()) == lack_light - lack_shadow
    assert not trays["Complete"] & (lack_shadow | lack_light)
