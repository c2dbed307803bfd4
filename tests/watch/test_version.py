"""Versions: what they show is what is rendered, and what differs between two is known without drawing them."""

import numpy as np
import pytest

from eavesong.frames import open_frames
from eavesong.kernels.exact import TILE
from eavesong.render import render
from eavesong.scene import Reopened
from eavesong.watch.reading import Reader
from eavesong.watch.version import BLOCK, Version, near_first

CHANGES = {
    "a cue of the second half": ("two.show.toml", "fade_in = { bars = 0.5 }", "fade_in = { bars = 1.5 }"),
    "its palette": ("two.show.toml", 'palette = "dusk"', 'palette = "frost"'),
    "its effect": ("wash.toml", "x + beat", "x - beat"),
    "a cue of the whole song": ("two.show.toml", "opacity = 0.8", "opacity = 0.7"),
    "the order of cues": ("two.show.toml", 'name = "Wash"', 'name = "Washed"'),
    "the house": ("house.toml", "at = [1, 0, 4]", "at = [2, 0, 4]"),
    "the beats": ("song.beats", "0.5\t2", "0.6\t2"),
}


def test_what_is_shown_is_what_is_rendered(order, tmp_path):
    """The light of every frame is that of the frames file of the same order."""
    render(order, tmp_path / "two.h5")
    version = Version(Reader(order).scene())
    with open_frames(tmp_path / "two.h5") as frames:
        wanted = Reopened(frames).light(0, frames.frame_count)
    shown = np.concatenate([version.block(index) for index in range(version.block_count)])
    assert np.array_equal(shown.reshape(wanted.shape), wanted)


@pytest.mark.parametrize("name", CHANGES)
def test_blocks_that_are_said_to_be_alike_are_alike(order, tmp_path, name):
    file, old, new = CHANGES[name]
    reader = Reader(order)
    before = Version(reader.scene())
    text = (tmp_path / file).read_text()
    assert old in text
    (tmp_path / file).write_text(text.replace(old, new))
    after = Version(reader.scene())
    changes = after.changes_from(before)
    for index in range(after.block_count):
        was, now = before.block(index), after.block(index)
        if index not in changes:
            assert np.array_equal(was, now)
        else:
            drawn = slice(*(3 * TILE * tile for tile in changes[index]))
            was[:, drawn] = after.block(index, changes[index])[:, drawn]
            assert np.array_equal(was, now)
    half = after.block_count // 2
    if name in ("a cue of the second half", "its palette", "its effect"):
        assert not changes.keys() & set(range(half - 1))
        assert changes.keys() >= set(range(half, after.block_count))
    if name == "the order of cues":  # a name lights nothing
        assert not changes


def test_blocks_cover_the_song(order):
    version = Version(Reader(order).scene())
    assert version.frame_count == 320  # eight seconds at 40 a second
    assert version.block_count == 320 // BLOCK
    assert version.block(0).shape == (BLOCK, 3 * version.scene.layout.pixel_count)


def test_what_is_heard_next_comes_first():
    assert near_first(10, 8, [0, 1, 7, 8, 9, 12]) == [8, 9, 0, 1, 7]
