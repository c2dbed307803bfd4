"""Layers of small nets that hear each row of something, a beat or a bar, beside those before and after it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Singles = NDArray[np.float32]


def beside_others(layer: Singles, turns: Singles, biases: Singles, reaches: Sequence[int]) -> Singles:
    """A layer (n, h), to which each row adds, once for each reach, what it, and those as many rows before and after it,
    say of it: dilated convolutions (cf. Bai, Kolter & Koltun 2018). turns: (r, 3h, h); biases: (r, h)."""
    for reach, turn, bias in zip(reaches, turns, biases, strict=True):
        nothing = np.zeros((reach, layer.shape[1]), np.float32)
        padded = np.concatenate([nothing, layer, nothing])
        layer = layer + np.maximum(np.hstack([padded[: len(layer)], layer, padded[2 * reach :]]) @ turn + bias, 0)
    return layer
