"""The trace: what it holds, and its text."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from eavesong.demo.songs import write_wav
from eavesong.errors import PackError
from eavesong.exchange.trace import Trace, read_trace, trace_of, trace_text


@given(st.integers(1, 350), st.integers(0, 2**32 - 1))
def test_the_text_says_all_of_it(count, seed):
    moments = np.random.default_rng(seed).integers(0, 256, (count, 5), dtype=np.uint8)
    text = trace_text(Trace(moments))
    assert text.isascii()
    assert np.array_equal(read_trace(text, "a").moments, moments)


def test_the_text_by_hand():
    """Two moments of five bytes, in hexadecimal digits as docs/exchange.md writes them."""
    text = trace_text(Trace(np.array([[0, 1, 2, 15, 16], [255, 0, 0, 0, 10]], np.uint8)))
    assert text == "eavesong trace 1\nmoments 2\n0001020f10ff0000000a\n"


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("", "is no trace"),
        ("PK\x03\x04", "is no trace"),
        ("eavesong trace 2\nmoments 1\n0000000000\n", "version 2"),
        ("eavesong trace 1\n", "how many moments"),
        ("eavesong trace 1\nmoments 99999999\n", "how many moments"),
        ("eavesong trace 1\nmoments 2\n0000000000\n", "line 3.*does not hold 2 moments"),
        ("eavesong trace 1\nmoments 1\n00000000zz\n", "line 3.*does not hold"),
        ("eavesong trace 1\nmoments 1\n0000000000\n0000000000\n", "line 4.*does not hold"),
        ("eavesong trace 1\nmoments 101\n" + "0" * 1000 + "\n", "holds 1 seconds"),
    ],
)
def test_what_is_no_trace(text, found):
    with pytest.raises(PackError, match=found):
        read_trace(text, "a")


def test_what_begins_is_where_it_begins(tmp_path):
    """Bursts of a tone at 2 kHz begin at 1.0, 1.5, … s: the fourth curve (1.5 to 5 kHz) rises within 30 ms of each,
    half the window of 46 ms and the two moments over which a rise is measured, and is silent between."""
    sound = np.zeros((4 * 44_100, 2))
    for at in np.arange(1.0, 3.6, 0.5):
        t = np.arange(4410) / 44_100
        sound[round(at * 44_100) :][:4410] += (0.5 * np.sin(2 * np.pi * 2000 * t) * np.exp(-t * 30))[:, None]
    write_wav(tmp_path / "a.wav", sound)
    curve = trace_of(tmp_path / "a.wav").moments[:, 3].astype(int)
    assert len(curve) == pytest.approx(400, abs=1)
    for at in np.arange(1.0, 3.6, 0.5):
        near = curve[round(100 * at) - 2 : round(100 * at) + 6]
        assert near.max() > 60
        assert curve[round(100 * at) + 15 : round(100 * at) + 40].max() < 10


def test_silence_is_a_trace_of_nothing(tmp_path):
    write_wav(tmp_path / "a.wav", np.zeros((44_100, 2)))
    assert not trace_of(tmp_path / "a.wav").moments.any()
