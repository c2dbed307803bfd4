"""What lies beneath: some of the shape of a house is always lit, and strokes are too faint to flash."""

import pytest

from drafted import looks
from eavesong.draft.beneath import at_rest, name_of, strokes
from eavesong.draft.cast import cast_of
from eavesong.draft.moods import luminance, yellow
from eavesong.draft.seen import OUTLINES


def bars_of(cues):
    return {bar for cue in cues for start, end in cue.bars for bar in range(int(start), int(end))}


@pytest.mark.parametrize("seed", range(4))
def test_roof_trees_and_screens_are_dark_in_calm_parts_only(song, house, seed):
    """Elsewhere something moves on them in every bar, or they rest; never both, since two colours would mix."""
    found, cast = looks(song, house, seed), cast_of(house)
    resting = list(at_rest(song, cast, found))
    for family in cast.families:
        if family.name in ("roof", "trees", "centre"):
            moving = {bar for look in found.values() for bar in look.seen(song).get(family, ())}
            still = bars_of(cue for cue in resting if family.on[0] in cue.on[0])
            assert moving | still >= {*range(9 if family.name in OUTLINES else 1, 49)}
            assert not moving & still


@pytest.mark.parametrize("seed", range(4))
def test_one_outline_stays_in_calm_parts(song, house, seed):
    """The shape of the house or the trees is seen in every bar; not both of them in all of these."""
    found, cast = looks(song, house, seed), cast_of(house)
    seen = {family: {*bars} for family, bars in found["a"].seen(song).items()}
    for family, bars in found["a"].at_rest(song).items():
        seen.setdefault(family, set()).update(bars)
    roof, trees = (next(bars for family, bars in seen.items() if family.name == name) for name in OUTLINES)
    assert roof | trees == {*range(1, 9)}
    assert len(roof & trees) < 8
    assert {family.name for family in cast.families} > {*OUTLINES}


def test_a_screen_at_rest_shows_a_star_or_diamonds_and_is_no_slab(song, house):
    """And none of them for longer than four bars."""
    cues = [cue for cue in at_rest(song, cast_of(house), looks(song, house)) if "grid" in cue.on[0]]
    assert {cue.effect for cue in cues} <= {"emblem", "lozenges"}
    assert max(end - start for cue in cues for start, end in cue.bars) <= 4


@pytest.mark.parametrize("seed", range(4))
def test_strokes_are_too_faint_to_flash(song, house, seed):
    """A change of a tenth of full white's luminance is a flash (WCAG 2.2)."""
    found = looks(song, house, seed)
    deeps = {name_of(look.colours.deep, found): look.colours.deep for look in found.values()}
    for cue in strokes(song, cast_of(house), found):
        assert cue.blend == "plus-lighter"
        assert cue.opacity * luminance(deeps[cue.palette]) < 0.1


def test_nobody_in_yellow_feels_strokes(song, house):
    """Blue light beside yellow makes it peach or grey (by eye)."""
    for seed in range(6):
        found, cast = looks(song, house, seed), cast_of(house)
        felt = list(strokes(song, cast, found))
        for family in cast.families:
            there = bars_of(cue for cue in felt if family.on[0] in cue.on[0])
            for look in found.values():
                bars = look.seen(song).get(family, frozenset())
                for other, here in enumerate((bars - look.exchanged, bars & look.exchanged)):
                    if yellow(look.colours.main) and look.palette_of(family, bool(other)) == look.letter:
                        assert not there & here
