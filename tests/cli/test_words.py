"""Times as they are typed."""

import click
import pytest

from eavesong.cli.words import SomeOf, seconds_of


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("83.5", 83.5), ("1:23.5", 83.5), ("0:00.84", 0.84), (".5", 0.5), ("75:00", 4500.0), ("1:02:05", 3725.0)],
)
def test_seconds_minutes_and_hours(text: str, seconds: float) -> None:
    assert seconds_of(text) == pytest.approx(seconds)


@pytest.mark.parametrize("text", ["", "soon", "-1", "1:-2", "nan", "inf", "1:2:3:4", "1.5:20"])
def test_anything_else_is_told(text: str) -> None:
    with pytest.raises(click.BadParameter, match="is not a time"):
        seconds_of(text)


def test_the_option_is_named() -> None:
    with pytest.raises(click.BadParameter) as caught:
        seconds_of("soon", "--at")
    assert caught.value.param_hint == "--at"


def test_nothing_typed_is_nothing() -> None:
    assert seconds_of(None) is None


def test_words_may_stand_behind_each_other_with_commas_between() -> None:
    words = SomeOf(("wiring", "cues", "names"))
    assert words.convert("wiring, cues", None, None) == "wiring,cues"
    assert words.convert("names", None, None) == "names"
    with pytest.raises(click.BadParameter, match="'cue' is not one of 'wiring', 'cues', 'names'"):
        words.convert("wiring,cue", None, None)
