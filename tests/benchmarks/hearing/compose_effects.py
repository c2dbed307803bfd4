"""What a recording does to a sound: rooms, old records, compressors, noise, changing levels. None moves it in time."""

from collections.abc import Callable

import numpy as np
from scipy.signal import butter, oaconvolve, sosfilt

RATE = 44100


def treat(sound: np.ndarray, rng: np.random.Generator) -> tuple[np.ndarray, list[str]]:
    """Put some effects on a sound (samples, channels); the new sound, peak at most 0.99, and the effects' names."""
    chosen = [name for name, (odds, _) in EFFECTS.items() if rng.random() < odds]
    sound = sound / max(np.abs(sound).max(), 1e-6)
    for name in chosen:
        sound = EFFECTS[name][1](sound, rng)
        sound = sound / max(np.abs(sound).max(), 1e-6)
    return sound * rng.choice([0.99, 0.7, 0.3, 0.08], p=[0.5, 0.3, 0.15, 0.05]), chosen


def _filter(sound: np.ndarray, kind: str, hertz: object, order: int = 2) -> np.ndarray:
    return sosfilt(butter(order, hertz, kind, fs=RATE, output="sos"), sound, axis=0)


def _room(sound: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """A room's answer: a few early echoes, then noise that dies away by 60 dB in 0.2-2.5 s."""
    seconds = float(np.exp(rng.uniform(np.log(0.2), np.log(2.5))))
    count = int(seconds * RATE)
    answer = rng.normal(size=(count, sound.shape[1])) * 10 ** (-3 * np.arange(count) / count)[:, None]
    answer = _filter(answer, "low", rng.uniform(2000, 9000), 1)
    answer[: int(rng.uniform(0.005, 0.03) * RATE)] = 0
    for at in rng.uniform(0.004, 0.05, 5):
        answer[int(at * RATE)] += rng.uniform(2, 8)
    answer /= np.sqrt((answer**2).sum())
    return sound + rng.uniform(0.15, 0.8) * oaconvolve(sound, answer, axes=0)[: len(sound)]


def _old(sound: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """An old record: a narrow band, one channel, hiss and crackle."""
    mono = np.repeat(sound.mean(axis=1, keepdims=True), sound.shape[1], axis=1)
    narrow = _filter(mono, "band", [rng.uniform(100, 300), rng.uniform(2500, 5500)])
    narrow = np.tanh(2.5 * narrow / max(np.abs(narrow).max(), 1e-6))
    crackle = np.zeros(len(sound))
    places = rng.integers(0, len(sound), int(len(sound) / RATE * rng.uniform(2, 25)))
    crackle[places] = rng.normal(0, 0.25, len(places))
    return narrow + (_filter(crackle, "low", 6000) + rng.normal(0, 0.008, len(sound)))[:, None]


def _squash(sound: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    drive = rng.uniform(1.5, 6)
    return np.tanh(drive * sound)


def _noise(sound: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Noise 25-50 dB below the peak: hiss, rumble, or a hum of mains."""
    level = 10 ** (-rng.uniform(25, 50) / 20)
    noise = rng.normal(size=len(sound))
    kind = rng.integers(3)
    if kind == 1:
        noise = _filter(noise, "low", 400, 1) * 4
    elif kind == 2:
        time = np.arange(len(sound)) / RATE
        noise = sum(np.sin(2 * np.pi * 50 * harmonic * time) / harmonic for harmonic in (1, 2, 3, 5))
    return sound + level * noise[:, None]


def _levels(sound: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """A hand on the fader: the level wanders by up to 9 dB over some seconds."""
    knots = rng.uniform(-9, 0, max(len(sound) // (5 * RATE), 2) + 1)
    curve = np.interp(np.arange(len(sound)), np.linspace(0, len(sound), len(knots)), knots)
    return sound * 10 ** (curve / 20)[:, None]


def _pump(sound: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """A slow compressor: loud passages are turned down within 10 ms, and come back within a few tenths of a second."""
    block = 441
    blocks = np.abs(sound[: len(sound) // block * block]).max(axis=1).reshape(-1, block).max(axis=1)
    keep, follow = np.exp(-0.01 / rng.uniform(0.1, 0.5)), np.zeros(len(blocks))
    for at in range(1, len(blocks)):
        follow[at] = max(blocks[at], keep * follow[at - 1])
    gain = np.minimum(1, (0.15 / np.maximum(follow, 1e-3)) ** rng.uniform(0.3, 0.75))
    return sound * np.interp(np.arange(len(sound)), (np.arange(len(gain)) + 0.5) * block, gain)[:, None]


def _dull(sound: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    return _filter(sound, "low", rng.uniform(1200, 7000))


def _thin(sound: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    return _filter(sound, "high", rng.uniform(120, 500))


def _fade(sound: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    count = int(rng.uniform(3, 9) * RATE)
    sound[-count:] *= np.linspace(1, 0.02, min(count, len(sound)))[:, None]
    return sound


EFFECTS: dict[str, tuple[float, Callable]] = {
    "levels": (0.15, _levels), "squash": (0.25, _squash), "pump": (0.25, _pump),
    "dull": (0.15, _dull), "thin": (0.07, _thin), "room": (0.45, _room), "old-record": (0.06, _old),
    "fade-out": (0.08, _fade), "noise": (0.3, _noise),
}  # fmt: skip
