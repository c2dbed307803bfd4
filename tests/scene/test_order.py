"""Orders: what a person asks for is one value, and survives being written down."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eavesong.errors import FramesError, ShowError
from eavesong.scene import Order, Terms, order_text, parse_order
from eavesong.scene.order import kept_on

seconds = st.one_of(st.none(), st.floats(0, 10_000))
words = st.lists(st.text(st.characters(codec="utf-8", exclude_categories=["Cs"]), min_size=1, max_size=20), max_size=4)
paths = st.text(min_size=1, max_size=30)
orders = st.builds(
    Order, paths, paths, st.one_of(st.none(), paths),
    frame_rate=st.floats(1, 240), start=seconds, stop=seconds, props=words, limit=words, soften=st.booleans(),
)  # fmt: skip


@given(orders)
def test_an_order_is_read_back_as_it_was_written(order):
    again = parse_order(order_text(order), "frost.h5")
    assert again == order
    assert again.differences(order) == ()


@given(orders, orders)
def test_two_orders_are_the_same_or_the_difference_is_said(one, other):
    assert (one.terms == other.terms) <= (one.differences(other) == ())
    if one.limit != other.limit and sorted(one.limit) != sorted(other.limit):
        assert any("limit" in words for words in one.differences(other))


def test_what_is_as_usual_is_not_written():
    assert order_text(Order("a.toml", "b.toml")) == 'show = "a.toml"\nlayout = "b.toml"\nframe_rate = 40.0\n'
    assert Terms().in_words() == ""
    assert Terms(limit="house:150W", soften=True).in_words() == "limit house:150W; softened"


@pytest.mark.parametrize(
    "text",
    [
        'show = "a"\nlayout = "b"\n',
        'show = 1\nlayout = "b"\nframe_rate = 40.0\n',
        'show = "a"\nlayout = "b"\nframe_rate = nan\n',
        'show = "a"\nlayout = "b"\nframe_rate = 40.0\nprops = [1]\n',
        'show = "a"\nlayout = "b"\nframe_rate = 40.0\nloud = true\n',
        "show",
    ],
)
def test_a_text_that_holds_no_order_is_refused(text):
    with pytest.raises(FramesError, match=r"frost.h5"):
        parse_order(text, "frost.h5")


def test_what_keeps_people_safe_is_lifted_only_by_whoever_says_so():
    earlier = Terms(limit=("house:150W",), soften=True, start=3.0)
    assert kept_on(earlier, Terms()) == Terms(limit=("house:150W",), soften=True)
    assert kept_on(earlier, Terms(limit=("supply",))) == Terms(limit=("supply",), soften=True)
    assert kept_on(earlier, Terms(), said=("limit", "soften")) == Terms()


@pytest.mark.parametrize(
    ("terms", "expected"),
    [
        (Terms(), (0, 400)),
        (Terms(frame_rate=30.0, start=0.1, stop=0.2), (3, 3)),
        (Terms(start=9.999), None),
        (Terms(start=5.0, stop=5.0), None),
    ],
)
def test_the_frames_of_a_range(terms, expected):
    if expected is None:
        with pytest.raises(ShowError, match="no frames"):
            terms.frame_range(10.0)
    else:
        assert terms.frame_range(10.0) == expected
