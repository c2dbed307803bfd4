"""The picture: it shows likeness where there is some."""

import numpy as np

from eavesong.follow import picture
from eavesong.follow.figures import follow


def test_like_bars_shine_and_unlike_ones_do_not():
    rows = np.array([[0.0], [1.0], [0.0], [1.0]])
    square = picture._square(rows).astype(int).sum(axis=2)
    cell = picture.SQUARE // 4
    assert square[cell // 2, 2 * cell + cell // 2] > square[cell // 2, cell + cell // 2] + 200


def test_all_of_it_is_drawn(opened):
    drawn = picture.follow_picture(follow(opened))
    assert drawn.dtype == np.uint8
    assert drawn.shape[1] == picture.LEFT * 2 + 2 * (picture.SQUARE + picture.GAP) + picture.CURVES
    curves = drawn[:, -picture.CURVES - picture.LEFT :]
    assert (np.abs(curves.astype(int) - picture.ACCENT).sum(axis=2) < 30).sum() > 300
