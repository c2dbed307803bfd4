"""Accents: one cue for each kind of thing that happens, and none for what does not."""

import random
from dataclasses import replace

from eavesong.draft import accents
from eavesong.draft.cast import cast_of
from eavesong.draft.looks import looks_of, shades_of
from eavesong.draft.moods import colours_for, luminance
from eavesong.music import Events


def found(song, house):
    rng = random.Random(1)
    return looks_of(song, cast_of(house), colours_for(shades_of(song), (), rng), rng)


def effects(cues):
    return {cue.effect for cue in cues}


def test_what_happens_is_answered(song, house):
    looks = found(song, house)
    assert {"contour", "roll", "gather"} <= effects(accents.behind(song, cast_of(house), looks))
    assert {"strike", "hush", "burst", "unveil"} <= effects(accents.above(song, looks, 0.3))


def test_what_does_not_happen_is_not(song, house):
    plain = replace(song, events=Events())
    looks = found(plain, house)
    seen = effects(accents.behind(plain, cast_of(house), looks)) | effects(accents.above(plain, looks, 0.3))
    assert not seen & {"contour", "roll", "gather", "hush", "burst"}


def test_the_melody_and_strokes_are_too_faint_to_flash(song, house):
    """A change of a tenth of full white's luminance is a flash (WCAG 2.2)."""
    looks = found(song, house)
    cues = {cue.effect: cue for cue in accents.behind(song, cast_of(house), looks)}
    assert cues["contour"].opacity * max(luminance(look.colours.light) for look in looks.values()) < 0.1
    assert cues["stir"].opacity * max(luminance(colour) for colour in accents.ACCENT) < 0.1
