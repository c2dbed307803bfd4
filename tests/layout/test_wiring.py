"""The wiring list, against what ANSI E1.31 universes of 512 slots hold: 170 pixels of three channels each."""

from eavesong.layout.summary import layout_data
from eavesong.layout.wiring import wiring_of, wiring_text

HOUSE = """
[[prop]]
name = "eaves"
shape = "line"
to = [10, 0]
pixels = 100
[[prop]]
name = "arch"
shape = "arch"
width = 1
height = 1
pixels = 50
repeat = { count = 3, step = [2, 0] }
"""
BOX = """
[[controller]]
name = "box"
address = "192.0.2.9"
universe = 5
[[controller.output]]
number = 2
chain = [CHAIN]
"""


def listed(layout_of, chain: str):
    stops = wiring_of(layout_of(HOUSE + BOX.replace("CHAIN", chain)))
    return [
        (stop.prop, stop.first, stop.last, stop.begins, stop.ends, stop.universe, stop.slot, stop.nulls)
        for stop in stops
    ]


def test_props_stand_in_the_order_of_the_wire_with_where_each_begins(layout_of) -> None:
    assert listed(layout_of, '"arch", "eaves"') == [
        ("arch 1", 1, 50, 1, 50, 5, 1, 0),
        ("arch 2", 1, 50, 51, 100, 5, 151, 0),
        ("arch 3", 1, 50, 101, 150, 5, 301, 0),
        ("eaves", 1, 100, 151, 250, 5, 451, 0),  # 20 pixels fill the 170 of universe 5, 80 go to universe 6
    ]
    layout = layout_of(HOUSE + BOX.replace("CHAIN", '"arch", "eaves"'))
    last = wiring_of(layout)[-1]
    assert (last.last_universe, last.last_slot) == (6, 240)
    assert layout_data(layout)["wiring"][1]["prop"] == "arch 2"


def test_parts_backwards_and_dark_pixels_are_told(layout_of) -> None:
    chain = (
        '{ prop = "eaves", pixels = [41, 100], reversed = true }, '
        '{ prop = "eaves", pixels = [1, 40] }, { prop = "arch", null_pixels = 2 }'
    )
    first, second, arch = listed(layout_of, chain)[:3]
    assert first == ("eaves", 100, 41, 1, 60, 5, 1, 0)
    assert second == ("eaves", 1, 40, 61, 100, 5, 181, 0)
    assert arch == ("arch 1", 1, 50, 103, 152, 5, 307, 2)  # two dark pixels before it take two places and six slots


def test_the_text_keeps_to_80_columns_and_a_draft_has_none(layout_of) -> None:
    text = wiring_text(layout_of(HOUSE + BOX.replace("CHAIN", '"arch", "eaves"')))
    assert max(map(len, text.splitlines())) <= 80
    assert "box (192.0.2.9)" in text
    assert "eaves                      1 to 100     151 to 250   5:451" in text
    assert wiring_text(layout_of(HOUSE)).startswith("No controllers")
