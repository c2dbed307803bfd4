"""Join nets that judge beats to those of a model, and keep its ranking: writes a model's file.

    python tests/benchmarks/hearing/join.py MODEL NET... --share 0.25 --out FILE

``MODEL`` is a file of `eavesong.music.model`, the ``NET``s are files that ``train.py net`` wrote; together they count
so much of the whole. Nets that are less wide get hidden units that never answer.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from eavesong.music.model import Model, read_model, write_model

Singles = NDArray[np.float32]
BLOCKS = {"first": {2: 1}, "first_bias": {1: 1}, "turns": {2: 3, 3: 1}, "turns_bias": {2: 1}, "out": {1: 2}}
"""In which directions of the weights hidden units lie, and how many times."""


def widened(weights: Singles, now: int, then: int, blocks: dict[int, int]) -> Singles:
    """Weights of nets with ``then`` hidden units in place of ``now``, those that are new all zero."""
    for axis, count in blocks.items():
        parts = np.split(weights, count, axis=axis)
        more = [(0, then - now if other == axis else 0) for other in range(weights.ndim)]
        weights = np.concatenate([np.pad(part, more) for part in parts], axis=axis)
    return weights


def as_scaled_by(net: dict[str, Singles], model: Model) -> dict[str, Singles]:
    """A net's weights for figures that are scaled as those of ``model`` are."""
    ratio = model.beat_spread / net["beat_spread"]
    moved = (model.beat_mean - net["beat_mean"]) / net["beat_spread"]
    return net | {"first": net["first"] * ratio[:, None], "first_bias": net["first_bias"] + moved @ net["first"]}


def joined(model: Model, nets: list[dict[str, Singles]], share: float) -> Model:
    """``model`` with ``nets`` beside its own, which count ``share`` of the whole."""
    count, now = len(model.first), model.first.shape[2]
    then = max(now, *(net["first"].shape[1] for net in nets))
    whole = count + len(nets)
    scaled = [as_scaled_by(net, model) for net in nets]
    weights = {}
    for name in (*BLOCKS, "out_bias"):
        blocks = BLOCKS.get(name, {})
        own = widened(getattr(model, name), now, then, blocks)
        new = np.stack([net[name] for net in scaled])
        new = widened(new, nets[0]["first"].shape[1], then, blocks)
        weighs = (whole * (1 - share) / count, whole * share / len(nets)) if name.startswith("out") else (1.0, 1.0)
        weights[name] = np.concatenate([own * weighs[0], new * weighs[1]]).astype(np.float32)
    return replace(model, **weights)


def main(arguments: list[str]) -> None:
    options = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    options.add_argument("model", type=Path)
    options.add_argument("nets", type=Path, nargs="+")
    options.add_argument("--share", type=float, default=0.25)
    options.add_argument("--out", type=Path, required=True)
    chosen = options.parse_args(arguments)
    nets = [dict(np.load(path)) for path in chosen.nets]
    write_model(chosen.out, joined(read_model(chosen.model), nets, chosen.share))


if __name__ == "__main__":
    main(sys.argv[1:])
