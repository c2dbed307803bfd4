"""The loop over tiles, frames and cues: every pixel's colour in every frame, composited and turned into bytes."""

from __future__ import annotations

import numpy as np

from eavesong.kernels.drive import drive_tile
from eavesong.kernels.lanes import TILE, run_kernel


def fill(cues, places, strength, spectra, scalars, strings, string_at, curves, first_tile, end_tile, scratch, out):
    """Fill ``out`` with the bytes of a block of frames.

    cues: int64 (q, 3): addresses of the compiled effect and of its palette, first column of its scalars. places:
    int64 (q, 2, tiles): addresses of the cue's planes and of its weights in each tile, 0 where it lights nothing.
    strength: float32 (q, f): opacity and fade, 0 where the cue is not on. spectra: float32 (f, bands). scalars:
    float32 (f, columns): every cue's frame-rate values side by side. strings, curves: see ``drive``; string_at:
    int64 (tiles,): the first string that reaches into each tile. Tiles from first_tile up to end_tile are computed.
    scratch: float32 (2, 3, TILE), this call's alone. out: uint8 (f, channels). Several threads may fill different
    blocks.
    """
    light, levels = scratch[0], scratch[1]
    light_at = np.int64(light.ctypes.data)
    scalars_at, spectra_at = np.int64(scalars.ctypes.data), np.int64(spectra.ctypes.data)
    for tile in range(first_tile, end_tile):
        for frame in range(out.shape[0]):
            light[:] = 0
            spectrum = spectra_at + frame * 4 * spectra.shape[1]
            row = scalars_at + frame * 4 * scalars.shape[1]
            for q in range(len(cues)):
                planes, weight = places[q, 0, tile], places[q, 1, tile]
                if strength[q, frame] > 0 and planes != 0:
                    own = row + 4 * cues[q, 2]
                    run_kernel(cues[q, 0], light_at, weight, planes, own, cues[q, 1], spectrum, strength[q, frame])
            drive_tile(light, levels, tile * TILE, strings, string_at[tile], curves, out[frame])
