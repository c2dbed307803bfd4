"""``eavesong listen``: which universes are meant."""

import pytest


@pytest.mark.parametrize("words", [[], ["0"], ["64000"], ["1-"], ["four"], ["9-4"], ["1", "--interface", "eth0"]])
def test_what_is_no_universe_ends_with_2(eavesong, words):
    """ANSI E1.31-2018, 6.2.7: universes 1 to 63999 carry data."""
    assert eavesong("listen", *words, "--seconds", "0.1").code == 2


def test_a_house_that_is_not_there_ends_with_3(eavesong, tmp_path):
    assert eavesong("listen", "--layout", tmp_path / "house.toml", "--seconds", "0.1").code == 3
