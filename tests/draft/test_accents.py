"""Accents: one cue for each kind of thing that happens, and none for what does not."""

import random
from dataclasses import replace

from eavesong.draft import accents
from eavesong.draft.cast import cast_of
from eavesong.draft.likeness import costumes_of
from eavesong.draft.looks import looks_of
from eavesong.draft.moods import choices, luminance
from eavesong.music import Events


def found(song, house):
    rng, cast = random.Random(1), cast_of(house)
    return looks_of(song, cast, costumes_of(song, cast, choices(()), rng), rng)


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


def test_the_melody_is_drawn_where_its_screen_is_dark(song, house):
    looks = found(song, house)
    cue = next(cue for cue in accents.behind(song, cast_of(house), looks) if cue.effect == "contour")
    dark = [part for part in song.parts if "centre" not in looks[part.letter].lit]
    assert sum(end - start for start, end in cue.bars) == sum(part.end - part.start for part in dark) > 0


def test_the_melody_and_fills_are_too_faint_to_flash(song, house):
    """A change of a tenth of full white's luminance is a flash (WCAG 2.2)."""
    cues = {cue.effect: cue for cue in accents.behind(song, cast_of(house), found(song, house))}
    assert cues["contour"].opacity * max(luminance(colour) for colour in accents.LINE) < 0.1
    assert cues["roll"].opacity * max(luminance(colour) for colour in accents.ACCENT) < 0.1


def test_windows_are_lit_all_through():
    (cue,) = accents.below()
    assert cue.effect == "wick"
    assert not cue.bars
