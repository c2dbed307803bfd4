"""The loop over tiles, frames and cues: every pixel's colour in every frame, composited and turned into bytes."""

from __future__ import annotations

import numpy as np

from eavesong.kernels.drive import drive_tile
from eavesong.kernels.lanes import TILE, run_kernel
from eavesong.light import LEVELS


def fill(
    steps, begins, rows, lit, cues, places, strength, spectra, scalars, strings, string_at, orders, curves,
    first_tile, end_tile, scratch, taken, out,
):  # fmt: skip
    """Fill ``out`` with the bytes of a block of frames, in all of which the same cues are on.

    steps: int64 (s, 4): address of compiled code, which of ``lit`` it draws, from one up to another, and whether it
    ends in bytes. begins: int64 (r + 1,): where the steps of each row of cues begin. rows: int64 (tiles,): which of
    those lights each tile. lit: int64 (k,): cues, by number. cues: int64 (q, 2): address of the palette, first column
    of the scalars. places: int64 (q, 2, tiles): addresses of the cue's planes and of its weights in each tile.
    strength: float32 (q, f): opacity and fade. spectra: float32 (f, bands). scalars: float32 (f, columns): every cue's
    frame-rate values side by side. strings, curves: see ``drive``, with four bytes more; string_at: int64 (tiles,): the
    first string that reaches into each tile; orders: float32 (s, 3): by how many bits a string shifts red, green and
    blue. Tiles from first_tile up to end_tile are computed. scratch: float32 (3, TILE), taken: int64 (ADDRESSES,), this
    call's alone. out: uint8 (f, channels). Several threads may fill different blocks.
    """
    scalars_at, spectra_at = np.int64(scalars.ctypes.data), np.int64(spectra.ctypes.data)
    strength_at, taken_at = np.int64(strength.ctypes.data), np.int64(taken.ctypes.data)
    taken[0] = np.int64(scratch.ctypes.data)
    for tile in range(first_tile, end_tile):
        string = string_at[tile]
        for frame in range(out.shape[0]):
            taken[1] = spectra_at + frame * 4 * spectra.shape[1]
            row = scalars_at + frame * 4 * scalars.shape[1]
            driven = False
            for s in range(begins[rows[tile]], begins[rows[tile] + 1]):
                at = 2 if steps[s, 2] > steps[s, 1] else 1
                for k in range(steps[s, 1], steps[s, 2]):
                    cue = lit[k]
                    taken[at], taken[at + 1] = places[cue, 1, tile], places[cue, 0, tile]
                    taken[at + 2], taken[at + 3] = row + 4 * cues[cue, 1], cues[cue, 0]
                    taken[at + 4] = strength_at + 4 * (cue * strength.shape[1] + frame)
                    at += 5
                if steps[s, 3]:
                    driven = True
                    taken[at] = np.int64(curves.ctypes.data) + strings[string, 3] * LEVELS
                    taken[at + 1] = np.int64(orders.ctypes.data) + 12 * string
                    begin = strings[string, 2] + 3 * (tile * TILE - strings[string, 0])
                    taken[at + 2] = np.int64(out.ctypes.data) + frame * out.shape[1] + begin
                run_kernel(steps[s, 0], taken_at)
            if not driven:
                drive_tile(scratch, tile * TILE, strings, string, curves, out[frame])
