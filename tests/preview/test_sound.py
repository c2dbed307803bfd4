"""The song in clips and pages: as long as it is, silent after its end."""

import io
from itertools import pairwise

import av
import numpy as np
import pytest

from eavesong.preview.sound import RATES, blocks_between, packed_song
from lamps import RATE, write_click


@pytest.fixture
def song(tmp_path):
    return write_click(tmp_path / "click.wav", [0.5], seconds=2.0)


def test_a_part_holds_just_its_samples(song):
    whole = np.concatenate([block for _, block in blocks_between(song, 0.0, 2.0)])
    part = np.concatenate([block for _, block in blocks_between(song, 0.4, 0.7)])
    assert len(whole) == 2 * RATE
    np.testing.assert_array_equal(part, whole[round(0.4 * RATE) : round(0.7 * RATE)])


def test_after_its_end_there_is_silence(song):
    late = np.concatenate([block for _, block in blocks_between(song, 1.5, 3.0)])
    assert len(late) == 1.5 * RATE
    assert late[: RATE // 2].any()
    assert not late[RATE // 2 :].any()


def test_a_packed_song_is_aac_of_its_length_with_its_click_in_place(song):
    data, kind = packed_song(song)
    assert kind == "audio/mp4"
    with av.open(io.BytesIO(data)) as file:
        assert file.streams.audio[0].codec_context.name == "aac"
        heard = np.concatenate([frame.to_ndarray()[0] for frame in file.decode(audio=0)])
    assert len(heard) / RATE == pytest.approx(2.0, abs=0.05)  # AAC comes in frames of 1,024 samples
    assert np.abs(heard).argmax() / RATE == pytest.approx(0.5, abs=0.05)


def test_rates_are_those_of_the_standard_in_falling_order():
    """ISO/IEC 14496-3, table 1.18: twelve rates from 96,000 to 8,000 Hz (from memory)."""
    assert (len(RATES), RATES[0], RATES[-1]) == (12, 96_000, 8_000)
    assert all(higher > lower for higher, lower in pairwise(RATES))
