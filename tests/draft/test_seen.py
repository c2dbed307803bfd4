"""Who is seen when: nobody is dark for most of a song, and what returns begins as it was."""

import pytest

from drafted import grid_of, looks, signals_of
from eavesong.draft.form import form_of
from eavesong.draft.seen import SHAPE, USED, exchanged_bars, phrases_of, turned_bars
from eavesong.music import Events


@pytest.fixture(scope="module")
def returning():
    """One letter for a minute, another, and the first again: bars of two seconds."""
    grid = grid_of(plan=(("A", "high", 32), ("B", "steady", 16), ("A", "high", 32)))
    return form_of(grid, signals_of(grid, {"A": 0.9, "B": 0.5}), Events())


def test_every_second_phrase_is_turned(returning):
    phrases = list(phrases_of(returning, "a"))
    turned = turned_bars(returning, "a")
    assert [phrase.start in turned for phrase in phrases] == [at % 2 == 1 for at in range(len(phrases))]


@pytest.mark.parametrize("seed", range(6))
def test_nobody_is_dark_for_most_of_a_song(song, house, seed):
    found = looks(song, house, seed)
    every = song.last - song.first
    families = {family for look in found.values() for family in (*look.leaders, *look.support, *look.extras)}
    for family in families:
        bars = sum(len(look.seen(song).get(family, ())) for look in found.values())
        assert family.name in SHAPE or bars >= USED * every


def test_colours_change_places_every_eight_bars_of_what_is_long(returning):
    """32 bars: as they are, exchanged, as they are, exchanged; before what would look the same it ends as it began."""
    first = {bar for bar in exchanged_bars(returning, "a") if bar < 33}
    assert first == {*range(9, 17), *range(25, 33)}
    assert {bar for bar in exchanged_bars(returning, "a", "b") if bar < 33} == {*range(9, 17)}
    assert not exchanged_bars(returning, "b")
