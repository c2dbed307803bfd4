"""How often a place may change: three flashes in a second are the most (WCAG 2.2, SC 2.3.1)."""

from hypothesis import given
from hypothesis import strategies as st

from eavesong.draft.moods import luminance
from eavesong.draft.safe import LEAD, busiest, faint, whole_beats, within


@given(st.floats(30, 300), st.sampled_from([0.5, 1.0, 2.0]), st.integers(2, 7))
def test_what_leads_never_comes_too_often(tempo, times, metre):
    beats = whole_beats(tempo, times, metre)
    assert times * tempo / 60 / beats <= LEAD < 3
    assert beats == int(beats)


def test_slow_songs_need_no_slowing():
    assert whole_beats(90.0, 0.5, 4) == 1
    assert whole_beats(200.0, 1.0, 4) == 2


def test_the_busiest_second():
    assert busiest([0.0, 0.4, 0.9, 1.0, 5.0]) == 3  # a second holds what begins before it is over
    assert busiest([]) == 0


def test_moments_within_spans():
    assert within([0.0, 1.0, 2.0, 3.0], [(1.0, 2.0), (3.0, 9.0)]) == [1.0, 3.0]


def test_what_is_faint_is_no_flash():
    """A flash is a change of a tenth of full white's luminance (WCAG 2.2)."""
    for colours in (("white",), ("lime", "blue"), ("#0743f9",), ("black",)):
        assert faint(*colours) * max(luminance(colour) for colour in colours) < 0.1
    assert faint("black") == 1
