"""What the tests of this room share: a cache of their own, and sounds whose beats are known."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from eavesong.music.bands import Powers, gather, powers_meter
from eavesong.music.ear import Ear, ear_meters
from eavesong.music.sound import Sound

RATE = 44_100


@pytest.fixture(autouse=True)
def _own_cache(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep what these tests cache away from the user's."""
    monkeypatch.setenv("EAVESONG_CACHE", str(tmp_path_factory.mktemp("cache")))


@pytest.fixture
def write(tmp_path: Path):
    """Write samples (n,) or (n, channels) as a sound file and give its path; the suffix says which kind."""
    import soundfile

    def written(name: str, samples: NDArray[np.floating], rate: int = RATE, **how: str) -> Path:
        path = tmp_path / name
        soundfile.write(path, samples, rate, **how)
        return path

    return written


def clicks(times: NDArray[np.float64], seconds: float, rate: int = RATE, seed: int = 0) -> NDArray[np.float64]:
    """Silence with a burst of noise of about 6 ms beginning at each of ``times``; mono (n,)."""
    chance = np.random.default_rng(seed)
    sound = np.zeros(round(seconds * rate))
    fade = np.exp(-np.arange(round(0.01 * rate)) / (0.002 * rate))
    for time in times:
        begin = round(time * rate)
        part = sound[begin : begin + len(fade)]
        part += chance.uniform(-0.5, 0.5, len(part)) * fade[: len(part)]
    return sound


def heard_of(samples: NDArray[np.floating], rate: int = RATE) -> tuple[Powers, Ear]:
    """What is gathered from samples (n,) or (n, channels)."""
    samples = samples.astype(np.float32).reshape(len(samples), -1)
    parts = [samples[begin : begin + 50_000] for begin in range(0, len(samples), 50_000)]
    sound = Sound("song.wav", rate, samples.shape[1], lambda: iter(parts))
    powers, fine, chroma = gather(sound, [powers_meter(rate), *ear_meters(rate)])
    return powers, Ear(fine, chroma, powers.duration)
