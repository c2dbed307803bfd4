"""Streams in segments, against zlib of the standard library."""

import zlib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavesong.frames.format import CHECKSUM_BYTES
from eavesong.frames.segments import SEGMENT, segmented, spliced, touched


def texture(size: int, seed: int = 0, steps: int = 4) -> np.ndarray:
    return np.random.default_rng(seed).integers(0, steps, size).astype(np.uint8)


def stream_of(raw: np.ndarray) -> bytes:
    stream = segmented(raw)
    assert stream is not None
    return bytes(stream)


def exchanged(stream: bytes, size: int, at: int, new: np.ndarray) -> bytes | None:
    """The stream with ``new`` in the place ``at``."""
    fresh, changed = np.zeros(size, np.uint8), np.zeros(size, np.bool_)
    fresh[at : at + len(new)], changed[at : at + len(new)] = new, True
    made = spliced(stream + bytes(CHECKSUM_BYTES), fresh, touched(changed))
    return None if made is None else bytes(made[:-CHECKSUM_BYTES])


@settings(max_examples=40, deadline=None)
@given(size=st.integers(1, 5 * SEGMENT), steps=st.sampled_from([1, 2, 4, 256]), seed=st.integers(0, 99))
def test_zlib_reads_streams_in_segments(size: int, steps: int, seed: int) -> None:
    raw = texture(size, seed, steps)
    assert zlib.decompress(stream_of(raw)) == raw.tobytes()


@settings(max_examples=60, deadline=None)
@given(data=st.data(), size=st.integers(4 * SEGMENT, 9 * SEGMENT), steps=st.sampled_from([1, 3, 256]))
def test_a_splice_holds_what_was_changed_and_all_else(data: st.DataObject, size: int, steps: int) -> None:
    raw = texture(size, size, steps)
    at = data.draw(st.integers(0, size - 1))
    new = texture(data.draw(st.integers(1, min(size - at, SEGMENT))), 7, 256)
    made = exchanged(stream_of(raw), size, at, new)
    assert made is not None
    raw[at : at + len(new)] = new
    assert zlib.decompress(made) == raw.tobytes()  # which checks its Adler-32 too (RFC 1950, 2.2)


def test_a_splice_copies_what_it_does_not_touch() -> None:
    raw = texture(8 * SEGMENT)
    stream = stream_of(raw)
    made = exchanged(stream, raw.size, 4 * SEGMENT + 9, np.full(5, 77, np.uint8)) or b""
    third = stream.index(b"\x00\x00\xff\xff", len(stream) * 3 // 8)
    assert made[:third] == stream[:third]
    assert made[-len(stream) // 4 : -4] == stream[-len(stream) // 4 : -4]


def test_damage_in_what_is_copied_stays_visible() -> None:
    raw = texture(8 * SEGMENT, steps=256)
    stream = bytearray(stream_of(raw))
    stream[200] ^= 1
    made = exchanged(bytes(stream), raw.size, 7 * SEGMENT, np.zeros(9, np.uint8))
    with pytest.raises(zlib.error):
        zlib.decompress(made or b"")


@pytest.mark.parametrize("cut", [0, 1, 7])
def test_streams_that_are_not_in_segments_are_left_to_others(cut: int) -> None:
    raw = texture(4 * SEGMENT)
    assert exchanged(zlib.compress(raw.tobytes()), raw.size, 0, raw[:9]) is None
    assert exchanged(stream_of(raw)[: -40 - cut], raw.size, 0, raw[:9]) is None


def test_where_nearly_all_has_changed_nothing_is_spliced() -> None:
    raw = texture(8 * SEGMENT)
    assert exchanged(stream_of(raw), raw.size, 0, raw) is None


def test_patterns_that_come_again_and_again_are_not_cut() -> None:
    """Windows alike, 9,600 bytes each: every segment would have to spell the pattern out anew."""
    window = texture(2400, steps=256).repeat(4)
    assert segmented(np.tile(window, 40)) is None
