"""Accents: one cue for each kind of thing that happens, and none for what does not."""

import random
from dataclasses import replace
from itertools import pairwise

import pytest

from eavesong.colours import parse_colour
from eavesong.draft import accents
from eavesong.draft.cast import cast_of
from eavesong.draft.form import CALM, FULL
from eavesong.draft.likeness import costumes_of
from eavesong.draft.looks import looks_of
from eavesong.draft.moods import choices, luminance
from eavesong.music import Event, Events


def found(song, house):
    rng, cast = random.Random(1), cast_of(house)
    return looks_of(song, cast, costumes_of(song, cast, choices(()), rng), rng)


def effects(cues):
    return {cue.effect for cue in cues}


def bars_of(cues):
    return {bar for cue in cues for start, end in cue.bars for bar in range(int(start), int(end))}


def test_what_happens_is_answered(song, house):
    looks = found(song, house)
    assert {"roll", "gather"} <= effects(accents.behind(song, cast_of(house), looks, 0.3))
    assert {"strike", "hush", "burst", "unveil"} <= effects(accents.above(song, cast_of(house), 0.3))


@pytest.mark.parametrize("bars", [0.1, 0.5, 0.9, 1.0])
def test_the_house_is_dark_before_a_song_is_over_that_ends_inside_its_last_bar(song, house, bars):
    begin, end = (song.grid.time_of_bar(bar - 1) for bar in (song.last - 1, song.last))
    cut = replace(song, grid=replace(song.grid, duration=begin + bars * (end - begin)))
    (dark,) = [cue for cue in accents.above(cut, cast_of(house), 0.3) if cue.name == "Dark at the end"]
    ((first, _),) = dark.bars
    beats = dark.parameters["beats"]
    started = float(cut.grid.musical_time([cut.grid.time_of_bar(first - 1)]).beat[0])
    assert 3 <= beats <= 8
    assert cut.grid.duration - 0.5 < cut.grid.time_of_beat(started + beats) <= cut.grid.duration + 1e-6


def test_what_does_not_happen_is_not(song, house):
    plain = replace(song, events=Events())
    looks = found(plain, house)
    seen = effects(accents.behind(plain, cast_of(house), looks, 0.3)) | effects(
        accents.above(plain, cast_of(house), 0.3)
    )
    assert not seen & {"contour", "roll", "gather", "hush", "burst"}


def stops(song, house, seconds):
    events = Events.of([Event(20.0, "stop", 1.0), Event(20.0 + seconds, "stop-end", 1.0)])
    form = replace(song, events=events)
    (cue,) = [cue for cue in accents.above(form, cast_of(house), 0.3) if cue.effect == "hush"]
    return cue


def test_windows_stay_lit_where_the_song_stops_and_long_stops_are_not_quite_dark(song, house):
    short, long = stops(song, house, 1.0), stops(song, house, 4.0)
    assert "not (window or door)" in short.on[0]
    assert "depth" not in short.parameters
    assert long.parameters["depth"] < 1


def swept(song, house, looks, calm=0.3):
    return [cue for cue in accents.behind(song, cast_of(house), looks, calm) if cue.effect == "crossing"]


def test_full_parts_are_swept_and_no_others(song, house):
    looks = found(song, house)
    (cue,) = swept(song, house, looks)
    full = {bar for part in song.parts if part.tier == FULL for bar in range(part.start, part.end)}
    assert bars_of([cue]) == full
    assert cue.parameters["beats"] == 2 * song.metre


def test_nothing_sweeps_where_all_is_soft_or_somebody_wants_calm(song, house):
    looks = found(song, house)
    assert not swept(song, house, looks, calm=0.9)
    soft = replace(song, parts=tuple(replace(part, tier=CALM) for part in song.parts))
    assert not swept(soft, house, looks)


def breaths(song, house):
    return [cue for cue in accents.above(song, cast_of(house), 0.3) if cue.name == "A breath"]


def test_the_house_goes_down_for_a_bar_before_what_is_full(song, house):
    plain = replace(song, events=Events())
    bars = bars_of(breaths(plain, house))
    steps = [part.start for before, part in pairwise(song.parts) if before.tier < FULL == part.tier]
    assert steps
    assert bars == {start - 1 for start in steps}


def test_a_strong_part_opens_with_a_stroke_though_nothing_is_stressed_there(song, house):
    late = [Event(song.grid.time_of_bar(bar) + 0.5, "stress", 1.0) for bar in range(48)]
    form = replace(song, events=Events.of(late))
    (cue,) = [cue for cue in accents.above(form, cast_of(house), 0.3) if cue.effect == "strike"]
    assert {start for start, _ in cue.bars} == {17, 33}


def test_no_breath_is_taken_where_light_climbs(song, house):
    everywhere = Events.of([Event(0.0, "build", 1.0), Event(song.grid.duration, "build-end", 1.0)])
    assert not breaths(replace(song, events=everywhere), house)


def melodies(song, house, looks):
    return [cue for cue in accents.behind(song, cast_of(house), looks, 0.3) if cue.effect == "contour"]


def led_by(looks, house, name):
    family = next(family for family in cast_of(house).families if family.name == name)
    return {letter: replace(look, leaders=(family,), support=(), shape=()) for letter, look in looks.items()}


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
    cues = {cue.effect: cue for cue in accents.behind(song, cast_of(house), found(song, house), 0.3)}
    assert cues["roll"].opacity * max(luminance(colour) for colour in accents.ACCENT) < 0.1


def test_windows_are_lit_all_through():
    assert accents.WINDOWS.effect == "wick"
    assert not accents.WINDOWS.bars
    assert "window" in accents.WINDOWS.on[0]


def test_no_accent_blots_out_the_whole_house(song, house):
    """Nothing that strikes everywhere is white or at full light; hits leave the garden as it is (by eye)."""
    for cue in accents.above(song, cast_of(house), 0.3):
        if cue.blend == "plus-lighter" and cue.on == ("all",):
            assert cue.opacity <= 0.5
        if cue.effect == "burst":
            assert "not" in cue.on[0]
            assert "tree" in cue.on[0]


def test_accents_are_amber_as_windows_are(song, house):
    """More red than blue: white over a whole house would blot out its colours."""
    looks, cast = found(song, house), cast_of(house)
    for cue in (*accents.behind(song, cast, looks, 0.3), *accents.above(song, cast, 0.3)):
        if cue.palette == "brighter":
            assert cue.blend == "color-dodge"
        if cue.palette == "accent":
            assert cue.blend == "plus-lighter"
    for colour in accents.ACCENT:
        red, green, blue = parse_colour(colour)
        assert red >= green >= blue
