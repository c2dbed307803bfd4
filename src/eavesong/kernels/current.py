"""Currents: what the bytes of a frame draw, summed by group, and bytes made smaller until they draw less."""

from __future__ import annotations

import numpy as np


def drive_currents(frames, amperes, runs, totals):
    """Amperes that bytes draw beyond idle, summed by group.

    frames: uint8 (f, channels). amperes: float32 (channels,): for each step of a byte. runs: int64 (k, 4): first
    channel, end, group, whether all of them draw alike. totals: float64 (f, groups): added to.
    """
    for f in range(frames.shape[0]):
        row = frames[f]
        for k in range(len(runs)):
            first, end = runs[k, 0], runs[k, 1]
            if runs[k, 3]:
                steps, bytes_of_run = 0, row[first:end]
                for c in range(len(bytes_of_run)):
                    steps += bytes_of_run[c]
                totals[f, runs[k, 2]] += steps * np.float64(amperes[first])
            else:
                part = np.float32(0)
                for c in range(first, end):
                    part += amperes[c] * np.float32(row[c])
                totals[f, runs[k, 2]] += part


def scale(frames, runs, gains):
    """Bytes times the gain of their group, rounded down, in place; a gain of 1 leaves them as they are.

    frames: uint8 (f, channels). runs: int64 (k, 4): first channel, end, group, unused here.
    gains: float32 (f, groups), 0..1.
    """
    for f in range(frames.shape[0]):
        row = frames[f]
        for k in range(len(runs)):
            gain = gains[f, runs[k, 2]]
            if gain < 1:
                part = row[runs[k, 0] : runs[k, 1]]
                for c in range(len(part)):
                    part[c] = np.uint8(np.int32(np.float32(part[c]) * gain))
