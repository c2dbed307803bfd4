"""Tones: how strong each pitch sounds, twenty times a second, in steps of half a semitone."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from eavesong.music.bands import Meter
from eavesong.music.ear import FAINT, hann

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]
    Bytes = NDArray[np.uint8]

TONE_RATE = 20
"""Frames a second."""
TONE_WINDOW = 0.15
"""Seconds of a frame: long enough to tell neighbouring notes from the second harmonic on, short enough for tunes."""
STEPS = 24
"""Steps of an octave."""
LOWEST_NOTE = 36
"""MIDI note of the first step: C2, 65.4 Hz with A at 440 Hz."""
TONE_COUNT = 176
"""Steps, up to 10.4 kHz: the fifth harmonic of the highest lead."""
PER_DECIBEL = 2.5
"""Steps of a kept level to a decibel above -90 dB of full scale."""


def tones_meter(rate: int) -> Meter:
    """The meter whose result is how strong each tone is: uint8 (g, 176), 0 for silence, 2.5 to a decibel."""
    return Meter(rate, TONE_RATE, hann(TONE_WINDOW * rate), _weights, lambda rows, _: rows, _levels)


def _levels(rows: Singles) -> Bytes:
    level = 10 * PER_DECIBEL * np.log10(np.maximum(rows / np.float32(FAINT), 1.0))
    return np.asarray(np.minimum(np.rint(level), 255).astype(np.uint8))


def _weights(hertz: Floats) -> Floats:
    """Triangles in pitch (m, 176), each reaching to its neighbours, or to the next bin where bins are coarser."""
    middles = 440.0 * 2 ** ((LOWEST_NOTE - 69) / 12 + np.arange(TONE_COUNT) / STEPS)
    reach = np.maximum(1 / STEPS, np.log2(1 + hertz[1] / middles))
    away = np.abs(np.log2(np.maximum(hertz, 1.0)[:, None] / middles))
    return np.asarray(np.maximum(0.0, 1.0 - away / reach))
