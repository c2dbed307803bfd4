"""A small band in numpy: instruments, a room to play in and the last touch of a mix.

Instruments give float32 samples at 44,100 Hz, mono, about full scale, that begin and end at zero. Nothing here is
recorded: every sound is computed, and the same every time.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Wave = NDArray[np.float32]

RATE = 44_100
PEAK = 10 ** (-1 / 20)
"""The loudest sample of a mix: 1 dB below full scale."""
TABLE = 8192


def hertz(pitch: float) -> float:
    """The frequency of a MIDI note number: 440 Hz at 69, twice that every 12 (MIDI Tuning Standard)."""
    return float(440.0 * 2 ** ((pitch - 69) / 12))


def clock(seconds: float) -> Wave:
    """The seconds of each sample of a sound this long, from 0."""
    return (np.arange(round(seconds * RATE)) / RATE).astype(np.float32)


def noise(count: int, seed: int) -> Wave:
    """White noise (count,), within ±1."""
    return np.random.default_rng(seed).uniform(-1, 1, count).astype(np.float32)


def _edges(wave: Wave, attack: float, release: float) -> Wave:
    """``wave`` with its ends brought to zero, so that nothing clicks."""
    up, down = round(attack * RATE), round(release * RATE)
    shaped = wave.copy()
    shaped[:up] *= np.linspace(0, 1, up, dtype=np.float32)[: len(shaped)]
    shaped[-down:] *= np.linspace(1, 0, down, dtype=np.float32)[-len(shaped) :]
    return shaped


@lru_cache(maxsize=64)
def _cycle(harmonics: int, slope: float) -> Wave:
    """One cycle of a saw with so many harmonics, each k weaker by k to the power ``slope``."""
    numbers = np.arange(1, harmonics + 1)[:, None]
    turns = np.arange(TABLE) / TABLE
    cycle = (np.sin(2 * np.pi * numbers * turns) / numbers**slope).sum(axis=0)
    table: NDArray[np.float32] = (cycle / np.abs(cycle).max()).astype(np.float32)
    return table


def _saw(pitch: float, t: Wave, slope: float, brightest: float = 9_000.0) -> Wave:
    """A saw without anything above ``brightest`` Hz, so that nothing folds back."""
    harmonics = int(np.clip(brightest / hertz(pitch), 1, 60))
    turns = np.arange(len(t)) * (hertz(pitch) * TABLE / RATE)
    return _cycle(harmonics, slope)[turns.astype(np.int64) % TABLE]


@lru_cache(maxsize=128)
def kick(pitch: float = 0, seconds: float = 0.4) -> Wave:
    """A bass drum: a sine that falls from 165 to 46 Hz, with a short tap."""
    t = clock(0.4)
    turns = 46 * t + 120 * 0.035 * (1 - np.exp(-t / 0.035))
    body = np.sin(2 * np.pi * turns) * np.exp(-t / 0.13)
    tap = noise(len(t), 1) * np.exp(-t / 0.003) * 0.25
    return _edges(body + tap, 0.0005, 0.03)


@lru_cache(maxsize=128)
def snare(pitch: float = 0, seconds: float = 0.3) -> Wave:
    """A snare drum: noise over a short tone of 185 Hz."""
    t = clock(0.3)
    rattle = np.diff(noise(len(t), 2), prepend=np.float32(0)) * np.exp(-t / 0.07) * 0.45
    head = np.sin(2 * np.pi * (185 * t + 2.5 * (1 - np.exp(-t / 0.02)))) * np.exp(-t / 0.05) * 0.5
    return _edges(rattle + head, 0.0008, 0.05)


@lru_cache(maxsize=128)
def hat(pitch: float = 0, seconds: float = 0.1) -> Wave:
    """A closed hi-hat: noise with its lows taken off twice."""
    t = clock(0.12)
    bright = np.diff(noise(len(t) + 2, 3), n=2).astype(np.float32)
    return _edges(np.asarray(bright * np.exp(-t / 0.025) * 0.35, dtype=np.float32), 0.0008, 0.03)


@lru_cache(maxsize=128)
def crash(pitch: float = 0, seconds: float = 1.5) -> Wave:
    """A cymbal that rings for a second and a half."""
    t = clock(1.6)
    return _edges(np.diff(noise(len(t) + 1, 4)) * np.exp(-t / 0.4) * 0.4, 0.002, 0.3)


@lru_cache(maxsize=128)
def sleigh(pitch: float = 0, seconds: float = 0.2) -> Wave:
    """Sleigh bells: high partials that are not in tune with each other, shaken."""
    t = clock(0.25)
    partials = [(3_810, 0.9), (4_790, 1.0), (5_570, 0.7), (6_930, 0.8), (8_260, 0.5), (9_740, 0.4)]
    ring = sum(gain * np.sin(2 * np.pi * f * t + f) for f, gain in partials)
    shake = 0.6 + 0.4 * np.abs(np.sin(2 * np.pi * 23 * t))
    return _edges((ring * shake * np.exp(-t / 0.06) * 0.25).astype(np.float32), 0.003, 0.05)


@lru_cache(maxsize=128)
def riser(pitch: float, seconds: float) -> Wave:
    """A breath of noise that swells until the next section begins."""
    t = clock(seconds)
    swell = (t / max(seconds, 0.01)) ** 3
    breath = np.asarray(np.diff(noise(len(t) + 1, 5)) * swell * 0.3, dtype=np.float32)
    return _edges(breath, 0.01, 0.004)


@lru_cache(maxsize=128)
def bass(pitch: float, seconds: float) -> Wave:
    """A round bass: a bright saw that darkens at once, over a sine an octave below its second harmonic."""
    t = clock(seconds)
    bright = _saw(pitch, t, 1.2, 1_800.0) * np.exp(-t / 0.09)
    dark = np.sin(2 * np.pi * hertz(pitch) * t) + 0.3 * np.sin(4 * np.pi * hertz(pitch) * t)
    return _edges((0.45 * bright + 0.6 * dark * np.exp(-t / 1.2)).astype(np.float32), 0.004, 0.03)


@lru_cache(maxsize=128)
def pad(pitch: float, seconds: float) -> Wave:
    """A soft chord voice: three saws a few hundredths of a semitone apart that open slowly."""
    t = clock(seconds)
    detuned = [_saw(pitch + cents / 100, t, 1.5, 5_000.0) for cents in (-7, 0, 6)]
    opening = 0.5 + 0.5 * np.minimum(t / 0.6, 1)
    return _edges((sum(detuned) / 3 * opening).astype(np.float32), 0.06, min(0.12, seconds / 3))


@lru_cache(maxsize=128)
def pluck(pitch: float, seconds: float) -> Wave:
    """A plucked string (Karplus and Strong 1983): a burst of noise that goes round and is smoothed each time."""
    period = round(RATE / hertz(pitch))
    rounds = int((seconds + 0.3) * RATE / period) + 2
    string = np.empty((rounds, period), np.float32)
    burst = noise(period, 6)
    string[0] = (burst + np.roll(burst, 1) + np.roll(burst, 2)) / 3
    string[0] -= string[0].mean()
    for turn in range(1, rounds):
        string[turn] = 0.498 * (string[turn - 1] + np.roll(string[turn - 1], 1))
    # A whole number of samples is not quite the pitch (half a sample comes from the smoothing): read it faster.
    t = np.arange(round((seconds + 0.25) * RATE)) * (hertz(pitch) * (period + 0.5) / RATE)
    wave = np.interp(t, np.arange(string.size), string.ravel()).astype(np.float32)
    return _edges(wave / max(float(np.abs(wave).max()), 1e-6), 0.001, 0.1)


@lru_cache(maxsize=128)
def bell(pitch: float, seconds: float) -> Wave:
    """A glassy bell by frequency modulation (Chowning 1973), whose overtones die first."""
    t = clock(max(seconds, 0.3) + 1.0)
    f = hertz(pitch)
    overtones = 2.2 * np.exp(-t / 0.25) * np.sin(2 * np.pi * 3.5 * f * t)
    strike = np.sin(2 * np.pi * f * t + overtones) * np.exp(-t / 0.55)
    return _edges(strike.astype(np.float32), 0.0015, 0.3)


@lru_cache(maxsize=128)
def lead(pitch: float, seconds: float) -> Wave:
    """A singing voice: a mellow saw with a little vibrato after a moment."""
    t = clock(seconds)
    sway = 0.0045 * np.sin(2 * np.pi * 5.2 * t) * np.clip((t - 0.18) / 0.3, 0, 1)
    turns = np.cumsum(hertz(pitch) * (1 + sway) * TABLE / RATE)
    harmonics = int(np.clip(4_500 / hertz(pitch), 1, 20))
    return _edges(_cycle(harmonics, 1.7)[turns.astype(np.int64) % TABLE], 0.02, min(0.08, seconds / 3))


INSTRUMENTS = {
    "kick": kick,
    "snare": snare,
    "hats": hat,
    "crash": crash,
    "sleigh": sleigh,
    "riser": riser,
    "bass": bass,
    "pad": pad,
    "pluck": pluck,
    "bells": bell,
    "lead": lead,
}
"""Each takes a MIDI note number and seconds (drums use neither) and gives one mono sound."""


def reverberate(dry: Wave, seconds: float = 1.3, seed: int = 7) -> Wave:
    """The sound of a room around ``dry`` (n, 2): decaying noise of its own on each side, after 15 ms; (n, 2)."""
    from scipy.fft import irfft, next_fast_len, rfft

    t = clock(seconds)
    delay = np.zeros((round(0.015 * RATE), 2), np.float32)
    tail = np.stack([noise(len(t), seed), noise(len(t), seed + 1)], axis=1) * np.exp(-t / (seconds / 4))[:, None]
    smooth = (tail + np.roll(tail, 1, axis=0) + np.roll(tail, 2, axis=0)) / 3
    room = np.concatenate([delay, smooth / np.sqrt((smooth**2).sum(axis=0))]).astype(np.float32)
    size = next_fast_len(len(dry) + len(room), real=True)
    wet = irfft(rfft(dry, size, axis=0) * rfft(room, size, axis=0), size, axis=0)
    return np.asarray(wet[: len(dry)], dtype=np.float32)


def duck(count: int, hits: list[int], depth: float = 0.55) -> Wave:
    """A gain (count,) that dips at each of the sample numbers ``hits`` and is back after a third of a second."""
    t = clock(0.35)
    dip = depth * np.minimum(t / 0.004, 1) * np.exp(-t / 0.09) * np.clip((0.35 - t) / 0.1, 0, 1)
    gain = np.ones(count, np.float32)
    for hit in hits:
        part = gain[hit : hit + len(dip)]
        np.minimum(part, 1 - dip[: len(part)], out=part)
    return gain


def finish(mix: Wave, fade: float = 1.5) -> Wave:
    """The mix (n, 2) rounded off at its peaks, faded out at its end and brought to -1 dBFS."""
    mix = np.tanh(mix * (1.1 / max(float(np.percentile(np.abs(mix[::7]), 99.9)), 1e-9)))
    count = min(round(fade * RATE), len(mix))
    mix[-count:] *= (np.linspace(1, 0, count, dtype=np.float32) ** 2)[:, None]
    return np.asarray(mix * (PEAK / max(float(np.abs(mix).max()), 1e-9)), dtype=np.float32)
