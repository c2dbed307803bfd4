"""Blocks: what somebody looks at comes first, and what has not changed is not drawn again."""

import numpy as np
import pytest

from eavesong.watch.blocks import Store, block_of
from eavesong.watch.reading import Reader
from eavesong.watch.version import Version
from watched import SHOW, light_of, until


@pytest.fixture
def store():
    made = Store(lambda: None, threads=1)
    yield made
    made.end()


def test_a_block_is_its_light(order):
    version = Version(Reader(order).scene())
    block = block_of(version, 3)
    light = light_of(block).reshape(block.frames, -1, 3)
    assert np.array_equal(light.reshape(block.frames, -1), version.block(3))
    root = 255 * np.sqrt(light[block.frames // 2].mean(axis=0) / 255)
    assert np.abs(root - block.glow).max() <= 0.5


def test_everything_is_drawn_and_then_only_what_changed(order, tmp_path, store):
    reader = Reader(order)
    store.show(Version(reader.scene()))
    until(lambda: not store.left)
    before = [store.get(index) for index in range(16)]
    (tmp_path / "two.show.toml").write_text(SHOW.replace('palette = "dusk"', 'palette = "frost"'))
    assert store.show(Version(reader.scene()))
    until(lambda: not store.left)
    after = [store.get(index) for index in range(16)]
    assert all(after[index] is before[index] for index in range(7))  # bars 1 and 2
    assert all(after[index].names != before[index].names for index in range(9, 16))


def test_equal_light_has_equal_names(order):
    reader = Reader(order)
    assert block_of(Version(reader.scene()), 0).names == block_of(Version(reader.scene()), 0).names
