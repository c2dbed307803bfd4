"""Who wears what: neighbours differ, soft parts are cool, and what sounds alike looks more alike."""

import random
from dataclasses import replace

import numpy as np
import pytest

from drafted import grid_of, signals_of
from eavesong.colours import parse_colour
from eavesong.draft.cast import GARDEN, cast_of
from eavesong.draft.form import form_of
from eavesong.draft.likeness import REST, costumes_of, sides_of
from eavesong.draft.moods import AWAY, DULL, MOODS, WARM, choices, close
from eavesong.draft.seen import SHAPE
from eavesong.music import Events

LETTERS = "ABCDEFG"


@pytest.fixture(scope="module")
def varied():
    """Seven parts; sounds of two kinds, three letters of one and four of the other."""
    grid = grid_of(plan=tuple((letter, "", 8) for letter in LETTERS))
    form = form_of(grid, signals_of(grid, dict.fromkeys(LETTERS, 0.5)), Events())
    kinds = np.repeat([0.0 if letter in "ACE" else 1.0 for letter in LETTERS], 8)
    wobble = 0.1 * np.random.default_rng(1).normal(size=(len(kinds), 3))
    return replace(form, sounds=kinds[:, None] * np.array([1.0, -1.0, 1.0]) + wobble)


@pytest.mark.parametrize("seed", range(5))
def test_moods_are_handed_round_and_neighbours_are_told_apart(varied, house, seed):
    found = costumes_of(varied, cast_of(house), choices(()), random.Random(seed))
    moods = [each.colours.mood for each in found.values()]
    assert len({*moods}) >= len(choices(())) - 2  # of the few that belong together, some may not fit
    assert moods[-1] in moods[:-1]  # nobody sees new colours at the end
    for one, other in zip(LETTERS.lower(), LETTERS.lower()[1:], strict=False):
        sides = zip(sides_of(found[one]), sides_of(found[other]), strict=True)  # garden and house
        alike = all(close(mine, yours) for mine, yours in sides)
        assert not alike or found[one].families[0] != found[other].families[0]


def test_looks_lie_apart_as_sounds_do(varied, house):
    """Better than by chance, by the rank correlation of `scipy.stats`."""
    from scipy.spatial.distance import pdist
    from scipy.stats import spearmanr

    cast = cast_of(house)
    heard = pdist(np.array([varied.sound_of(letter) for letter in varied.letters]))

    def likeness(costumes):
        looks = []
        for each in costumes.values():
            resting = {name: REST * np.array(parse_colour(each.colours.deep)) for name in SHAPE}
            light = {family.name: np.cbrt(resting.get(family.name, np.zeros(3))) * family.share**0.5
                     for family in cast.families}  # fmt: skip
            first = each.families[0].name in GARDEN
            for family, share in zip(reversed(each.families), (0.4, 0.3, 0.6), strict=True):
                colour = each.colours.main if (family.name in GARDEN) == first else each.colours.beside
                light[family.name] = np.cbrt(share * np.array(parse_colour(colour))) * family.share**0.5
            looks.append(np.concatenate(list(light.values())))
        return spearmanr(pdist(np.array(looks)), heard)[0]

    tried = [likeness(costumes_of(varied, cast, choices(()), random.Random(seed))) for seed in range(8)]
    assert np.mean(tried) > 0.3


@pytest.fixture(scope="module")
def chosen(song, house):
    """What twenty seeds choose."""
    return [costumes_of(song, cast_of(house), choices(()), random.Random(seed)) for seed in range(20)]


def test_soft_parts_are_cool_and_strong_ones_warm(chosen):
    warm = [[MOODS[found[letter].colours.mood][0] in WARM for letter in "ac"] for found in chosen]
    assert np.mean([soft for soft, _ in warm]) < np.mean([strong for _, strong in warm])


def test_soft_parts_have_less_in_their_garden_that_looks_brown_or_grey_when_dim(chosen):
    def dull(costume):
        lamps = MOODS[costume.colours.mood][:2]
        return lamps[0 if costume.families[0].name in GARDEN else 1] in DULL

    soft, middling, strong = (np.mean([dull(found[letter]) for found in chosen]) for letter in "abc")
    assert soft < (middling + strong) / 2


def test_an_end_that_was_not_heard_before_is_what_the_beginning_was(house):
    grid = grid_of(plan=(("A", "quiet", 8), ("B", "steady", 16), ("C", "high", 16), ("D", "end", 8)))
    form = form_of(grid, signals_of(grid, {"A": 0.2, "B": 0.5, "C": 0.9, "D": 0.2}), Events())
    chosen = [costumes_of(form, cast_of(house), choices(()), random.Random(seed)) for seed in range(8)]
    assert all(found["d"] == found["a"] for found in chosen)


def test_what_takes_a_song_away_is_neither_its_beginning_nor_its_end(varied, house):
    for seed in range(5):
        found = costumes_of(varied, cast_of(house), choices((), 1), random.Random(seed))
        assert {found[letter].colours.mood for letter in "abg"} & AWAY == set()


ASKED = [["#3b0040", "#a3005f", "#ff3d7f"], ["#ffd9a0", "white"], ["#001a4d", "#0066a8", "#1fc7b6"]]


def asked(found, letters):
    return {found[letter].colours.asked for letter in letters}


def test_colours_of_two_palettes_are_never_taken_for_one_another():
    assert len({each.mood for each in choices(ASKED)}) == 8


@pytest.mark.parametrize("seed", range(12))
def test_each_palette_asked_for_is_worn_by_a_part_that_is_no_trifle_and_comes_before_the_end(house, seed):
    """B and D are too short to count, and E takes on the colours of another part: that leaves three for three."""
    form = of(A=16, B=4, C=16, D=4, A_=8, F=8, E=16)
    found = costumes_of(form, cast_of(house), choices(ASKED), random.Random(seed))
    assert asked(found, "acf") == {0, 1, 2}
    assert found["e"].colours in [found[letter].colours for letter in "abcdf"]


@pytest.mark.parametrize("seed", range(12))
def test_where_parts_are_few_short_ones_and_the_last_wear_a_palette_of_their_own(house, seed):
    cast = cast_of(house)
    for form in (of(A=16, B=4, A_=8, C=16), of(A=16, B=8, C=16)):
        assert asked(costumes_of(form, cast, choices(ASKED), random.Random(seed)), "abc") == {0, 1, 2}
    assert len(asked(costumes_of(of(A=16, B=8), cast, choices(ASKED), random.Random(seed)), "ab")) == 2


def of(**plan):
    """A song of parts as long as this, in bars; ``A_`` is A again."""
    grid = grid_of(plan=tuple((letter.rstrip("_"), "", bars) for letter, bars in plan.items()))
    return form_of(grid, signals_of(grid, dict.fromkeys(plan, 0.5)), Events())


def test_the_same_seed_chooses_the_same(song, house, chosen):
    assert costumes_of(song, cast_of(house), choices(()), random.Random(3)) == chosen[3]


def test_a_house_of_one_family_and_one_colour_is_enough(song, house):
    cast = cast_of(house)
    alone = replace(cast, families=cast.families[:1])
    found = costumes_of(song, alone, choices([["gold"]]), random.Random(1))
    assert {family for each in found.values() for family in each.families} == {cast.families[0]}
