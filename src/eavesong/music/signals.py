"""Signals: what lights follow in the sound itself, 0 to 1, a hundred times a second.

Each rises at once and falls slowly; brightness alone moves smoothly both ways. None is ever ahead of the sound: a
value depends on the sound before its moment, apart from one scale per song that brings loud and soft recordings to
the same height.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from eavesong.music.events import NOTHING, Events

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from eavesong.music.bands import Powers
    from eavesong.music.grid import BeatGrid

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]
    Halves = NDArray[np.float16]

NAMES = ("loudness", "bass", "mid", "treble", "onset", "brightness")
"""The signals that are one number per frame."""

RELEASE = {"loudness": 0.3, "bass": 0.18, "mid": 0.2, "treble": 0.12, "onset": 0.25, "spectrum": 0.2}
"""Seconds in which each signal falls to 1/e (37 %) when the sound stops. Chosen by eye: shorter flickers."""

LOUDNESS_EXPONENT = 0.3
"""Loudness grows with this power of the intensity: twice as loud every 10 dB (Stevens 1955; ISO 532's sone)."""
TOP = 98
"""Percentile of the sounding frames that becomes 1: a single bang does not make the rest of the song dark."""
SOUNDING = 1e-6
"""Frames this much (in power: 60 dB) below the loudest count as silence when the scale is found."""
QUIETEST = 1e-8
"""Power (-80 dB of full scale) below which a song is not brought up to full light: dither has a tenth of it."""
FAINTEST_BAND = 10**-3.6
"""Power of a band against that of the strongest (-36 dB) below which it is not brought up to 1."""
ONSET_RANGE = 1e4
"""Power range (40 dB) below the song's top in which a rise counts as an onset."""
SPECTRUM_STEPS = 255
CLEAREST_RISE = 0.08
"""Mean rise over the bands, in powers of ten, that is an onset of 1 at least: noise alone stays below."""
DULLEST, BRIGHTEST = 5, 95
"""Percentiles of the sounding frames' middles of the spectrum that become 0 and 1 of brightness."""
NARROWEST = 1.0
"""Octaves that brightness 0 to 1 spans at least: a tone that hardly changes stays at the middle."""
GLIDE = 0.15
"""Seconds in which brightness goes 63 % of the way to where it is going. Chosen by eye: colours follow it."""


@dataclass(frozen=True, eq=False)
class Signals:
    """A song's signals: float16 (f,) each, 0 to 1; ``spectrum`` uint8 (f, 32) from low to high, 255 for 1.

    Short numbers, because they are most of what a long song keeps in memory, and light has 255 steps.

    Frame k holds what was heard up to k / ``frame_rate`` seconds.
    """

    frame_rate: float
    loudness: Halves
    """K-weighted (ITU-R BS.1770), by Stevens's law."""
    bass: Halves
    """Below 150 Hz."""
    mid: Halves
    """150 Hz to 4 kHz."""
    treble: Halves
    """From 4 kHz up."""
    onset: Halves
    """Sounds beginning."""
    brightness: Halves
    """The middle of the spectrum (its centroid) in pitch: 0 where the song sounds dull, 1 where it sounds bright."""
    spectrum: NDArray[np.uint8]
    """Bands of equal width in pitch, with middles from 40 Hz to 16 kHz."""
    events: Events = NOTHING
    """What light answers to, where it is followed."""
    grid: BeatGrid | None = None
    """The beats that events are counted in; None where no events are followed."""

    def following(self, events: Events, grid: BeatGrid) -> Signals:
        """These signals with events, counted in the beats of ``grid``."""
        return replace(self, events=events, grid=grid)

    def only(self, names: Collection[str]) -> Signals:
        """These signals without the others, which are 0 throughout: an hour of all of them takes 16 MB."""
        others: dict[str, Any] = {name: getattr(self, name) for name in (*NAMES, "spectrum") if name not in names}
        for name, values in others.items():
            others[name] = np.broadcast_to(values.dtype.type(0), values.shape)
        return replace(self, **others)

    def at(self, seconds: ArrayLike) -> dict[str, Floats]:
        """Every signal at ``seconds`` (f,): float64 (f,) by name, and ``spectrum`` (f, 32).

        Each is the value of the last frame at or before the moment; 0 before the song and after it. What `Events.at`
        gives comes with them; where no events are followed, it is as if there were none.
        """
        moments = np.atleast_1d(np.asarray(seconds, dtype=np.float64))
        # 0.29 s × 100 is a hair below 29: a hundredth of a microsecond mends that.
        frames = np.floor(moments * self.frame_rate + 1e-6)
        inside = (frames >= 0) & (frames < len(self.loudness))
        index = np.where(inside, frames, 0).astype(np.int64)
        values = {name: np.where(inside, getattr(self, name)[index], 0.0).astype(np.float64) for name in NAMES}
        spectrum = np.where(inside[:, None], self.spectrum[index], 0).astype(np.float64) / SPECTRUM_STEPS
        return values | self.events.at(moments, self.grid) | {"spectrum": spectrum}


def signals_of(powers: Powers) -> Signals:
    """The signals of a song with these powers; silence gives zeros."""
    from eavesong.music.bands import FRAME_RATE

    top = _top(powers.weighted)
    lift = max(1.0, QUIETEST / max(top, 1e-30))
    parts = {"bass": powers.bass, "mid": powers.mid, "treble": powers.treble}
    tops = dict(zip(parts, lift * _tops(parts.values()), strict=True))
    values = {name: _followed(parts[name], tops[name], name) for name in parts}
    values["loudness"] = _followed(powers.weighted, lift * top, "loudness")
    values["onset"] = _released(_onset(powers), RELEASE["onset"])
    values["brightness"] = _brightness(powers.bands) / lift**LOUDNESS_EXPONENT
    spectrum = np.empty(powers.bands.shape, np.uint8)
    for band, highest in enumerate(lift * _tops(powers.bands.T)):
        spectrum[:, band] = np.rint(_followed(powers.bands[:, band], highest, "spectrum") * SPECTRUM_STEPS)
    halves: dict[str, Any] = {name: signal.astype(np.float16) for name, signal in values.items()}
    return Signals(float(FRAME_RATE), **halves, spectrum=spectrum)


def rises(bands: Singles) -> Floats:
    """How much sound begins in each frame: the mean rise (f,) of the bands (f, b), in powers of ten.

    Rises count within 40 dB of the song's top, so the figure is the same however loud the recording is.
    """
    top = max(_top(np.asarray(bands.max(axis=1))), QUIETEST)
    total = np.zeros(len(bands))
    for band in bands.T:  # one at a time: all at once would take as much memory as the bands again
        level = np.log10(1.0 + band * np.float64(ONSET_RANGE / top))
        total[1:] += np.maximum(0.0, np.diff(level))
    mean: Floats = total / bands.shape[1]
    return mean


def _onset(powers: Powers) -> Floats:
    """Rises that stand out from those of the second before, 0 to 1."""
    rise = rises(powers.bands)
    total = np.concatenate([[0.0], np.cumsum(rise)])
    now = np.arange(len(rise))
    before = np.maximum(now - 100, 0)
    usual = (total[now] - total[before]) / np.maximum(now - before, 1)
    strength = np.maximum(0.0, rise - 1.5 * usual)
    clear = strength[strength > 0.05 * strength.max(initial=0.0)]
    top = max(float(np.percentile(clear, 90)) if len(clear) else 0.0, CLEAREST_RISE)
    clipped: Floats = np.clip(strength / top, 0.0, 1.0)
    return clipped


def _brightness(bands: Singles) -> Floats:
    """How bright each frame (f,) sounds, 0 to 1, from the powers of its bands (f, b); 0 in silence.

    The centroid of the spectrum is what brightness goes with (Grey and Gordon 1978; Schubert and Wolfe 2006; from
    memory). It is taken in pitch, where steps are as wide as they are heard, and weighted by power.
    """
    from eavesong.music.bands import BAND_COUNT, HIGHEST, LOWEST

    octaves = np.log2(HIGHEST / LOWEST) * np.arange(BAND_COUNT) / (BAND_COUNT - 1)
    power = bands.sum(axis=1)
    sounding = power > SOUNDING * power.max(initial=0.0)
    if not sounding.any():
        return np.zeros(len(bands))
    middles = (bands @ octaves.astype(np.float32)) / np.where(sounding, power, 1.0)
    low, high = np.percentile(middles[sounding], (DULLEST, BRIGHTEST))
    span = max(float(high - low), NARROWEST)
    bright = np.clip(((middles - (low + high) / 2) / span) + 0.5, 0.0, 1.0)
    return _glided(np.where(sounding, bright, 0.0), GLIDE)


def _glided(values: Floats, seconds: float) -> Floats:
    """Values (f,) that each moment go a share of the way to where they are going, 1 - 1/e in ``seconds``.

    Adds up the fading past in doublings, 512 frames of it, so no loop over frames is needed.
    """
    from eavesong.music.bands import FRAME_RATE

    keep = float(np.exp(-1 / (seconds * FRAME_RATE)))
    total = (1 - keep) * values
    for shift in (1, 2, 4, 8, 16, 32, 64, 128, 256):
        total[shift:] += keep**shift * total[:-shift].copy()
    return np.where(total < 1e-3, 0.0, np.minimum(total, 1.0))


def _top(power: Singles) -> float:
    """The power (f,) that becomes 1."""
    sounding = power[power > SOUNDING * power.max(initial=0.0)]
    return float(np.percentile(sounding, TOP)) if len(sounding) else 0.0


def _tops(powers: Iterable[Singles]) -> Floats:
    """The power that becomes 1 in each of several (f,)."""
    tops = np.array([_top(power) for power in powers])
    floored: Floats = np.maximum(tops, FAINTEST_BAND * tops.max())
    return floored


def _followed(power: Singles, top: float, name: str) -> Singles:
    """The signal (f,) of that name for a power (f,) whose ``top`` becomes 1."""
    relative = np.minimum(power / np.float64(max(top, 1e-30)), 1.0)
    return _released(relative**LOUDNESS_EXPONENT, RELEASE[name])


def _released(values: Floats, seconds: float) -> Singles:
    """The largest of the past values (f,), every one fading by 1/e in ``seconds``; 0 below 1/1000.

    As log(value) + k × decay it is a running maximum, so no loop over frames is needed.
    """
    from eavesong.music.bands import FRAME_RATE

    fall = np.arange(len(values)) / (seconds * FRAME_RATE)
    with np.errstate(divide="ignore"):
        held = np.exp(np.maximum.accumulate(np.log(values) + fall) - fall)
    return np.where(held < 1e-3, 0.0, np.minimum(held, 1.0)).astype(np.float32)
