"""What was learned from songs with known beats: the weights that judge beats and rank explanations.

``tests/benchmarks/hearing/train.py`` and ``join.py`` make the file from generated songs; docs/hearing.md says which.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from eavesong.music.blocks import in_blocks
from eavesong.music.novelty import running_mean

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]

FILE = Path(__file__).with_name("model.npz")
FARTHEST = 4.0
"""Standard deviations beyond which a figure counts no further: unusual songs must not shout."""
REACHES = (1, 2, 4, 8)
"""How many beats away each layer of a net looks, on either side."""
SPAN = 96
"""Beats over whose mean a net knows what the song is like around a beat."""

AT_ONCE, MARGIN = 1 << 12, sum(REACHES) + SPAN // 2
"""Beats judged together, for memory in long recordings, and those that a beat may depend on, on either side."""


@dataclass(frozen=True, eq=False)
class Model:
    """The weights, float32: k nets whose judgements are averaged, each h wide, and what ranks explanations."""

    beat_mean: Singles
    beat_spread: Singles
    first: Singles
    """(k, c, h): from a beat's figures to the first layer."""
    first_bias: Singles
    turns: Singles
    """(k, r, 3h, h): from a layer at a beat, so many before it and so many after it, to what the next layer adds."""
    turns_bias: Singles
    out: Singles
    """(k, 2h, 3): from the last layer, and its mean around, to the log odds of being right, those of beginning a bar,
    and what speaks for the candidate."""
    out_bias: Singles
    rank_mean: Singles
    rank_spread: Singles
    rank: Singles
    """(r,): from an explanation's figures to its score."""
    sureness: Singles
    """(4,): from how an explanation stands to the log odds of its beats being right."""

    def judge(self, figures: Singles) -> Floats:
        """The log odds of each beat being right, those of its beginning a bar, and what in it speaks for the candidate
        (n, 3), from the figures (n, c) of all beats."""
        return in_blocks(len(figures), AT_ONCE, MARGIN, lambda rows: self._judged(figures[rows]))

    def _judged(self, figures: Singles) -> Floats:
        scaled = np.clip((figures - self.beat_mean) / self.beat_spread, -FARTHEST, FARTHEST)
        odds = [self._odds(scaled, net) for net in range(len(self.first))]
        return np.asarray(np.mean(odds, axis=0), np.float64)

    def _odds(self, scaled: Singles, net: int) -> Singles:
        layer = np.maximum(scaled @ self.first[net] + self.first_bias[net], 0)
        for reach, turn, bias in zip(REACHES, self.turns[net], self.turns_bias[net], strict=True):
            nothing = np.zeros((reach, layer.shape[1]), np.float32)
            padded = np.concatenate([nothing, layer, nothing])
            three = np.hstack([padded[: len(layer)], layer, padded[2 * reach :]])
            layer = layer + np.maximum(three @ turn + bias, 0)
        around = running_mean(layer, SPAN).astype(np.float32)
        return np.asarray(np.hstack([layer, around]) @ self.out[net] + self.out_bias[net])

    def score(self, figures: Floats) -> Floats:
        """The scores (m,) of explanations with these figures (m, r); the differences count."""
        scaled = np.clip((figures - self.rank_mean) / self.rank_spread, -FARTHEST, FARTHEST)
        return np.asarray(scaled @ self.rank, np.float64)

    def confidence(self, standing: Floats) -> float:
        """The share of beats that will be right, 0 to 1, from how an explanation stands (3,)."""
        odds = float(standing @ self.sureness[:3] + self.sureness[3])
        return float(1 / (1 + np.exp(-np.clip(odds, -30, 30))))


@cache
def model() -> Model:
    """The model that comes with the program."""
    return read_model(FILE)


def read_model(path: Path) -> Model:
    """The model in a file that `write_model` made."""
    with np.load(path, allow_pickle=False) as kept:
        return Model(**{name: kept[name].astype(np.float32) for name in kept.files})


def write_model(path: Path, model: Model) -> None:
    """Keep ``model`` in a file, half as precise as it is: ranks and odds do not need more."""
    np.savez_compressed(path, **{name: value.astype(np.float16) for name, value in vars(model).items()})
