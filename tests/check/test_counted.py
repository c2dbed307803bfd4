"""Cues that count bars in beats, where bars have another number of beats than when the show was written."""

from collections.abc import Callable
from pathlib import Path

import pytest

from eavesong.check import check
from eavesong.check.counted import recounted_in
from eavesong.layout import Layout
from eavesong.music import BeatGrid
from eavesong.scene import set_scene
from eavesong.show import Show, load_show

NOTED = "bar_beats = 3\n"


def bars_of(beats: int, count: int = 20) -> BeatGrid:
    """A song of so many bars that last two seconds each, whatever their number of beats."""
    total = beats * count
    times = tuple(2.0 * at / beats for at in range(total))
    return BeatGrid(times, tuple(at % beats + 1 for at in range(total)), (), 2.0 * count)


@pytest.fixture
def read(tmp_path: Path) -> Callable[[str], Show]:
    """Reads the text of a show with effects that come along."""

    def reading(text: str) -> Show:
        (tmp_path / "it.show.toml").write_text(text)
        return load_show(tmp_path / "it.show.toml")

    return reading


def cue(keys: str) -> str:
    effect = "" if "effect" in keys else "effect = 'clouds'\n"
    return f"[[cue]]\nname = 'It'\nbars = [1, 9]\n{effect}{keys}\n"


@pytest.mark.parametrize(("every", "told"), [(3, True), (6, True), (4, False)])
def test_beats_that_come_again_with_the_bar_are_told(read: Callable[[str], Show], every: int, told: bool) -> None:
    show = read(f"{NOTED}[[cue]]\neffect = 'clouds'\nbeats = [1, 2]\nevery = {every}\n")
    found = recounted_in(bars_of(2), show, "")
    assert (found.cues if found else ()) == (((0, f"every = {every}"),) if told else ())


@pytest.mark.parametrize(
    ("keys", "counts"),
    [
        ("parameters = { beats = 12 }", True),  # four bars of three
        ("parameters = { beats = 3 }", True),
        ("effect = 'gradient'\nparameters = { beats = -12 }", True),  # the other way round
        ("parameters = { beats = 1 }", False),  # with every beat, however many there are
        ("parameters = { beats = 4 }", False),  # no whole bar of three
        ("", False),
    ],
)
def test_whole_bars_counted_in_beats_are_told(
    read: Callable[[str], Show], house: Layout, keys: str, counts: bool
) -> None:
    show = read(NOTED + cue(keys))
    assert recounted_in(bars_of(3), show, "") is None
    assert (recounted_in(bars_of(2), show, "") is not None) == counts
    findings = check(set_scene(show, house, bars_of(2))).findings
    assert any("bar_beats" in each.place for each in findings) == counts


def test_a_show_that_does_not_say_is_asked_nothing(read: Callable[[str], Show]) -> None:
    assert recounted_in(bars_of(2), read(cue("parameters = { beats = 12 }")), "") is None


def test_it_says_which_cues_and_what_to_do(read: Callable[[str], Show], house: Layout) -> None:
    report = check(set_scene(read(NOTED + cue("parameters = { beats = 12 }")), house, bars_of(2)))
    ((weight, told),) = [
        pair for pair in zip(report.weights, report.findings, strict=True) if "bar_beats" in pair[1].place
    ]
    assert weight == "texts"
    assert told.found.startswith("most bars have 2 beats now, and had 3")
    assert "'It' (beats = 12)" in told.found
    assert "delete 'bar_beats'" in told.instead
