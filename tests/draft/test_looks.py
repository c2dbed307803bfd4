"""Looks: the same letter looks the same, neighbours differ, returns add, and the last time everybody is there."""

import random

import pytest

from eavesong.draft.cast import cast_of
from eavesong.draft.looks import CALM, FULL, SHADES, cues_of, looks_of, shades_of
from eavesong.draft.moods import colours_for


def looks(song, house, seed=1):
    rng = random.Random(seed)
    return looks_of(song, cast_of(house), colours_for(shades_of(song), (), rng), rng)


@pytest.mark.parametrize("seed", range(8))
def test_neighbours_differ_in_two_things_at_least(song, house, seed):
    found = looks(song, house, seed)
    for one, other in (("a", "b"), ("b", "c")):
        a, b = found[one], found[other]
        differ = [a.leaders[0] != b.leaders[0], a.colours != b.colours, a.moving != b.moving, a.tier != b.tier]
        assert sum(differ) >= 2


def test_what_sounds_least_alike_is_farthest_apart(song):
    assert shades_of(song) == {"a": 0, "b": pytest.approx(1.5, abs=0.5), "c": SHADES - 1}


def test_strong_parts_are_full_and_soft_ones_calm(song, house):
    found = looks(song, house)
    assert found["a"].tier == CALM
    assert found["c"].tier == FULL


def test_a_letter_is_lit_whenever_it_comes(song, house):
    for letter, look in looks(song, house).items():
        cues = [cue for _, cue in cues_of(look, song, 0.3)]
        wanted = tuple((part.start, part.end) for part in song.parts_of(letter))
        assert cues[0].bars == wanted


def test_who_leads_changes_from_phrase_to_phrase(song, house):
    leads = [cue for _, cue in cues_of(looks(song, house)["c"], song, 0.3) if "lead" in cue.name]
    assert len(leads) == 2
    first, second = ({bar for a, b in cue.bars for bar in range(int(a), int(b))} for cue in leads)
    assert not first & second
    assert first | second == {*range(17, 25), *range(33, 49)}


def test_the_last_time_everybody_is_there(song, house):
    cues = [cue for number, cue in cues_of(looks(song, house)["c"], song, 0.3) if number == 4]
    assert cues[0].on == ("all",)


def test_drums_are_followed_where_there_are_some(song, house):
    found = looks(song, house)
    assert found["c"].drums is not None
    assert found["a"].drums is None
