"""The form: parts in whole bars, what returns, phrases, and strengths that follow the loudness."""

from dataclasses import replace

import numpy as np
import pytest

from drafted import events_of, grid_of, signals_of
from eavesong.draft.form import CALM, FULL, LONGEST_PHRASE, STEADY, form_of
from eavesong.music import Events


def test_parts_are_the_sections_in_bars(song):
    assert [(part.label, part.start, part.end) for part in song.parts] == [
        ("A", 1, 9), ("B", 9, 17), ("C", 17, 25), ("B", 25, 33), ("C", 33, 49)
    ]  # fmt: skip
    assert [(part.turn, part.turns) for part in song.parts] == [(1, 1), (1, 2), (1, 2), (2, 2), (2, 2)]


def test_louder_parts_are_stronger(song):
    assert song.strength_of("a") < song.strength_of("b") < song.strength_of("c")
    assert song.bars(17, 25) == pytest.approx(np.full(8, song.strengths[16]), abs=0.02)


def test_choruses_are_fuller_than_verses_that_are_as_loud():
    grid = grid_of()
    even = form_of(grid, signals_of(grid, dict.fromkeys("ABC", 0.8)), Events())
    assert even.strength_of("a") == pytest.approx(even.strength_of("c"))
    assert even.fullness_of("a") < even.fullness_of("b") < even.fullness_of("c")


def test_phrases_fill_their_part_and_are_none_too_long(song):
    for part in song.parts:
        assert part.phrases[0][0] == part.start
        assert part.phrases[-1][1] == part.end
        assert all(a[1] == b[0] for a, b in zip(part.phrases[:-1], part.phrases[1:], strict=True))
        assert all(0 < end - start <= LONGEST_PHRASE for start, end in part.phrases)


def test_a_section_without_phrases_is_parted():
    plan = (("A", "steady", 27),)
    form = form_of(grid_of(plan=plan), signals_of(grid_of(plan=plan)), Events())
    assert all(end - start <= LONGEST_PHRASE for start, end in form.parts[0].phrases)
    assert sum(end - start for start, end in form.parts[0].phrases) == 27


def test_a_song_without_sections_is_one_part():
    grid = replace(grid_of(), sections=())
    form = form_of(grid, signals_of(grid_of()), Events())
    assert [(part.label, part.start, part.end) for part in form.parts] == [("song", 1, 49)]


def test_a_pickup_is_bar_0():
    grid = grid_of()
    late = replace(grid, times=tuple(at + 1.0 for at in grid.times), positions=(3, 4, *grid.positions[:-2]))
    form = form_of(late, signals_of(grid), events_of(grid))
    assert form.first == 0
    assert form.parts[0].start == 0


def test_a_few_milliseconds_before_the_first_downbeat_are_no_pickup():
    grid = grid_of()
    late = replace(grid, times=tuple(at + 0.004 for at in grid.times))
    form = form_of(late, signals_of(grid), events_of(grid))
    assert form.first == 1
    assert form.parts[0].start == 1


def test_a_silent_song_has_a_form():
    grid = grid_of()
    form = form_of(grid, signals_of(grid, dict.fromkeys("ABC", 0.0)), Events())
    assert np.ptp(form.strengths) == 0
    assert form.range == 0


def test_sounds_are_standardised_and_tell_letters_apart(song):
    assert np.allclose(song.sounds.mean(axis=0), 0, atol=1e-6)
    assert np.linalg.norm(song.sound_of("a") - song.sound_of("c")) > np.linalg.norm(
        song.sound_of("a") - song.sound_of("b")
    )


def test_what_is_as_loud_as_a_chorus_leaves_it_room_where_one_is_to_come():
    """One letter, called high once: what comes before is less full; after the last, all of it is."""
    grid = grid_of(plan=(("A", "quiet", 8), ("B", "steady", 16), ("B", "high", 16), ("B", "steady", 8)))
    form = form_of(grid, signals_of(grid, {"A": 0.2, "B": 0.9}), Events())
    assert [part.tier for part in form.parts] == [CALM, STEADY, FULL, FULL]


def test_rests_are_calm_however_loud():
    grid = grid_of(plan=(("A", "high", 16), ("A", "break", 8), ("B", "steady", 8), ("A", "high", 16)))
    form = form_of(grid, signals_of(grid, {"A": 0.9, "B": 0.3}), Events())
    assert [part.tier for part in form.parts][::3] == [FULL, FULL]
    assert form.parts[1].tier == CALM
