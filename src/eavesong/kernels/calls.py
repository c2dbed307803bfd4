"""Kernels by name: called in machine code, without numba where that is kept."""

from __future__ import annotations

from eavesong.kernels.store import Kernel

sample = Kernel(
    "eavesong.kernels.sample",
    "fill",
    (
        "int64[2]", "int64[3]", "float32[2]", "float32[2]", "float32[2]", "int64[2]", "int64[1]", "uint8[2]",
        "int64", "int64", "float32[3]", "uint8[2]",
    ),
)  # fmt: skip
"""See ``sample.fill``."""
