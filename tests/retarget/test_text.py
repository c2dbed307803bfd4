"""The report of a retargeting as people read it."""

import pytest

from eavesong.retarget.report import CueChange, Lit
from eavesong.retarget.text import MOST_PROPS, cue_words, lit_words

RIDGE = Lit("roofline", 1, ("ridge", "left eaves"), 1812)


def test_what_is_lit_is_told_with_its_pixels():
    assert lit_words(RIDGE) == "roofline, 1,812 pixels: ridge, left eaves"


def test_many_props_are_counted():
    many = Lit("all", 1, tuple(f"p{number}" for number in range(MOST_PROPS + 3)), 5)
    assert lit_words(many).endswith(f"p{MOST_PROPS - 1} and 3 more")


def test_nothing_lit_names_what_was_asked_for():
    assert lit_words(Lit("pond", 0, (), 0)) == "nothing (on 'pond')"


@pytest.mark.parametrize(
    ("state", "told"),
    [
        ("changed", ["on roofline: 1,812 pixels before, 900 now", "gains: porch", "loses: ridge"]),
        ("fall-back", ["before: roofline, 1,812 pixels: ridge, left eaves", "now:    roofline, 900 pixels: porch"]),
    ],
)
def test_a_cue_that_stays_says_what_it_gains_and_one_that_moves_both_places(state, told):
    now = Lit("roofline", 1, ("porch",), 900)
    change = CueChange(1, "cue 1", "wash", RIDGE, now, ("porch",), ("ridge",), state, ())
    assert list(cue_words(change)) == told
