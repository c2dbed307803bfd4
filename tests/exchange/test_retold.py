"""Another recording: bars matched in order."""

import numpy as np
import pytest

from copies import made_grid, made_trace, moved
from eavesong.exchange.place import placed_grid
from eavesong.exchange.retold import retold


def test_bars_are_matched_at_a_tempo_far_off():
    """Played 12 % slower, beyond what one line looks for: every bar lies where it is heard."""
    song, grid = made_trace(40, 3), made_grid(40)
    copy, heard = moved(song, 0.0, 1.12, 44.8), made_grid(44.8, bar=2.24)
    found = retold(song, grid, copy, heard)
    placed = placed_grid(grid, found, heard)
    wanted = 1.12 * np.array(grid.downbeats[:-1])
    assert np.array(placed.downbeats)[: len(wanted)] == pytest.approx(wanted, abs=0.06)
    assert found.margin == 0
