"""Looks: neighbours differ, strength tells how full they are, and what moves changes with the phrase."""

import pytest

from drafted import looks
from eavesong.draft.form import CALM, FULL


@pytest.mark.parametrize("seed", range(8))
def test_neighbours_differ_in_two_things_at_least(song, house, seed):
    found = looks(song, house, seed)
    for one, other in (("a", "b"), ("b", "c")):
        a, b = found[one], found[other]
        differ = [a.leaders[0] != b.leaders[0], a.colours != b.colours, a.moving != b.moving, a.tier != b.tier]
        assert sum(differ) >= 2


def test_strong_parts_are_full_and_soft_ones_calm(song, house):
    found = looks(song, house)
    assert found["a"].tier == CALM
    assert found["c"].tier == FULL


def test_what_moves_changes_with_the_phrase(song, house):
    """On two of those who are lit all through at least, where no strokes are followed."""
    for seed in range(6):
        for look in looks(song, house, seed).values():
            if look.drums is None:
                pairs = [look.moving[family.name] for family in {*look.leaders, *look.support}]
                assert sum(one != other for one, other in pairs) >= len(pairs) - 1


def test_a_strong_part_shows_the_shape_of_the_house(song, house):
    for seed in range(8):
        assert all("roof" in look.lit for look in looks(song, house, seed).values() if look.tier != CALM)


def test_drums_are_followed_where_there_are_some(song, house):
    found = looks(song, house)
    assert found["c"].drums is not None
    assert found["a"].drums is None
