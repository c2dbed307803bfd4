"""Accents: one cue for each kind of thing that happens, and none for what does not."""

import random
from dataclasses import replace

from eavesong.colours import parse_colour
from eavesong.draft import accents
from eavesong.draft.cast import cast_of, union
from eavesong.draft.cue import Draft
from eavesong.draft.likeness import costumes_of
from eavesong.draft.looks import looks_of
from eavesong.draft.moods import choices, luminance
from eavesong.music import Event, Events


def found(song, house):
    rng, cast = random.Random(1), cast_of(house)
    return looks_of(song, cast, costumes_of(song, cast, choices(()), rng), rng)


def effects(cues):
    return {cue.effect for cue in cues}


def test_what_happens_is_answered(song, house):
    looks = found(song, house)
    assert {"roll", "gather"} <= effects(accents.behind(song, cast_of(house), looks))
    assert {"strike", "hush", "burst", "unveil"} <= effects(accents.above(song, looks, 0.3))


def test_what_does_not_happen_is_not(song, house):
    plain = replace(song, events=Events())
    looks = found(plain, house)
    seen = effects(accents.behind(plain, cast_of(house), looks)) | effects(accents.above(plain, looks, 0.3))
    assert not seen & {"contour", "roll", "gather", "hush", "burst"}


def melodies(song, house, looks):
    return [cue for cue in accents.behind(song, cast_of(house), looks) if cue.effect == "contour"]


def led_by(looks, house, name):
    family = next(family for family in cast_of(house).families if family.name == name)
    return {letter: replace(look, leaders=(family,), support=(), rest=()) for letter, look in looks.items()}


def test_the_melody_is_drawn_where_its_screen_is_dark(song, house):
    looks = found(song, house)
    (cue,) = melodies(song, house, led_by(looks, house, "roof"))
    assert "grid" in cue.on[0]
    assert not melodies(song, house, led_by(looks, house, "centre"))


def test_a_quick_melody_could_flash_and_is_not_drawn(song, house):
    """More than three flashes in any second are too many (WCAG 2.2)."""
    looks = led_by(found(song, house), house, "roof")
    notes = [Event(32 + 0.25 * at, "lead", at % 7 / 7) for at in range(64)]
    assert not melodies(replace(song, events=Events.of(notes)), house, looks)
    assert melodies(replace(song, events=Events.of(notes[::2])), house, looks)


def test_fills_are_too_faint_to_flash(song, house):
    """A change of a tenth of full white's luminance is a flash (WCAG 2.2)."""
    cues = {cue.effect: cue for cue in accents.behind(song, cast_of(house), found(song, house))}
    assert cues["roll"].opacity * max(luminance(colour) for colour in accents.ACCENT) < 0.1


def test_windows_are_lit_wherever_they_have_no_other_part(song, house):
    cast = cast_of(house)
    front = next(family for family in cast.families if family.name == "front")
    roof = next(family for family in cast.families if family.name == "roof")
    trees = next(family for family in cast.families if family.name == "trees")

    def windows(on, *bars):
        cues = [Draft("", "", "plain", on, bars), Draft("", "", "plain", trees.on, ((1.0, 49.0),))]
        return list(accents.standing(song, cast, cues))

    (alone,) = windows(roof.on, (1.0, 49.0))
    assert alone.effect == "wick"
    assert not alone.bars
    (beside,) = windows(union((roof, front)), (9.0, 17.0))
    assert beside.bars == ((1.0, 9.0), (17.0, 49.0))
    assert not windows(front.on, (1.0, 49.0))


def test_trees_stand_wherever_they_have_no_other_part(song, house):
    cast = cast_of(house)
    front, trees = (next(each for each in cast.families if each.name == name) for name in ("front", "trees"))
    cues = [Draft("", "", "plain", front.on, ((1.0, 49.0),)), Draft("", "", "plain", trees.on, ((9.0, 17.0),))]
    (cue,) = accents.standing(song, cast, cues)
    assert cue.on == trees.on
    assert cue.bars == ((1.0, 9.0), (17.0, 49.0))


def test_accents_make_tints_and_no_brown(song, house):
    """Cold white over any colour, or more of the light that is there: brown is dim yellow or orange."""
    for cue in (
        *accents.behind(song, cast_of(house), found(song, house)),
        *accents.above(song, found(song, house), 0.3),
    ):
        if cue.palette == "brighter":
            assert cue.blend == "color-dodge"
        if cue.palette == "accent":
            assert cue.blend == "plus-lighter"
    for colour in (*accents.ACCENT, *accents.SPARK):
        red, green, blue = parse_colour(colour)
        assert red <= green <= blue
