"""How much light a draft gives: as much as is rendered of it."""

import numpy as np
import pytest

from eavesong.draft.measure import light_of_bars

SHOW = """
[[cue]]
effect = "plain"
bars = [1, 9]
palette = "white"
opacity = 0.5
[[cue]]
effect = "plain"
bars = [9, 17]
palette = "white"
[[cue]]
effect = "plain"
bars = [17, 25]
on = "all"
within = { x = [0, 0.5] }
palette = "red"
"""


def test_what_a_show_gives_in_each_bar(song, house):
    """Half of white is half; red is a third of it, on those pixels that lie to the left."""
    light = light_of_bars(SHOW, song, house)
    left = float((house.pixels.x <= 0.5).mean())
    assert light[:8] == pytest.approx(np.full(8, 0.5))
    assert light[8:16] == pytest.approx(np.ones(8))
    assert light[16:24] == pytest.approx(np.full(8, left / 3), abs=0.06)
    assert not light[24:].any()


def test_a_house_stands_in_where_none_is_known(song):
    assert light_of_bars(SHOW, song, None)[8] == pytest.approx(1.0)
