"""Cues that others are painted over."""

from collections.abc import Callable

import pytest

import shows
from eavesong.check import check
from eavesong.check.hidden import hidden
from eavesong.engines import draw
from eavesong.layout import Layout
from eavesong.music import BeatGrid
from eavesong.scene import set_scene
from eavesong.show import Show

BELOW = "[[cue]]\neffect = 'glow'\non = 'path'\n{}\n[[cue]]\neffect = 'glow'\nparameters = {{ tint = 'red' }}\n{}\n"


@pytest.mark.parametrize(
    ("below", "above", "seen"),
    [
        ("", "", False),
        ("bars = [3, 5]", "bars = [1, 9]", False),
        ("bars = [3, 5]", "bars = [4, 9]", True),  # for a bar
        ("", "opacity = 0.9", True),
        ("", "fade_in = 4", True),
        ("", "blend = 'plus-lighter'", True),
        ("", "on = 'roofline'", True),
        ("", "parameters.strength = 0.5", True),
        ("opacity = 0.001", "", True),  # by itself, too
    ],
)
def test_a_cue_that_another_hides_all_the_time_is_told(
    read: Callable[[str], Show], house: Layout, grid: BeatGrid, below: str, above: str, seen: bool
) -> None:
    text = BELOW.format(below, above)
    if "parameters." in above:
        text = text.replace("parameters = { tint = 'red' }\n", "parameters.tint = 'red'\n")
    scene = set_scene(read(text), house, grid)
    assert [cue.index for cue, _ in hidden(scene)] == ([] if seen else [0])
    for looks in ({"drawn": True}, {"frames": draw(scene).block(0, 64)}):
        told = [each for each in check(scene, **looks).findings if "never seen" in each.found]
        assert len(told) == (not seen)


def test_the_one_that_hides_is_named_not_another_that_is_hidden_too(
    read: Callable[[str], Show], house: Layout, grid: BeatGrid
) -> None:
    """The one between lets half of the light below it through."""
    half = "[[cue]]\neffect = 'glow'\non = 'path'\nparameters = { strength = 0.5 }\n"
    three = read("[[cue]]\neffect = 'glow'\non = 'path'\n" + half + "[[cue]]\neffect = 'glow'\n")
    scene = set_scene(three, house, grid)
    assert [(cue.index, over.index) for cue, over in hidden(scene)] == [(0, 2), (1, 2)]


def test_in_silence_nothing_is_hidden_by_what_follows_the_sound(
    read: Callable[[str], Show], house: Layout, grid: BeatGrid, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without the song it is full light; with it, it may be none."""
    softest = shows.GLOW.replace("level = strength", "level = strength - loudness")
    monkeypatch.setitem(shows.EFFECTS, "softest", softest)
    two = "[[cue]]\neffect = 'glow'\non = 'path'\n[[cue]]\neffect = '{}'\nparameters.tint = 'red'\n"
    found = [len([*hidden(set_scene(read(two.format(name)), house, grid))]) for name in ("glow", "softest")]
    assert found == [1, 0]
