"""The patch against the limits of the network: 512 slots, universes 1 to 63999, whole pixels or spanning."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from eavesong.errors import LayoutError
from eavesong.layout.patch import _Cursor, _split

ANY = "[[prop]]\nname = '{name}'\nshape = 'line'\nto = [1, 0]\npixels = {pixels}\n"


def house(pixels: dict[str, int], controllers: str) -> str:
    return "".join(ANY.format(name=name, pixels=count) for name, count in pixels.items()) + controllers


def box(chain: str, more: str = "", controller: str = "") -> str:
    head = f"[[controller]]\nname = 'box'\n{controller}\n[[controller.output]]\nnumber = 1\n"
    return f"{head}chain = {chain}\n{more}\n"


def test_170_rgb_pixels_fill_a_universe(layout_of):
    # ANSI E1.11: 512 slots. 170 x 3 = 510; a whole 171st pixel does not fit (common practice).
    layout = layout_of(house({"a": 400}, box("['a']")))
    assert [(run.universe, run.slot, run.pixel_count) for run in layout.patch.runs] == [
        (1, 1, 170), (2, 1, 170), (3, 1, 60),
    ]  # fmt: skip
    assert layout.patch.channel_count == 1200


def test_128_rgbw_pixels_fill_a_universe(layout_of):
    layout = layout_of(house({"a": 129}, box("['a']", "order = 'RGBW'")))
    assert [(run.universe, run.slot, run.channel_count) for run in layout.patch.runs] == [(1, 1, 512), (2, 1, 4)]
    assert layout.patch.channel_width.tolist() == [4] * 129
    assert layout.patch.channel_start[-1] == 512


def test_a_spanning_controller_splits_the_pixel_at_the_border(layout_of):
    patch = layout_of(house({"a": 171, "b": 1}, box("['a', 'b']", controller="spanning = true"))).patch
    runs = [(run.first_pixel, run.pixel_count, run.first_channel, run.channel_count, run.universe, run.slot)
            for run in patch.runs]  # fmt: skip
    assert runs == [
        (0, 170, 0, 510, 1, 1), (170, 1, 510, 2, 1, 511), (170, 1, 512, 1, 2, 1), (171, 1, 513, 3, 2, 2),
    ]  # fmt: skip
    universes = patch.universes()
    assert universes[1].tolist() == list(range(512))
    assert universes[2].tolist() == [512, 513, 514, 515]


def test_null_pixels_come_first_and_between(layout_of):
    chain = "['a', { prop = 'b', null_pixels = 2 }]"
    patch = layout_of(house({"a": 2, "b": 1}, box(chain, "null_pixels = 1"))).patch
    assert patch.universes()[1].tolist() == [-1] * 3 + list(range(6)) + [-1] * 6 + [6, 7, 8]


def test_a_reversed_prop_sends_its_last_pixel_first(layout_of):
    patch = layout_of(house({"a": 3}, box("[{ prop = 'a', reversed = true }]"))).patch
    assert patch.universes()[1].tolist() == [6, 7, 8, 3, 4, 5, 0, 1, 2]


def test_a_row_is_chained_in_order_and_reversed_as_a_whole(layout_of):
    row = ANY.format(name="a", pixels=1) + "repeat = { count = 3, step = [1, 0] }\n"
    assert [run.prop for run in layout_of(row + box("['a']")).patch.runs] == ["a 1", "a 2", "a 3"]
    backwards = layout_of(row + box("[{ prop = 'a', reversed = true, null_pixels = 1 }]")).patch
    assert [(run.prop, run.slot) for run in backwards.runs] == [("a 3", 4), ("a 2", 7), ("a 1", 10)]


def test_a_prop_can_be_shared_out_over_outputs(layout_of):
    second = "[[controller.output]]\nnumber = 2\nchain = [{ prop = 'a', pixels = [61, 100], order = 'GRB' }]"
    patch = layout_of(house({"a": 100}, box("[{ prop = 'a', pixels = [1, 60] }]", second))).patch
    assert [(run.output, run.first_pixel, run.pixel_count, run.universe) for run in patch.runs] == [
        (1, 0, 60, 1), (2, 60, 40, 2),
    ]  # fmt: skip
    assert [patch.orders[index] for index in patch.order[[0, 59, 60]]] == ["RGB", "RGB", "GRB"]


def test_what_an_entry_says_wins_over_its_output(layout_of):
    chain = "['a', { prop = 'b', brightness = 0.25, gamma = 2.0, order = 'GRBW' }]"
    patch = layout_of(house({"a": 1, "b": 1}, box(chain, "brightness = 0.5\norder = 'BGR'"))).patch
    assert patch.brightness.tolist() == [0.5, 0.25]
    assert patch.gamma.tolist() == [1, 2]
    assert [patch.orders[index] for index in patch.order] == ["BGR", "GRBW"]


def test_outputs_take_universes_in_turn_and_controllers_go_on_after_each_other(layout_of):
    controllers = (
        box("['a']", "[[controller.output]]\nnumber = 2\nchain = ['b']")
        + box("['c']").replace("'box'", "'second'")
        + box("['d']", controller="universe = 63999").replace("'box'", "'third'")
    )
    layout = layout_of(house({"a": 171, "b": 1, "c": 1, "d": 170}, controllers))
    assert [run.universe for run in layout.patch.runs] == [1, 2, 3, 4, 63999]
    assert [controller.universes for controller in layout.patch.controllers] == [(1, 2, 3), (4,), (63999,)]


def test_a_draft_without_controllers_is_rgb(layout_of):
    patch = layout_of(house({"a": 4}, "")).patch
    assert (patch.channel_count, patch.runs, patch.orders) == (12, (), ("RGB",))
    assert patch.channel_start.tolist() == [0, 3, 6, 9]
    assert patch.brightness.tolist() == [1] * 4


@given(
    counts=st.lists(st.tuples(st.integers(0, 700), st.sampled_from([3, 4])), min_size=1, max_size=6),
    slot=st.integers(1, 512), spanning=st.booleans(),
)  # fmt: skip
def test_no_row_leaves_its_universe_and_none_overlap(counts, slot, spanning):
    cursor = _Cursor(universe=1, slot=slot, spanning=spanning)
    last = 0
    for pixels, width in counts:
        taken = list(cursor.take(pixels, width))
        assert sum(channels for channels, _, _ in taken) == pixels * width
        for channels, universe, first in taken:
            assert first >= 1
            assert first + channels - 1 <= 512
            assert spanning or channels % width == 0
            assert (universe - 1) * 512 + first > last
            last = (universe - 1) * 512 + first + channels - 1


@given(done=st.integers(0, 40), channels=st.integers(1, 40), width=st.sampled_from([3, 4]))
def test_a_row_is_cut_into_whole_pixels_and_parts_of_one(done, channels, width):
    parts = list(_split(done, channels, width))
    assert sum(length for _, length in parts) == channels
    for offset, length in parts:
        begin, end = done + offset, done + offset + length
        whole = begin % width == 0 and end % width == 0
        assert whole or begin // width == (end - 1) // width


def problems(layout_of, text: str) -> list[str]:
    with pytest.raises(LayoutError) as caught:
        layout_of(text)
    return [str(problem).partition("house.toml")[2].lstrip(", ") for problem in caught.value.problems]


def test_everything_wrong_with_the_wiring_is_told_at_once(layout_of):
    chain = "['a', 'ridge', 'a', { prop = 'b', pixels = [5, 12] }]"
    assert sorted(problems(layout_of, house({"a": 1, "b": 10, "rigde": 1}, box(chain)))) == [
        ": 'rigde' is in no output\n"
        "    Add 'rigde' to the chain of an output, or take out all controllers to keep a draft.",
        "line 22, controller 1, output 1, chain 2: no prop is called 'ridge'\n    Did you mean 'rigde'?",
        "line 22, controller 1, output 1, chain 3: 'a' is wired twice in output 1 of 'box'\n"
        "    Keep one, or share out its pixels with 'pixels = [first, last]'.",
        "line 22, controller 1, output 1, chain 4: 'b' has no pixels 5 to 12\n    Its pixels are numbered 1 to 10.",
    ]


def test_pixels_left_over_are_told(layout_of):
    assert problems(layout_of, house({"b": 10}, box("[{ prop = 'b', pixels = [4, 9] }]"))) == [
        ": 4 pixels of 'b' are in no output\n"
        "    Add 'b' to the chain of an output, or take out all controllers to keep a draft.",
    ]


def test_props_of_a_row_that_are_in_no_output_are_told_together(layout_of):
    row = ANY.format(name="stake", pixels=5) + "repeat = { count = 10, step = [1, 0] }\n"
    row += ANY.format(name="a", pixels=5)
    (all_of_it,) = problems(layout_of, row + box("['a']"))
    assert all_of_it.startswith(": 'stake' (all 10) is in no output\n    Add 'stake' to the chain")
    (some,) = problems(layout_of, row + box("['a', 'stake 1', 'stake 2']"))
    assert some.startswith(
        ": 'stake 3', 'stake 4', 'stake 5' and 5 more of 'stake' are in no output\n    Add 'stake 3'"
    )


def test_a_row_has_no_pixel_range(layout_of):
    row = ANY.format(name="a", pixels=5) + "repeat = { count = 2, step = [1, 0] }\n"
    found = problems(layout_of, row + box("[{ prop = 'a', pixels = [1, 2] }]"))
    assert found[0] == (
        "line 13, controller 1, output 1, chain 1: 'pixels' with 'a', which is a row of 2 props\n"
        "    Name one of them, such as 'a 1'."
    )


def test_slots_are_driven_once(layout_of):
    second = "[[controller.output]]\nnumber = 2\nchain = ['b']\nuniverse = 1\nslot = 10"
    assert problems(layout_of, house({"a": 4, "b": 1}, box("['a']", second))) == [
        "line 18, controller 1, output 2: slot 10 of universe 1 is taken by output 1 of 'box' "
        "and by output 2 of 'box'\n"
        "    Give one of them another 'universe' or 'slot'.",
    ]


def test_a_slot_after_the_first_output_is_free(layout_of):
    second = "[[controller.output]]\nnumber = 2\nchain = ['b']\nuniverse = 1\nslot = 13"
    patch = layout_of(house({"a": 4, "b": 1}, box("['a']", second))).patch
    assert patch.universes()[1].tolist() == list(range(15))


def test_universes_end_at_63999(layout_of):
    # ANSI E1.31-2018, 6.2.7 and 9.1.1: 1 to 63999 carry data.
    assert problems(layout_of, house({"a": 171}, box("['a']", controller="universe = 63999"))) == [
        "line 10, controller 1, output 1: this output reaches universe 64,000, beyond the last one, 63,999\n"
        "    Begin at a lower universe.",
    ]
    assert problems(layout_of, house({"a": 1}, box("['a']", controller="universe = 0"))) == [
        "line 9, controller 1, universe: must be at least 1, not 0",
    ]


def test_controllers_and_outputs_are_told_apart(layout_of):
    text = house({"a": 1, "b": 1}, box("['a']") + box("['b']", "[[controller.output]]\nnumber = 1\nchain = ['b']"))
    found = problems(layout_of, text)
    assert "line 20, controller 2, name: two controllers are called 'box'\n    Rename one." in found
    assert "line 26, controller 2, output 2, number: two outputs of 'box' have the number 1\n    Renumber one." in found


def test_the_patch_is_a_permutation_of_all_channels(layout_of):
    controllers = box(
        "[{ prop = 'a', reversed = true }, { prop = 'b', pixels = [1, 200] }]",
        "order = 'RGBW'\n[[controller.output]]\nnumber = 2\nchain = [{ prop = 'b', pixels = [201, 300] }]",
        controller="spanning = true",
    )
    patch = layout_of(house({"a": 150, "b": 300}, controllers)).patch
    sent = np.concatenate(list(patch.universes().values()))
    assert sorted(sent[sent >= 0]) == list(range(patch.channel_count))
