"""A show by bars on a song whose bars were counted anew, the bars of its parts written down by hand."""

from collections.abc import Callable

import pytest

from eavesong.check import check
from eavesong.check.shifted import bars_late
from eavesong.layout import Layout
from eavesong.music import BeatGrid, Section
from eavesong.scene import set_scene
from eavesong.show import Show

PARTS = (1, 9, 17, 21, 29, 33)
"""Bars in which the song's parts begin: bars of four beats, two seconds each."""


def song(parts: tuple[int, ...] = PARTS) -> BeatGrid:
    ends = (*parts[1:], 41)
    sections = tuple(
        Section(2.0 * (a - 1), 2.0 * (b - 1), "ab"[n % 2]) for n, (a, b) in enumerate(zip(parts, ends, strict=True))
    )
    return BeatGrid(tuple(n / 2 for n in range(160)), (1, 2, 3, 4) * 40, sections, 80.0)


def cues(late: int, parts: tuple[int, ...] = PARTS) -> str:
    ends = (*parts[1:], 41)
    spans = [f"[{a + late}, {b + late}]" for a, b in zip(parts, ends, strict=True)]
    return "".join(f"[[cue]]\neffect = 'glow'\nbars = {span}\n" for span in spans)


@pytest.mark.parametrize(
    ("text", "late"),
    [
        (cues(0), 0),
        (cues(1), 1),
        (cues(-1, PARTS[1:]), -1),
        (cues(3), 3),
        (cues(5), 0),  # too far to be a correction
        ("[[cue]]\neffect = 'glow'\nbars = [2, 10]\n", 0),  # two parts of six begin so: by chance
        ("[[cue]]\neffect = 'glow'\nsections = 'b'\n" + cues(0), 0),
        ("[[cue]]\neffect = 'glow'\nbars = [2, 3]\nevery = 4\n", 0),  # by a rule of its own
        ("[[cue]]\neffect = 'glow'\n", 0),
    ],
)
def test_parts_that_begin_beside_the_cues_throughout_are_told(
    read: Callable[[str], Show], house: Layout, text: str, late: int
) -> None:
    scene = set_scene(read(text), house, song())
    assert bars_late(scene) == late
    told = [each.found for each in check(scene).findings if "counted otherwise" in each.found]
    assert len(told) == bool(late)
    if late:
        assert ("after" if late > 0 else "before") in told[0]
        assert ("a bar" if abs(late) == 1 else f"{abs(late)} bars") in told[0]


def test_of_a_song_of_few_parts_nothing_is_said(read: Callable[[str], Show], house: Layout) -> None:
    scene = set_scene(read(cues(1, (1, 17, 33))), house, song((1, 17, 33)))
    assert bars_late(scene) == 0
