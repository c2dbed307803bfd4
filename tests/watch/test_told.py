"""What pages are told."""

import base64

import numpy as np
import pytest

from eavesong.errors import Problem
from eavesong.watch import told
from eavesong.watch.reading import Reader
from eavesong.watch.version import Version
from watched import strobe


@pytest.fixture
def version(order):
    return Version(Reader(order).scene())


def test_the_house_is_told_in_metres(version):
    house = told.house(version.scene.layout)
    places = np.frombuffer(base64.b64decode(house["places"]), "<f4").reshape(-1, 3)
    assert np.allclose(places[99], [9.95, 5, 0])  # the last of 100 pixels along ten metres of ridge
    assert [name for name, *_ in house["props"]][:2] == ["ridge", "eaves"]


def test_the_song_is_told_in_beats_and_bars(version):
    song = told.song(version)
    assert (song["seconds"], song["bars"]) == (8.0, [0.0, 2.0, 4.0, 6.0])
    assert len(song["beats"]) == 16


def test_what_is_dark_is_told(version):
    """No cue lights the arches or the oak in the first half."""
    found = told.findings_of(version.scene)
    assert all(set(each) == {"file", "place", "found", "instead", "weight"} for each in found)
    assert told.problem(Problem("a/b.toml", "line 3", "is odd", "Mend it."))["file"] == "b.toml"


def test_the_whole_song_is_looked_through_for_flashes(order, tmp_path):
    """Ten flashes a second over the whole house are more than the three of WCAG 2.2, SC 2.3.1."""
    strobe(tmp_path)
    found = told.limits_of(Version(Reader(order).scene()))
    assert any(each["place"] == "flashes" for each in found)
