"""The song with clicks: each at its beat to the sample, higher on downbeats, and nothing clipped."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile

from eavesong.errors import AudioError, OutputError
from eavesong.music import BeatGrid, write_clicks
from eavesong.music.clicks import BEAT, CLICK, DOWNBEAT, SONG
from eavesong.music.sound import BLOCK

GRID = BeatGrid((0.1234, 0.7, 1.30007, 1.9, 2.5, 3.1), (3, 1, 2, 3, 1, 2), (), 3.3)


def starts(samples: np.ndarray, rate: int) -> list[float]:
    """Seconds at which silence ends."""
    loud = np.abs(samples) > 0.05
    before = np.convolve(loud, np.ones(rate // 50), mode="full")[: len(loud)] - loud
    return (np.flatnonzero(loud & (before == 0)) / rate).tolist()


@pytest.mark.parametrize(("name", "rate"), [("a.wav", 44_100), ("a.flac", 48_000), ("a.wav", 8_000), ("a.wav", 96_000)])
def test_clicks_begin_at_their_beats_to_the_sample(
    write: Callable[..., Path], tmp_path: Path, name: str, rate: int
) -> None:
    song = write("song.wav", np.zeros((round(3.3 * rate), 2)), rate)
    write_clicks(song, tmp_path / name, GRID)
    samples, own = soundfile.read(tmp_path / name)
    assert (own, samples.shape) == (rate, (round(3.3 * rate), 2))
    for channel in samples.T:
        assert starts(channel, rate) == pytest.approx(GRID.times, abs=1 / rate)


def test_downbeats_are_higher(write: Callable[..., Path], tmp_path: Path) -> None:
    write_clicks(write("song.wav", np.zeros(round(3.3 * 44_100))), tmp_path / "a.wav", GRID)
    samples, rate = soundfile.read(tmp_path / "a.wav")
    for time, position in zip(GRID.times, GRID.positions, strict=True):
        part = samples[round(time * rate) :][: rate // 20]
        pitch = np.argmax(np.abs(np.fft.rfft(part, 44_100)))
        assert pitch == pytest.approx(DOWNBEAT if position == 1 else BEAT, rel=0.03)


def test_the_song_is_there_softer_and_the_loudest_song_does_not_clip(
    write: Callable[..., Path], tmp_path: Path
) -> None:
    # A square wave of full scale: with any click of the same sign on top it would clip if it were not lowered.
    wave = np.where(np.arange(2 * 44_100) % 100 < 50, 1.0, -1.0)
    write_clicks(write("song.wav", wave, subtype="FLOAT"), tmp_path / "a.wav", GRID)
    samples, _ = soundfile.read(tmp_path / "a.wav")
    assert np.abs(samples).max() < 1
    quiet = slice(round(0.4 * 44_100), round(0.6 * 44_100))
    assert samples[quiet] == pytest.approx(SONG * wave[quiet], abs=1e-4)
    assert SONG + CLICK < 1


def test_a_click_over_the_edge_of_two_blocks_is_whole(write: Callable[..., Path], tmp_path: Path) -> None:
    edge = (BLOCK - 300) / 44_100
    grid = BeatGrid((edge, edge + 0.5), (1, 2), (), 4.0)
    write_clicks(write("song.wav", np.zeros(4 * 44_100)), tmp_path / "a.wav", grid)
    samples, _ = soundfile.read(tmp_path / "a.wav")
    inside = BeatGrid((0.5, 1.0), (1, 2), (), 4.0)
    write_clicks(tmp_path / "song.wav", tmp_path / "b.wav", inside)
    other, _ = soundfile.read(tmp_path / "b.wav")
    assert np.array_equal(samples[BLOCK - 300 :][:2000], other[22_050:][:2000])


@pytest.mark.parametrize("channels", [1, 2, 6])
def test_channels_stay_what_they_are(write: Callable[..., Path], tmp_path: Path, channels: int) -> None:
    write_clicks(write("song.wav", np.zeros((44_100, channels))), tmp_path / "a.flac", GRID)
    samples, _ = soundfile.read(tmp_path / "a.flac", always_2d=True)
    assert samples.shape[1] == channels
    assert (np.abs(samples).max(axis=0) > 0.3).all()


def test_nothing_is_left_when_it_cannot_be_done(write: Callable[..., Path], tmp_path: Path) -> None:
    song = write("song.wav", np.zeros((44_100, 10)))
    for target, told in (
        ("a.mp3", "neither WAV nor FLAC"),
        ("a.flac", "10 channels do not fit"),
        ("no/a.wav", "be written"),
    ):
        with pytest.raises(OutputError, match=told):
            write_clicks(song, tmp_path / target, GRID)
    song.write_bytes(song.read_bytes()[:-5000])
    (tmp_path / "a.wav").write_text("what was there")
    with pytest.raises(AudioError):
        write_clicks(song, tmp_path / "a.wav", GRID)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.wav", "song.wav"]
    assert (tmp_path / "a.wav").read_text() == "what was there"
