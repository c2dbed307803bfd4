"""Packed frames come back as they were, or within what their fidelity says."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as some
from hypothesis.extra.numpy import array_shapes, arrays

from eavesong.frames import open_frames
from eavesong.preview.pack import LADDER, Fidelity, Pack, _stream, as_text, pack, unpacked
from eavesong.scene.reopen import Reopened


def back(light, fidelity=LADDER[0]):
    data, steps = _stream(light, fidelity)
    kept = len(light[:: fidelity.every])
    return unpacked(Pack(fidelity, kept, kept, (data,), (steps,)), 0, light.shape[1])


@given(arrays(np.uint8, array_shapes(min_dims=2, max_dims=2, max_side=9).map(lambda shape: (*shape, 3))))
def test_an_exact_pack_gives_every_byte_back(light):
    assert np.array_equal(back(light), light)


def test_more_steps_than_the_table_holds_escape():
    light = np.random.default_rng(3).integers(0, 256, (30, 40, 3), np.uint8)
    assert np.array_equal(back(light), light)


@pytest.mark.parametrize("fidelity", [each for each in LADDER if each.luma])
def test_a_rounded_pack_stays_within_its_steps(fidelity):
    """On the scale of the square root of light, each of Y, Co, Cg is off by 0.8 steps at most, so red, green and
    blue by 0.8 (luma + chroma); half a step more for rounding to bytes of light, which are wide in the dark."""
    light = np.random.default_rng(4).integers(0, 256, (12, 50, 3), np.uint8)
    off = np.abs(np.sqrt(255.0 * back(light, fidelity)) - np.sqrt(255.0 * light[:: fidelity.every]))
    assert off.max() <= 0.8 * (fidelity.luma + fidelity.chroma) + 8


def test_greys_stay_grey():
    light = np.arange(256, dtype=np.uint8)[None, :, None].repeat(3, axis=2)
    seen = back(light, Fidelity(8, 16))
    assert np.all(np.ptp(seen, axis=2) == 0)


def test_a_steady_light_is_kept_steady():
    """What wanders less than a step does not flicker."""
    wander = (120 + np.random.default_rng(5).integers(-1, 2, (40, 10, 3))).astype(np.uint8)
    seen = back(wander, Fidelity(12, 24))
    assert not np.diff(seen.astype(int), axis=0).any()


def test_the_finest_that_fits_is_taken(three_lamps):
    with open_frames(three_lamps / "lamps.h5") as frames:
        source = Reopened(frames)
        exact = pack(source, 1 << 30)
        size = sum(map(len, exact.streams))
        smaller = pack(source, size // 2)
        assert exact.fidelity.exact
        assert not smaller.fidelity.exact
        assert sum(map(len, smaller.streams)) <= size // 2
        assert np.array_equal(
            np.concatenate([unpacked(exact, chunk, 54) for chunk in range(len(exact.streams))]), source.light(0, 160)
        )


def test_what_cannot_fit_is_packed_as_coarsely_as_there_is(three_lamps):
    with open_frames(three_lamps / "lamps.h5") as frames:
        assert pack(Reopened(frames), 1).fidelity == LADDER[-1]


@given(some.binary())
def test_bytes_survive_as_text(data):
    """What stands in the page is neither a line end, a null nor the beginning of a tag (HTML standard, 13.2.5.4)."""
    text = as_text(data)
    assert not {0x00, 0x0D, 0x3C} & set(text)
    out, escaped = bytearray(), False
    for byte in text:
        if byte == 0x3D and not escaped:
            escaped = True
        else:
            out.append(byte - 64 if escaped else byte)
            escaped = False
    assert bytes(out) == data
