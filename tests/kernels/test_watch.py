"""Following many places at once, on sequences that the standards label."""

from collections import Counter

import numpy as np
import pytest

import flashing
import labelled
from eavesong.kernels import thresholds
from eavesong.kernels.eyes import Follow, SeenPixels


def failing(light, second):
    """(n,): which of some films, linear (f, n, 3), have too many changes in a second."""
    count = light.shape[1]
    rows, planes = np.zeros((len(light), 1), np.uint8), np.ascontiguousarray(np.moveaxis(light, 1, 2), np.float32)
    none = SeenPixels(np.zeros((0, 4), np.int64), np.zeros(0, np.int16), np.zeros((1, 256), np.float32))
    over, _ = Follow.of(count, second).on(rows, planes, 0, none, thresholds.LIMIT, lambda work, _: work(0), 1)
    return over.any(axis=(0, 1))


def together(films):
    """(f, n, 3): films side by side; the shorter ones stand still at their end."""
    longest = max(len(film.light) for film in films)
    return np.stack([np.pad(film.light, ((0, longest - len(film.light)), (0, 0)), "edge") for film in films], axis=1)


@pytest.mark.parametrize("rate", labelled.RATES)
def test_every_sequence_gets_the_label_of_the_standards(rate):
    """Nearly 800 at each frame rate: rates, steps of luminance, reds, bursts, stairs. None is missed, none imagined,
    neither by the kernel nor by the count by brute force."""
    films = labelled.sequences(rate)
    labels = np.array([film.fails for film in films])
    assert Counter(labels.tolist())[True] > 200
    assert Counter(labels.tolist())[False] > 200
    light = together(films)
    found = failing(light, rate)
    counted = (flashing.changes(light, rate) > flashing.LIMIT).any(axis=(0, 1))
    for verdict in (counted, found):
        assert [film.name for film, own in zip(films, verdict, strict=True) if own != film.fails] == []
