"""Pictures: the same letter looks the same, nothing goes out in a part, returns add, and at last everybody is there."""

import pytest

from drafted import looks
from eavesong.draft.cast import GARDEN, cast_of
from eavesong.draft.pictures import cues_of


def bars_of(cues):
    return {bar for cue in cues for start, end in cue.bars for bar in range(int(start), int(end))}


@pytest.mark.parametrize("seed", range(4))
def test_a_letter_is_lit_whenever_it_comes(song, house, seed):
    for letter, look in looks(song, house, seed).items():
        cues = [cue for _, cue in cues_of(look, song, 0.3)]
        wanted = {bar for part in song.parts_of(letter) for bar in range(part.start, part.end)}
        assert bars_of(cue for cue in cues if f"{cue.palette} ".startswith(f"{letter} ")) == wanted


def test_each_side_of_the_picture_has_one_colour(song, house):
    """What hangs on the house in one, what stands in its garden in the other; where they are exchanged, both are."""
    families = {family.called: family for family in cast_of(house).families}
    for look in looks(song, house).values():
        for _, cue in cues_of(look, song, 0.3):
            if cue.palette != "spark":
                who = [family for called, family in families.items() if family.on[0] in cue.on[0]]
                exchanged = bars_of([cue]) & look.exchanged
                assert exchanged in (bars_of([cue]), set())
                assert {look.palette_of(family, bool(exchanged)) for family in who} == {cue.palette}
        sides = {family.name in GARDEN: look.palette_of(family) for family in families.values()}
        assert len({*sides.values()}) == 2


def test_nobody_is_dark_for_the_whole_song(song, house):
    for seed in range(8):
        found = looks(song, house, seed).values()
        lit = {family for look in found for family in look.seen(song)}
        assert lit == {*cast_of(house).families}


def test_what_moves_never_goes_out(song, house):
    """Roofs and trees stay through a part: all that moves leaves light behind, or runs along the whole of a wire."""
    for look in looks(song, house).values():
        for _, cue in cues_of(look, song, 0.3):
            if cue.effect in ("swell", "helix", "lozenges", "ebb") and "lead" not in cue.name:
                assert cue.parameters["least"] >= 0.08


def test_who_leads_changes_from_phrase_to_phrase(song, house):
    look = looks(song, house)["c"]
    leads = [cue for _, cue in cues_of(look, song, 0.3) if "lead" in cue.name]
    first, second = (bars_of(cue for cue in leads if cue.on == family.on) for family in look.leaders)
    assert not first & second
    assert first | second == {*range(17, 25), *range(33, 49)}


def test_the_last_time_everybody_is_there(song, house):
    look = looks(song, house)["c"]
    cues = [cue for number, cue in cues_of(look, song, 0.3) if number == 4]
    last = {*range(33, 49)}
    assert {family for family, bars in look.seen(song).items() if bars >= last} == {*cast_of(house).families}
    assert cues[-1].effect == "glimmer"
    for family in cast_of(house).families:  # over what strikes sparks would be one change too many in a second
        assert (family.on[0] in cues[-1].on[0]) != (family in look.leaders)
