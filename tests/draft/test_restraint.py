"""Restraint: soft bars are darker, in a few steps, and a song as loud all through is not dimmed."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from drafted import grid_of, signals_of
from eavesong.draft.cue import Draft
from eavesong.draft.form import form_of
from eavesong.draft.restraint import MOST, STEPS, to_spare, veils, wanted
from eavesong.music import Events


def light_of(form, cues):
    light = np.ones(len(form.strengths))
    for cue in cues:
        for start, end in cue.bars:
            light[int(start) - form.first : int(end) - form.first] *= 1 - cue.opacity
    return light


def test_soft_bars_are_darker_where_looks_give_the_same(song):
    cues = list(veils(song, np.full(48, 0.3)))
    light = light_of(song, cues)
    assert 0 < len(cues) < STEPS
    assert light[:8].max() < 0.5 * light[17:24].min()
    assert light.max() == 1


def test_looks_that_are_dark_already_are_left_alone(song):
    dark = np.where(np.arange(48) < 8, 0.02, 0.5)
    light = light_of(song, veils(song, dark))
    assert light[:8].min() == 1


def test_darker_bars_are_dimmed_again_so_that_light_goes_down_step_by_step(song):
    cues = list(veils(song, np.full(48, 0.3)))
    bars = [{bar for start, end in cue.bars for bar in range(int(start), int(end))} for cue in cues]
    assert len(bars) > 2
    assert all(more >= fewer for more, fewer in pairwise(bars))
    assert len({cue.opacity for cue in cues}) == 1
    assert all(cue.fade_in > 0 == cue.fade_out for cue in cues)


def test_who_takes_turns_from_bar_to_bar_is_not_dimmed_for_it(song):
    turning = np.where(np.arange(48) % 2, 0.4, 0.2)
    assert light_of(song, veils(song, turning)) == pytest.approx(light_of(song, veils(song, np.full(48, 0.3))))


def test_a_chorus_is_larger_than_a_verse_as_loud(song):
    grid = grid_of()
    form = form_of(grid, signals_of(grid, {"A": 0.2, "B": 0.8, "C": 0.8}), Events())
    light = light_of(form, veils(form, np.full(48, 0.3)))
    assert light[9:15].max() < light[17:23].min()


def test_a_chorus_grows_each_time_it_comes(song):
    grid = grid_of(
        plan=(("A", "high", 16), ("B", "steady", 8), ("A", "high", 16), ("B", "steady", 8), ("A", "high", 16))
    )
    form = form_of(grid, signals_of(grid, {"A": 0.8, "B": 0.4}), Events())
    first, second, third = (wanted(form)[part.start - form.first] for part in form.parts_of("a"))
    assert first < second < third


def test_what_returns_is_known_again_by_how_bright_it_is(song):
    """Half of what is louder in it the second time is not followed."""
    grid = grid_of()
    form = form_of(grid, signals_of(grid, {"A": 0.1, "B": 0.5, "C": 0.9}), Events())
    louder = form.strengths.copy()
    second = form.parts_of("b")[1]
    louder[second.start - form.first : second.end - form.first] = 0.9
    first = form.parts_of("b")[0].start - form.first
    bright = wanted(replace(form, strengths=louder))
    again = second.start - form.first
    before = wanted(form)
    assert before[first] == pytest.approx(before[again])
    assert before[again] < bright[first] < bright[again]


def test_a_song_as_loud_all_through_of_one_kind_is_not_dimmed():
    grid = grid_of(plan=(("A", "steady", 16), ("B", "steady", 16), ("C", "steady", 16)))
    form = form_of(grid, signals_of(grid, dict.fromkeys("ABC", 0.8)), Events())
    assert not list(veils(form, np.full(48, 0.3)))


def test_a_song_as_loud_all_through_has_its_rests():
    grid = grid_of()
    form = form_of(grid, signals_of(grid, dict.fromkeys("ABC", 0.8)), Events())
    light = light_of(form, veils(form, np.full(48, 0.3)))
    assert light[:8].max() < light[16:24].min()


def test_a_long_show_is_cut_to_what_people_read_shortest_first():
    firm = [Draft(f"firm {number}", "", "plain") for number in range(50)]
    spare = [Draft(f"spare {length}", "", "plain", bars=((1, 1 + length),), spare=True) for length in range(1, 21)]
    gone = to_spare([*spare, *firm], 240.0)
    assert len(firm) + len(spare) - len(gone) + STEPS - 1 == MOST
    assert gone == spare[:15]
    assert not to_spare([*spare, *firm], 480.0)
    assert not to_spare(firm, 60.0)
