"""DEFLATE streams against zlib's inflater, which is the reference for RFC 1951."""

import heapq
import zlib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavesong.kernels import deflate as kernel
from eavesong.kernels.deflate import BLOCK, FARTHEST, deflate


def inflated(stream):
    """What zlib makes of a raw stream (wbits -15), which must end exactly where the stream does."""
    inflater = zlib.decompressobj(-15)
    data = inflater.decompress(bytes(stream))
    assert inflater.eof
    assert inflater.unused_data == b""
    return data


def light(seed, size, steps, hold):
    """Bytes like those of lights: runs of equal pixels of three channels, of lengths around ``hold``."""
    random = np.random.default_rng(seed)
    pixels = random.integers(0, steps, (size // 3 + 1, 3), np.uint8)
    return np.repeat(pixels, random.integers(1, hold + 1, len(pixels)), axis=0).reshape(-1)[:size].copy()


@settings(max_examples=60, deadline=None)
@given(
    seed=st.integers(0, 999), size=st.integers(1, 3000), steps=st.sampled_from([1, 2, 5, 40, 256]),
    hold=st.sampled_from([1, 2, 30, 400]), distances=st.sampled_from([(3,), (4, 3), (1,), (3, 4, 150), (700,)]),
)  # fmt: skip
def test_zlib_inflates_whatever_is_deflated(seed, size, steps, hold, distances):
    data = light(seed, size, steps, hold)
    assert inflated(deflate(data, distances)) == data.tobytes()


@pytest.mark.parametrize("size", [1, 2, 3, 4, 5, 63, 64, 65, BLOCK - 1, BLOCK, BLOCK + 1, BLOCK + 3, 2 * BLOCK + 70])
@pytest.mark.parametrize("hold", [1, 50])
def test_it_does_so_around_the_borders_of_words_and_blocks(size, hold):
    data = light(size, size, 4, hold)
    assert inflated(deflate(data, (3,))) == data.tobytes()


@pytest.mark.parametrize("length", [*range(3, 20), 66, 67, 68, 130, 131, 257, 258, 259, 260, 261, 262, 516, 600, 5000])
def test_runs_of_every_class_of_length_come_back(length):
    """RFC 1951, 3.2.5: matches of 3 to 258 bytes in 29 classes; longer runs take several."""
    gap = np.arange(40, dtype=np.uint8) + 100
    data = np.concatenate([gap, np.zeros(length, np.uint8), gap[::-1], np.zeros(length, np.uint8), gap])
    assert inflated(deflate(data, (1,))) == data.tobytes()


@pytest.mark.parametrize(
    "distance", [1, 2, 3, 4, 5, 6, 7, 8, 9, 12, 13, 192, 193, 24576, 24577, FARTHEST - 1, FARTHEST]
)
def test_every_class_of_distance_comes_back_and_saves_the_repeats(distance):
    """RFC 1951, 3.2.5: distances of 1 to 32768 in 30 classes. Noise that repeats costs next to nothing."""
    noise = np.random.default_rng(distance).integers(0, 256, distance, np.uint8)
    data = np.tile(noise, 120_000 // distance + 1)[:120_000].copy()
    stream = deflate(data, (distance,))
    assert inflated(stream) == data.tobytes()
    assert stream.size < distance * 1.7 + 120_000 / 258 * 4 + 300


def test_the_distance_at_which_most_repeats_is_taken():
    frame = np.random.default_rng(0).integers(0, 256, 3000, np.uint8)
    still = np.tile(frame, 40)
    assert deflate(still, (3, 4, 3000)).size < still.size / 20
    assert deflate(still, (3, 4)).size > still.size / 2


def test_noise_grows_by_no_more_than_is_said():
    noise = np.random.default_rng(0).integers(0, 256, 3 * BLOCK, np.uint8)
    assert deflate(noise, (3,)).size < noise.size * 1.01
    # All that is counted is one value, all that is not counted is noise: the codes fit as badly as they can.
    noise.reshape(-1, 4096)[:, :512] = 7
    stream = deflate(noise, (32768,))
    assert inflated(stream) == noise.tobytes()
    assert stream.size < noise.size * 13 / 8 + 3 * 256


def test_a_band_of_light_on_a_dark_house_takes_less_than_zlib_makes_of_it():
    """Against zlib at its default level, whose streams are the yardstick of common practice."""
    x = np.linspace(0, 1, 40_000)
    glow = np.clip(1 - np.abs(x - 0.4) * 8, 0, 1)[:, None] * [255, 180, 90]
    data = glow.astype(np.uint8).reshape(-1)
    assert deflate(data, (3,)).size < 1.1 * len(zlib.compress(data))


def test_codes_are_as_short_as_huffmans_method_makes_them():
    """The sum of weights of all inner nodes, by the textbook method with a heap (Huffman, 1952)."""
    counts = np.random.default_rng(2).integers(100, 900, kernel.SYMBOLS)
    heap = counts.tolist()
    heapq.heapify(heap)
    best = 0
    while len(heap) > 1:
        both = heapq.heappop(heap) + heapq.heappop(heap)
        best += both
        heapq.heappush(heap, both)
    lengths = np.empty(kernel.SYMBOLS, np.int64)
    kernel._lengths.py_func(counts.copy(), lengths, np.empty((6, 2 * kernel.SYMBOLS), np.int64))
    assert int((counts * lengths).sum()) == best


def test_codes_too_long_are_evened_out_to_a_complete_set():
    """Fibonacci numbers make the deepest tree there is; Kraft's sum of a complete code is 1 (Kraft, 1949)."""
    counts = np.ones(kernel.SYMBOLS, np.int64)
    for i in range(1, 23):
        counts[i] = counts[i - 1] + counts[max(0, i - 2)]
    lengths = np.empty(kernel.SYMBOLS, np.int64)
    kernel._lengths.py_func(counts, lengths, np.empty((6, 2 * kernel.SYMBOLS), np.int64))
    assert lengths.max() <= kernel.LONGEST_CODE
    assert sum(2.0 ** -int(length) for length in lengths) == 1.0


def test_room_is_left_on_both_sides():
    data = light(1, 1000, 5, 9)
    plain = deflate(data, (3,))
    for ahead in (1, 2, 4, 5):
        roomy = deflate(data, (3,), ahead=ahead, behind=8)
        assert bytes(roomy[ahead:-8]) == bytes(plain)


@pytest.mark.parametrize("distances", [(), (0,), (3, 32769)])
def test_distances_deflate_cannot_express_are_refused(distances):
    with pytest.raises(ValueError, match="distances are 1 to 32768"):
        deflate(np.zeros(9, np.uint8), distances)
