"""How late frames were, counted in small memory, against numpy's own percentiles."""

import numpy as np
import pytest

from eavesong.playback.punctuality import Punctuality


def test_percentiles_are_those_of_all_frames_to_a_tenth_of_a_millisecond():
    late = np.random.default_rng(1).exponential(0.004, 5000)
    told = Punctuality()
    for behind in late.tolist():
        told.note(behind)
    for share in (0.5, 0.9, 0.99):
        assert told.percentile(share) == pytest.approx(np.percentile(late, 100 * share), abs=2e-4)
    assert told.worst == late.max()


def test_skipped_frames_are_counted_with_the_one_that_follows():
    told = Punctuality()
    told.note(0.001, skipped=3)
    told.note(0.5)
    assert told.counts() == {
        "frames": 2, "skipped": 3, "late_ms_median": 1.1, "late_ms_p99": 500.0, "late_ms_worst": 500.0,
    }  # fmt: skip
    assert "2 frames sent, 3 skipped" in str(told)


def test_nothing_sent_is_nothing_late():
    assert Punctuality().percentile(0.99) == 0.0
