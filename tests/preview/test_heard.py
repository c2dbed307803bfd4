"""The picture of a song as it was heard: what stands in it stands at its time."""

from itertools import pairwise

import numpy as np
import pytest
import soundfile

from eavesong.music import BeatGrid, Event, Events, Reading, Section
from eavesong.music.kinds import KINDS
from eavesong.preview.heard import (
    BANDS,
    CLEAR,
    DIM,
    KIND_COLOURS,
    MEAN,
    MOST_ROWS,
    PARTS,
    SPANS,
    STROKES,
    SURENESS,
    TICKS,
    TOP,
    WAVE,
    _rows,
    heard_picture,
)
from eavesong.preview.ink import ACCENT, PAPER

RATE = 8_000
SECONDS = 41.0
TIMES = tuple(0.31 + 0.6 * k + 0.05 * np.sin(k) for k in range(67))
GRID = BeatGrid(
    TIMES,
    (3, *(k % 3 + 1 for k in range(66))),
    (Section(0.0, 10.0, "A", "quiet"), Section(10.0, 35.0, "B", "high"), Section(35.0, SECONDS, "A", "quiet")),
    SECONDS,
)


@pytest.fixture(autouse=True, scope="module")
def _own_cache(tmp_path_factory):
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("EAVESONG_CACHE", str(tmp_path_factory.mktemp("cache")))
        yield


@pytest.fixture(scope="module")
def song(tmp_path_factory):
    """A low tone, silent from 20 s to 25 s, and a burst of noise from 36.0 s to 36.2 s."""
    t = np.arange(round(SECONDS * RATE)) / RATE
    sound = 0.5 * np.sin(2 * np.pi * 80 * t) * ((t < 20) | (t >= 25))
    burst = (t >= 36) & (t < 36.2)
    sound[burst] += 0.5 * np.random.default_rng(1).uniform(-1, 1, burst.sum())
    path = tmp_path_factory.mktemp("song") / "song.wav"
    soundfile.write(path, sound, RATE)
    return path


@pytest.fixture(scope="module")
def sheet(song):
    sure = tuple(0.0 if time < 12 else 1.0 for time in TIMES)
    return heard_picture(song, GRID, Reading(GRID, 0.8, sure, ""), width=1400)


def ticks(sheet, row, line):
    """Columns of a row's line that are brighter than those beside them."""
    seen = sheet.picture[sheet.top(row) + line, sheet.left - 1 : sheet.right + 2].sum(axis=1).astype(int)
    return np.flatnonzero(seen > 250) + sheet.left - 1


def wanted(sheet, row, times):
    return [round(x) for at, x in map(sheet.place, times) if at == row]


@pytest.mark.parametrize("row", [0, 1])
def test_every_beat_has_its_tick_and_downbeats_have_taller_ones(sheet, row):
    low, high = TICKS[0] + TICKS[1] - 2, TICKS[0] + 1
    assert ticks(sheet, row, low).tolist() == wanted(sheet, row, GRID.times)
    assert ticks(sheet, row, high).tolist() == wanted(sheet, row, GRID.downbeats)
    for column in wanted(sheet, row, GRID.downbeats):
        assert tuple(sheet.picture[sheet.top(row) + high, column]) == ACCENT


def test_time_runs_evenly_through_rows_of_thirty_seconds(sheet):
    assert (sheet.rows, sheet.row_seconds) == (2, 30.0)
    assert sheet.place(0.0) == (0, sheet.left)
    assert sheet.place(15.0) == (0, (sheet.left + sheet.right) / 2)
    assert sheet.place(30.0) == (1, sheet.left)


def lit(sheet, row, colour, part):
    """Columns of a row where ``colour`` stands anywhere in the part."""
    top = sheet.top(row) + part[0]
    same = (sheet.picture[top : top + part[1], sheet.left : sheet.right] == colour).all(axis=2)
    return np.flatnonzero(same.any(axis=0)) + sheet.left


def test_the_wave_is_flat_in_silence_and_reaches_its_height_elsewhere(sheet):
    tall = (sheet.picture[sheet.top(0) + WAVE[0] : sheet.top(0) + WAVE[0] + WAVE[1]] == MEAN).all(axis=2).sum(axis=0)
    silent = slice(*(round(sheet.place(at)[1]) for at in (20.2, 24.8)))
    loud = slice(*(round(sheet.place(at)[1]) for at in (5.0, 19.8)))
    assert np.median(tall[silent]) <= 1
    # How far the wave reaches is its peak; a sine's root mean square is 0.707 of that.
    top = sheet.top(0) + WAVE[0]
    reach = (sheet.picture[top : top + WAVE[1], loud] != PAPER).any(axis=2).sum(axis=0)
    assert np.median(tall[loud]) / np.median(reach) == pytest.approx(np.sqrt(0.5), rel=0.06)


def test_the_burst_is_seen_at_its_time_among_the_high_pitches(sheet):
    row, begin = sheet.place(36.0)
    _, end = sheet.place(36.2)
    top = sheet.top(row) + BANDS[0]
    bright = sheet.picture[top + 24 : top + 39, sheet.left : sheet.right].sum(axis=2).mean(axis=0)
    seen = np.flatnonzero(bright > (bright.min() + bright.max()) / 2) + sheet.left
    # Signals rise within a hundredth of a second or two and fall slowly (0.2 s); a column is 0.023 s.
    assert begin - 1 <= seen.min() <= begin + 2
    assert end <= seen.max() <= sheet.place(36.7)[1]


def test_the_strip_is_dim_where_beats_are_guessed_and_clear_where_they_are_sure(sheet):
    turn = next((a + b) / 2 for a, b in pairwise(TIMES) if b >= 12)
    dim, clear = lit(sheet, 0, DIM, SURENESS), lit(sheet, 0, CLEAR, SURENESS)
    assert (dim.min(), clear.max()) == (sheet.left, sheet.right - 1)
    assert dim.max() + 1 == clear.min() == round(sheet.place(turn)[1])
    assert len(lit(sheet, 1, DIM, SURENESS)) == 0


def test_kinds_have_colours_where_their_sections_are(sheet):
    quiet, high = lit(sheet, 0, KIND_COLOURS["quiet"], PARTS), lit(sheet, 0, KIND_COLOURS["high"], PARTS)
    assert quiet.max() + 2 == high.min() == round(sheet.place(10.0)[1])
    assert lit(sheet, 1, KIND_COLOURS["high"], PARTS).max() + 2 == round(sheet.place(35.0)[1])
    assert set(KIND_COLOURS) == set(KINDS)


def test_the_song_ends_where_it_ends(sheet):
    end = round(sheet.place(SECONDS)[1])
    below = sheet.picture[sheet.top(1) :, end + 3 :]
    assert len(np.unique(below.reshape(-1, 3), axis=0)) == 1


def test_a_text_has_no_strip(song):
    sheet = heard_picture(song, GRID, None, width=1000)
    assert len(lit(sheet, 0, CLEAR, SURENESS)) == len(lit(sheet, 0, DIM, SURENESS)) == 0


@pytest.mark.parametrize(
    ("duration", "rows", "seconds"),
    [(0.3, 1, 2.0), (12.5, 1, 12.5), (30.0, 1, 30.0), (180.0, 6, 30.0), (10_800.0, 40, 270.0)],
)
def test_long_songs_get_longer_rows_not_taller_pictures(duration, rows, seconds):
    assert _rows(duration) == (rows, seconds)
    assert rows <= MOST_ROWS


@pytest.mark.parametrize("seconds", [0.0002, 0.3, 31.0])
def test_songs_of_any_length_are_drawn(tmp_path, seconds):
    soundfile.write(tmp_path / "a.wav", np.zeros(max(1, round(seconds * RATE))), RATE)
    grid = BeatGrid((0.0, 0.5), (1, 2), (), seconds)
    sheet = heard_picture(tmp_path / "a.wav", grid, Reading(grid, 0.0, (0.0, 0.0), ""), width=700)
    assert sheet.picture.shape[1] == 700
    assert sheet.picture[TOP:].any()


def test_a_section_that_ends_just_after_a_row_begins_is_drawn(song):
    grid = BeatGrid(TIMES, GRID.positions, (Section(0.0, 30.01, "A", "quiet"), Section(30.01, SECONDS, "B")), SECONDS)
    assert heard_picture(song, grid, width=1400).rows == 2


def test_events_stand_at_their_time(song):
    events = Events.of([Event(4.0, "low"), Event(6.0, "hit"), Event(31.0, "stop"), Event(33.0, "stop-end")])
    with_events = heard_picture(song, GRID, width=1400, events=events)
    plain = heard_picture(song, GRID, width=1400)
    changed = (with_events.picture != plain.picture).any(axis=2)
    row, at = with_events.place(4.0)
    lanes = changed[with_events.top(row) + STROKES[0] :][: STROKES[1]]
    assert np.flatnonzero(lanes.any(axis=0)).tolist() == [round(at)]
    row, begin = with_events.place(31.0)
    spans = changed[with_events.top(row) + SPANS[0] :][: SPANS[1]]
    lit = np.flatnonzero(spans.any(axis=0))
    assert (lit.min(), lit.max()) == (round(begin), round(with_events.place(33.0)[1]) - 1)
