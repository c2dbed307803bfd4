"""What beats are found in: the sound in fine bands a hundred times a second, and its notes ten times a second.

Bands of about a sixth of an octave show where sounds begin; notes (chroma, the power in each of the twelve pitch
classes) show where chords change. Both are gathered in the pass that measures the powers.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from eavesong.music.bands import FRAME_RATE, Meter

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]

WINDOW = 0.046
"""Seconds of a fine frame: 2048 samples at 44.1 kHz, as in Boeck & Widmer 2013 (SuperFlux)."""
LOWEST, HIGHEST = 30.0, 16_000.0
"""Middles in Hz of the first and the last fine band."""
FINE_BANDS = 64
CHROMA_RATE = 10
"""Frames of notes a second."""
CHROMA_WINDOW = 0.372
"""Seconds of a frame of notes: bins 2.7 Hz apart, a semitone at 50 Hz."""
BASS_NOTES, UPPER_NOTES = (50.0, 260.0), (260.0, 2_100.0)
"""Hz from and to which notes count as bass, and as what is played above it."""
FAINT = 1e-9
"""Power (-90 dB of full scale) taken as silence."""


@dataclass(frozen=True, eq=False)
class Ear:
    """What beats are found in."""

    fine: NDArray[np.float16]
    """(f, 64): decibels / 10 above -90 dB of full scale, a hundred times a second; 0 for silence."""
    chroma: Singles
    """(g, 24): power of the twelve pitch classes from C on, of the bass and of what is above it; 10 a second."""
    duration: float
    """Seconds of sound."""


def ear_meters(rate: int) -> list[Meter]:
    """The meters whose results make an `Ear`: bands, then notes."""
    return [
        Meter(rate, FRAME_RATE, hann(WINDOW * rate), _fine_weights, lambda rows, _: rows, _levels),
        Meter(rate, CHROMA_RATE, hann(CHROMA_WINDOW * rate), _note_weights, lambda rows, _: rows),
    ]


def hann(samples: float) -> Singles:
    """A Hann window of about so many samples, of a length that transforms fast."""
    from scipy.fft import next_fast_len

    length = next_fast_len(max(16, round(samples)), real=True)
    window: Singles = (np.sin(np.pi * (np.arange(length) + 0.5) / length) ** 2).astype(np.float32)
    return window


def _levels(rows: Singles) -> NDArray[np.float16]:
    levels: NDArray[np.float16] = np.log10(np.maximum(rows / np.float32(FAINT), 1.0)).astype(np.float16)
    return levels


def _fine_weights(hertz: Floats) -> Floats:
    """Triangles in pitch (m, 64), each reaching to its neighbours, or to the next bin where bins are coarser."""
    middles = np.geomspace(LOWEST, HIGHEST, FINE_BANDS)
    reach = np.maximum(np.log2(middles[1] / middles[0]), np.log2(1 + hertz[1] / middles))
    away = np.abs(np.log2(np.maximum(hertz, 1.0)[:, None] / middles))
    return np.asarray(np.maximum(0.0, 1.0 - away / reach))


def _note_weights(hertz: Floats) -> Floats:
    """How much each frequency (m,) counts for each pitch class of the bass and above (m, 24).

    A Gaussian of a third of a semitone around each note of equal temperament, A at 440 Hz.
    """
    note = 69 + 12 * np.log2(np.maximum(hertz, 1.0) / 440.0)
    away = (note[:, None] - np.arange(12) + 6) % 12 - 6
    near = np.exp(-0.5 * (away / 0.33) ** 2)
    inside = [((hertz >= low) & (hertz < high))[:, None] for low, high in (BASS_NOTES, UPPER_NOTES)]
    return np.hstack([near * inside[0], near * inside[1]])
