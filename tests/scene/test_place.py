"""Cues on a house: which pixels, which fall-back, with what."""

from collections.abc import Callable

import numpy as np
import pytest

from eavesong.colours import palette_table, parse_colour
from eavesong.layout import Layout
from eavesong.music import BeatGrid
from eavesong.scene import PlacedCue, place_cues
from eavesong.show import Show

Place = Callable[[str], tuple[PlacedCue, ...]]


@pytest.fixture
def place(read: Callable[[str], Show], house: Layout, grid: BeatGrid) -> Place:
    """Places the cues of a show text on the test house."""
    return lambda text: place_cues(read(text), house, grid)


def lit(house: Layout, cue: PlacedCue) -> dict[str, int]:
    """How many pixels of each prop a cue lights."""
    counts = {prop.name: int(cue.weight[prop.start : prop.stop].sum()) for prop in house.props}
    return {name: count for name, count in counts.items() if count}


@pytest.mark.parametrize(
    ("keys", "expected"),
    [
        ("", {"ridge": 100, "eaves": 100, "arch 1": 20, "arch 2": 20, "arch 3": 20, "old oak": 40}),
        ("on = 'upper'", {"ridge": 100}),
        ("on = 'eaves or arch'", {"eaves": 100, "arch 1": 20, "arch 2": 20, "arch 3": 20}),
        ('''on = "'arch 2'"''', {"arch 2": 20}),
        ("on = 'roofline and not upper'", {"eaves": 100}),
        # Pixels of the ridge stand in the middles of hundredths of the width, so half of them lie in the left half.
        ("on = 'ridge'\nwithin = { x = [0, 0.5] }", {"ridge": 50}),
        ("within = { y = [0.9, 1] }", {"ridge": 100}),  # both ends of a box belong to it
        ("within = { x = [0, 0.5], y = [0.5, 1] }", {"ridge": 50, "eaves": 50}),
    ],
)
def test_what_a_cue_lights(place: Place, house: Layout, keys: str, expected: dict[str, int]) -> None:
    (cue,) = place(f"[[cue]]\neffect = 'glow'\n{keys}\n")
    assert lit(house, cue) == expected
    assert [house.props[index].name for index in cue.props] == list(expected)
    assert set(np.unique(cue.weight)) <= {0, 1}
    assert cue.weight.dtype == np.float32


@pytest.mark.parametrize(
    ("keys", "taken", "choice"),
    [
        ("on = ['tree', 'path']", "tree", 0),
        ("on = ['chimney', 'path']", "path", 1),
        ("on = ['chimney', 'pond', 'all']", "all", 2),
        ("on = ['chimney', 'pond']", "chimney", -1),
        ("on = ['tree', 'ridge']\nwithin = { x = [0, 0.5] }", "ridge", 1),  # the tree stands on the right
    ],
)
def test_the_first_choice_that_lights_something_is_taken(place: Place, keys: str, taken: str, choice: int) -> None:
    (cue,) = place(f"[[cue]]\neffect = 'glow'\n{keys}\n")
    assert (cue.taken.text, cue.taken.choice) == (taken, choice)
    assert bool(cue.props) == (choice >= 0)


def test_cues_come_in_the_order_of_the_file_with_all_they_need(place: Place) -> None:
    first, second = place(
        """
        [[cue]]
        effect = "wash"
        name = "Bottom"
        palette = ["red", "blue"]
        blend = "normal"
        [[cue]]
        effect = "glow"
        parameters = { tint = "orange", strength = 0.5 }
        blend = "plus-lighter"
        opacity = 0.25
        """
    )
    assert (first.index, first.name, first.blend, first.opacity) == (0, "cue 1 'Bottom'", "source-over", 1)
    assert (second.index, second.name, second.blend, second.opacity) == (1, "cue 2 (glow)", "plus-lighter", 0.25)
    assert first.parameters == {"beats": 4}
    assert second.parameters == {"tint": parse_colour("orange"), "strength": 0.5}
    np.testing.assert_allclose(palette_table(first.palette)[[0, -1]], [(1, 0, 0), (0, 0, 1)], atol=1e-6)


def test_cues_on_the_same_props_share_their_weights(place: Place) -> None:
    first, second = place("[[cue]]\neffect = 'glow'\non = 'tree'\n" * 2)
    assert first.weight is second.weight
    with pytest.raises(ValueError, match="read-only"):
        first.weight[0] = 1


def test_a_placed_cue_knows_its_strength(place: Place) -> None:
    (cue,) = place("[[cue]]\neffect = 'glow'\nbars = [2, 4]\nfade_in = 4\n")
    strength, progress, start_beat = cue.envelope([0, 3, 5])
    assert strength == pytest.approx([0, 0.5, 1])
    assert progress == pytest.approx([0, 0.25, 0.75])
    assert start_beat == pytest.approx([0, 4, 4])


def test_the_same_show_finds_its_way_on_another_house(read: Callable[[str], Show], grid: BeatGrid) -> None:
    from eavesong.layout import layout_from_points

    bungalow = layout_from_points(
        {"gutter": [[0, 2, 0], [5, 2, 0]], "hedge": [[0, 0, 2]]}, tags={"gutter": ["roofline"], "hedge": ["plant"]}
    )
    (cue,) = place_cues(read("[[cue]]\neffect = 'glow'\non = ['upper', 'roofline', 'all']\n"), bungalow, grid)
    assert cue.weight.tolist() == [1, 1, 0]
    assert str(cue.taken) == "roofline (choice 2)"
