"""What was learned from songs with known beats: the weights that judge beats and rank explanations.

``tests/benchmarks/hearing/train.py`` makes the file from generated songs; docs/hearing.md says which.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]

FILE = Path(__file__).with_name("model.npz")
FARTHEST = 4.0
"""Standard deviations beyond which a figure counts no further: unusual songs must not shout."""


@dataclass(frozen=True, eq=False)
class Model:
    """The weights; arrays float32."""

    beat_mean: Singles
    beat_spread: Singles
    hidden: Singles
    """(c, h): from a beat's figures to the hidden units."""
    hidden_bias: Singles
    out: Singles
    """(h, 2): from the hidden units to the log odds of being right, and of beginning a bar."""
    out_bias: Singles
    rank_mean: Singles
    rank_spread: Singles
    rank: Singles
    """(r,): from an explanation's figures to its score."""
    sureness: Singles
    """(4,): from how an explanation stands to the log odds of its beats being right."""

    def judge(self, figures: Singles) -> Floats:
        """The log odds (n, 2) of each beat being right and beginning a bar, from its figures (n, c)."""
        scaled = np.clip((figures - self.beat_mean) / self.beat_spread, -FARTHEST, FARTHEST)
        hidden = np.tanh(scaled @ self.hidden + self.hidden_bias)
        return np.asarray(hidden @ self.out + self.out_bias, np.float64)

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
