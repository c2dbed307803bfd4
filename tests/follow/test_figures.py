"""Each figure where its value follows from its definition, and the whole on frames that are known."""

import numpy as np
import pytest

from eavesong.errors import FramesError
from eavesong.follow import figures
from eavesong.follow.figures import follow
from eavesong.frames import open_frames
from eavesong.music.borrowed import alone
from lamps import LAMPS, WALL, house, known_frames, write

RATE = 40.0


def moments(seconds=8.0):
    return np.arange(int(seconds * RATE)) / RATE


def test_runs_of_bars_that_look_the_same():
    assert figures.longest_run(np.array([True, True, False, True])) == 3
    assert figures.longest_run(np.array([False, False])) == 1
    assert figures.longest_run(np.array([], bool)) == 1


def test_a_step_is_told_against_the_look_before():
    looks = np.array([[3.0, 4.0], [3.0, 4.0], [6.0, 8.0]])
    assert figures.steps_of(looks) == pytest.approx([0.0, 1.0])


def test_looks_as_alike_as_sounds_have_full_form():
    """Distances that are the same up to scale rank alike: Spearman's rho is 1 (its definition)."""
    sound = np.random.default_rng(2).normal(size=(12, 3))
    even = (sound - sound.mean(axis=0)) / (sound.std(axis=0) + 1e-6)
    assert figures.form_of(5 * even, sound) == pytest.approx(1.0)
    assert figures.form_of(np.ones((12, 4)), sound) is None


def test_louder_bars_that_are_three_times_as_bright():
    loudness = np.log(10 ** (np.arange(20) / 20))
    drive = np.where(np.arange(20) < 10, 0.1, 0.3)
    loud, decibels = figures.spread(drive, loudness)
    assert loud == pytest.approx(3.0)
    assert decibels == pytest.approx(18.0)  # the means of steps 0, 1 and 18, 19, a decibel each


def test_change_on_beats_only():
    """Change 1 at every beat and 0.1 elsewhere: of the two frames within a frame of a beat one has 1."""
    beats = np.arange(0.25, 8.0, 0.5) + 0.003
    change = np.full(320, 0.1)
    change[np.floor(beats * RATE).astype(int)] = 1.0
    assert figures.beat_of(change, moments(), beats, RATE) == pytest.approx((1.0 + 0.1) / 2 / 0.1)
    assert figures.alignment_of(change, moments(), beats) == pytest.approx(1.0, abs=0.01)


def test_peaks_50_ms_from_beats_count_by_the_bell():
    """exp(-1/2) at one sigma (Li et al. 2021, the formula from memory)."""
    beats = np.arange(0.25, 8.0, 0.5)
    change = np.zeros(320)
    change[np.round((beats + 0.05) * RATE).astype(int)] = 1.0
    assert figures.alignment_of(change, moments(), beats) == pytest.approx(np.exp(-0.5))


def test_accents_on_the_strongest_beginnings():
    onset = np.zeros(1000)
    onset[::20] = np.arange(1, 51)
    change = np.where(onset > 0, onset, 0.0)
    assert figures.accent_of(change, onset) > 0.9
    assert figures.accent_of(np.roll(change, 10), onset) < 0.6
    assert figures.accent_of(np.zeros(1000), onset) is None


def test_an_event_is_answered_within_a_frame():
    change = np.full(320, 0.01)
    change[[80, 161]] = 0.5
    events = np.array([2.0, 4.0, 6.0])  # frames 80, 160 and 240
    assert figures.answered(change, moments(), events, RATE) == pytest.approx(2 / 3)
    assert figures.answered(change, moments(), np.array([]), RATE) is None


def test_distances_to_the_nearest_beat():
    assert figures.distances(np.array([0.0, 1.4, 9.0]), np.array([1.0, 2.0])) == pytest.approx([1.0, 0.4, 7.0])


def test_light_that_jumps_with_every_click_follows_it(opened):
    found = follow(opened).figures
    assert found.bars == 3
    assert found.beat > 3
    assert found.alignment > 0.9
    assert found.accent > 0.7
    assert found.together > 0.5
    assert found.seldom == ("wall lights",)


def test_light_that_has_nothing_to_do_with_the_song(followed_lamps):
    path = followed_lamps.with_name("other.h5")
    write(path, house(LAMPS + WALL), known_frames())
    with open_frames(path) as frames:
        found = follow(frames, followed_lamps.with_name("click.wav")).figures
    assert 0.7 < found.beat < 1.4
    assert abs(found.together) < 0.2


def test_a_song_that_is_not_there(tmp_path):
    path = write(tmp_path / "lamps.h5", house(LAMPS), known_frames(pixels=3))
    with (
        open_frames(path) as frames,
        pytest.raises(FramesError, match=r"(?s)'click.wav' is not beside it.*--song"),
    ):
        follow(frames)


def test_frames_without_beats(tmp_path):
    path = write(tmp_path / "lamps.h5", house(LAMPS, texts={}), known_frames(pixels=3))
    with open_frames(path) as frames, pytest.raises(FramesError, match="tells no beats"):
        follow(frames)


def test_energy_and_sound_agree_with_the_libraries(opened, followed_lamps):
    """The same from librosa's and scipy's own functions, called bar by bar."""
    import librosa
    from scipy.stats import spearmanr

    whole = follow(opened)
    with alone():  # which keeps what librosa compiles as it is loaded
        samples, rate = librosa.load(followed_lamps.with_name("click.wav"), sr=22_050)
        level = librosa.feature.rms(y=samples, hop_length=512)[0]
        times = librosa.times_like(level, sr=rate, hop_length=512)
    for bar, (begin, end) in enumerate(zip(whole.edges[:-1], whole.edges[1:], strict=True)):
        mean = level[(times >= begin) & (times < end)].mean()
        assert whole.loudness[bar] == pytest.approx(np.log(mean), abs=0.02)
    wanted = spearmanr(whole.drive, whole.loudness)[0] if len(whole.drive) >= figures.FEWEST_BARS else None
    assert whole.figures.energy == wanted
