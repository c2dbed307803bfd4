"""What drafted cues have in common."""

import pytest

from eavesong.draft.cue import joined, spoken


@pytest.mark.parametrize(
    ("letter", "told"), [("b", "B"), ("b2", "B2"), ("finale", "Finale"), ("last chorus", "Last chorus")]
)
def test_letters_are_capitals_and_words_begin_with_one(letter, told):
    assert spoken(letter) == told


def test_spans_that_touch_are_one_and_others_stay_apart():
    assert joined([(9, 13), (1, 5), (5, 7), (12, 14)]) == ((1, 7), (9, 14))
