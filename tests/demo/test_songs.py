"""The demo's songs: what is written is what sounds, and they sound as music should."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from eavesong.demo.score import Recording, Score, chord, grid_of
from eavesong.demo.songs import FROST_WALTZ, LANTERN_WALK, SCORES, SLOW_THAW, DemoSong, invent, make_songs
from eavesong.demo.synth import PEAK, RATE
from eavesong.music import listen, read_grid


def titles(score: Score) -> str:
    return score.title


EACH = pytest.mark.parametrize("score", SCORES, ids=titles)


@EACH
def test_songs_are_stereo_of_40_to_75_seconds_with_a_peak_of_minus_1_dbfs(
    recordings: dict[str, Recording], score: Score
) -> None:
    song = recordings[score.title]
    assert song.sound.shape == (round(song.grid.duration * RATE), 2)
    assert 40 <= song.grid.duration <= 75
    assert np.abs(song.sound).max() == pytest.approx(PEAK, rel=1e-4)
    assert np.isfinite(song.sound).all()
    # Not two copies of one channel, nor one against the other.
    assert 0.5 < np.corrcoef(song.sound.T)[0, 1] < 0.98


@EACH
def test_songs_begin_and_end_in_silence_and_have_no_offset(recordings: dict[str, Recording], score: Score) -> None:
    sound = recordings[score.title].sound
    assert np.abs(sound[: RATE // 4]).max() < 1e-3
    assert np.abs(sound[-100:]).max() < 1e-3
    assert np.abs(sound.mean(axis=0)).max() < 1e-3


def test_the_three_differ_in_tempo_metre_and_steadiness() -> None:
    walk, waltz, thaw = (grid_of(score) for score in (LANTERN_WALK, FROST_WALTZ, SLOW_THAW))
    assert walk.tempo == pytest.approx(116, abs=0.01)
    assert waltz.tempo == pytest.approx(150, abs=0.01)
    assert (walk.beats_in_bars[0], waltz.beats_in_bars[0]) == (4, 3)
    assert waltz.positions[0] == 3  # one beat of pickup
    gaps = np.diff(thaw.times)
    assert 60 / gaps[:30] == pytest.approx(np.full(30, 72), abs=0.01)
    assert 60 / gaps[-20:] == pytest.approx(np.full(20, 104), abs=0.01)
    assert (np.diff(gaps[31:49]) < 0).all()


@EACH
def test_sections_differ_in_loudness(recordings: dict[str, Recording], score: Score) -> None:
    song = recordings[score.title]
    parts = [song.sound[round(part.start * RATE) : round(part.end * RATE)] for part in song.grid.sections]
    decibels = [20 * np.log10(np.sqrt(np.mean(part**2))) for part in parts]
    assert max(decibels) - min(decibels) > 9
    assert max(decibels) < -9  # room above the mean: no brick


@EACH
def test_long_notes_of_the_tune_mostly_belong_to_the_chord(recordings: dict[str, Recording], score: Score) -> None:
    # Common practice: what is held on a beat is a note of the chord three times out of four or more.
    notes = [note for note in recordings[score.title].notes if note.instrument in ("lead", "bells")]
    bars = [
        {pitch % 12 for pitch in chord(score, int(passage.chords.split()[bar % len(passage.chords.split())]))}
        for passage in score.passages
        for bar in range(passage.bars)
    ]
    end = len(bars) * score.beats_per_bar
    held = [n for n in notes if n.beats >= 1 and n.beat == int(n.beat) and 0 <= n.beat < end]
    fitting = [n for n in held if n.pitch % 12 in bars[int(n.beat) // score.beats_per_bar]]
    assert len(held) > 40
    assert len(fitting) / len(held) >= 0.75


def test_files_are_16_bit_wavs_and_texts_that_say_the_same(demo_songs: tuple[DemoSong, ...]) -> None:
    import mir_eval

    for song in demo_songs:
        about = soundfile.info(song.path)
        assert (about.samplerate, about.channels, about.subtype, about.format) == (44_100, 2, "PCM_16", "WAV")
        assert read_grid(song.beats_path, song.sections_path, about.duration) == song.grid
        times, _ = mir_eval.io.load_labeled_events(str(song.beats_path))
        assert times.tolist() == list(song.grid.times)
    assert [song.path.name for song in demo_songs] == ["lantern-walk.wav", "frost-waltz.wav", "slow-thaw.wav"]


def test_songs_are_made_in_a_folder_that_is_not_there_yet(tmp_path: Path) -> None:
    score = invent(2, seconds=5)
    (song,) = make_songs(tmp_path / "new" / "songs", (score,))
    assert song.path.is_file()
    assert song.title == "Invention 2"


@pytest.mark.parametrize(("title", "least"), [("Lantern Walk", 0.9), ("Frost Waltz", 0.9), ("Slow Thaw", 0.6)])
def test_beats_are_found_in_them_by_listening(demo_songs: tuple[DemoSong, ...], title: str, least: float) -> None:
    import mir_eval

    song = next(song for song in demo_songs if song.title == title)
    heard = listen(song.path).grid
    scores = mir_eval.beat.evaluate(np.array(song.grid.times), np.array(heard.times))
    downbeats = mir_eval.beat.f_measure(np.array(song.grid.downbeats), np.array(heard.downbeats))
    print(f"\n{title}: F {scores['F-measure']:.3f}, downbeats {downbeats:.3f}")
    # A song whose tempo changes is hard for a tracker that expects one tempo; a later one may do better.
    assert scores["F-measure"] >= least


@pytest.mark.parametrize("seed", range(8))
def test_invented_scores_are_as_long_as_asked_and_all_different(seed: int) -> None:
    score = invent(seed, seconds=180, beats_per_bar=3 + seed % 2)
    assert grid_of(score).duration == pytest.approx(180, rel=0.12)
    assert score == invent(seed, seconds=180, beats_per_bar=3 + seed % 2)
    assert score != invent(seed + 100, seconds=180, beats_per_bar=3 + seed % 2)
