"""Power in layout files: what is understood, and what is refused, with its place."""

import numpy as np
import pytest

from eavesong.errors import LayoutError
from powered import LINE

SUPPLY = """
[[supply]]
name = "one"
volts = 5
watts = 100
[[supply.feed]]
controller = "box"
output = 1
"""
ROW = """
[[prop]]
name = "row"
shape = "line"
to = [1, 0]
pixels = 10
repeat = { count = 3, step = [2, 0] }
"""
TWO = LINE.replace('chain = ["eaves"]', 'chain = ["eaves", "row"]').replace("[[contr", ROW + "[[contr", 1)


def test_a_feed_without_more_is_the_whole_output(layout_of):
    power = layout_of(LINE + SUPPLY).power
    (feed,) = power.supplies[0].feeds
    assert (feed.string, feed.start, feed.stop) == (0, 0, 100)
    assert feed.points[0].lead is None


def test_leads_and_injections_in_the_units_of_the_file(layout_of):
    text = LINE.replace('title = "A line"', 'title = "A line"\nunits = "ft"') + SUPPLY
    text += "lead = { gauge = 18, length = 10 }\n"
    lead = '{ area = 1.5, copper = "solid", length = 20 }'
    text += f'inject = [{{ prop = "eaves", lead = {lead} }}, {{ prop = "eaves", pixel = 50 }}]\n'
    (feed,) = layout_of(text).power.supplies[0].feeds
    first, middle, last = feed.points
    assert [point.position for point in feed.points] == [0, 49, 99]
    assert first.lead.length == pytest.approx(3.048)  # 1 ft = 0.3048 m exactly
    assert (first.lead.conductor.gauge, first.lead.conductor.copper) == (18, "stranded")
    assert (last.lead.conductor.area, last.lead.conductor.copper) == (1.5, "solid")
    assert middle.lead is None


def test_stretches_by_props_and_rows(layout_of):
    power = layout_of(TWO + SUPPLY + 'props = ["row"]\n').power
    (feed,) = power.supplies[0].feeds
    assert (feed.start, feed.stop) == (100, 130)
    one = layout_of(TWO + SUPPLY + 'props = ["row 2"]\ninject = [{ prop = "row 2" }]\n').power.supplies[0].feeds[0]
    assert (one.start, one.stop, one.points[-1].position) == (110, 120, 119)


def test_kinds_go_by_house_output_and_link(layout_of):
    kind = '[[pixel_type]]\nname = "own"\nvolts = 5\namperes = [0.01, 0.01, 0.01]\n'
    text = TWO.replace('"eaves", "row"', '{ prop = "eaves", pixel_type = "own" }, "row"') + kind
    power = layout_of(text).power
    names = np.array([one.name for one in power.types])[power.type]
    assert set(names[:100]) == {"own"}
    assert set(names[100:]) == {"5 V, 20 mA"}


def test_lowest_volts_are_nine_tenths_unless_given(layout_of):
    kind = '[[pixel_type]]\nname = "{0}"\nvolts = 12\namperes = [0.01, 0.01, 0.01]\n{1}\n'
    text = LINE.replace("5 V, 20 mA", "own")
    assert layout_of(text + kind.format("own", "")).power.types[0].lowest_volts == pytest.approx(10.8)
    assert layout_of(text + kind.format("own", "lowest_volts = 9")).power.types[0].lowest_volts == 9


FAULTS = [
    (SUPPLY.split("[[supply.feed]]")[0], "this supply feeds nothing", "supply 1"),
    (SUPPLY + "lead = { gauge = 99, length = 1 }", "no wire has the gauge 99", "supply 1, feed 1, lead"),
    (SUPPLY + "lead = { gauge = 18, length = -1 }", "must be at least 0, not -1", "supply 1, feed 1, lead, length"),
    (SUPPLY + "lead = { length = 1 }", "neither 'gauge' nor 'area' is given", "supply 1, feed 1, lead"),
    (SUPPLY + "lead = { gauge = 18, area = 1, length = 1 }", "both 'gauge' and 'area' are given", "feed 1, lead"),
    (SUPPLY + "pixels = [1, 101]", "box, output 1 has no pixels 1 to 101", "supply 1, feed 1, pixels"),
    (SUPPLY + 'props = ["eave"]', "no prop on box, output 1 is called 'eave'", "supply 1, feed 1, props"),
    (SUPPLY + "props = []", "'props' is empty, so this feeds nothing", "supply 1, feed 1"),
    (SUPPLY + 'props = ["eaves"]\npixels = [1, 2]', "both 'props' and 'pixels' are given", "supply 1, feed 1"),
    (SUPPLY + 'inject = [{ prop = "eaves", pixel = 1 }]', "pixel 1 of the output is fed twice", "feed 1, inject 1"),
    (SUPPLY + 'inject = [{ prop = "eaves", pixel = 101 }]', "'eaves' has no pixel 101", "feed 1, inject 1, pixel"),
    (SUPPLY + 'pixels = [1, 9]\ninject = [{ prop = "eaves" }]', "lies outside the stretch", "feed 1, inject 1"),
    (SUPPLY + SUPPLY.replace('"one"', '"two"'), "fed twice: by 'one' and by 'two'", "supply 2, feed 1"),
    (SUPPLY + SUPPLY, "two supplies are called 'one'", "supply 2, name"),
    (SUPPLY.replace("output = 1", "output = 2"), "'box' has no output 2", "supply 1, feed 1, output"),
    (SUPPLY.replace('"box"', '"bix"'), "no controller is called 'bix'", "supply 1, feed 1, controller"),
    (SUPPLY.replace("volts = 5", "volts = 12"), "gives 12 V, and its pixels '5 V, 20 mA' need 5 V", "supply 1, feed 1"),
    (SUPPLY.replace("watts = 100", "watts = -100"), "must be greater than 0, not -100", "supply 1, watts"),
    (SUPPLY + "lead = { area = 1, ohms_per_metre = 1, length = 1 }", "both 'area' and 'ohms_per_metre'", "lead"),
    (SUPPLY + "lead = { gauge = 18, length = 1, bundled = 0 }", "must be at least 1, not 0", "lead, bundled"),
    (SUPPLY.replace("watts = 100", "watts = 100\npower_factor = 1.2"), "must be at most 1, not 1.2", "power_factor"),
    ('[[pixel_type]]\nname = "a"\nvolts = 5\namperes = [0.1, 0.1]\n', "at least 3", "pixel_type 1, amperes"),
    ('[[pixel_type]]\nname = "a"\nvolts = 5\namperes = [20, 20, 20]\n', "20 A is more than one pixel draws", "amperes"),
    ('[[pixel_type]]\nname = "a"\nvolts = 5\nidle = 1\namperes = [0, 0, 0]\n', "1 A is more than one pixel", "idle"),
    ('[[pixel_type]]\nname = "a"\nvolts = 5\nlowest_volts = 6\namperes = [0, 0, 0]\n', "above its 5 V", "pixel_type 1"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "found", "place"), FAULTS)
def test_what_cannot_be_is_told_with_its_place(layout_of, text, found, place):
    with pytest.raises(LayoutError, match=r"line \d+") as told:
        layout_of(LINE + text)
    assert any(found in problem.found and place in problem.place for problem in told.value.problems), told.value


def test_currents_in_milliamperes_are_refused_with_the_likely_unit(layout_of):
    kind = '[[pixel_type]]\nname = "a"\nvolts = 5\namperes = [20, 18.5, 20]\n'
    with pytest.raises(LayoutError) as told:
        layout_of(LINE + kind)
    assert [problem.instead for problem in told.value.problems] == [
        "Currents are in amperes: 20 mA is 0.02.", "Currents are in amperes: 18.5 mA is 0.0185.",
        "Currents are in amperes: 20 mA is 0.02.",
    ]  # fmt: skip


def test_leads_extensions_and_connectors_of_the_house(layout_of):
    more = "[power]\nlead = { ohms_per_metre = 0.02 }\nextension = { area = 0.75 }\nconnector_amperes = 5"
    power = layout_of(LINE.replace("[power]", more) + SUPPLY).power
    assert (power.lead.ohms_per_metre, power.extension.area, power.connector_amperes) == (0.02, 0.75, 5)
    plain = layout_of(LINE + SUPPLY).power
    assert (plain.lead.gauge, plain.extension, plain.connector_amperes) == (16, None, None)


def test_supplies_and_controllers_may_say_where_they_hang(layout_of):
    text = LINE.replace('title = "A line"', 'title = "A line"\nunits = "ft"').replace(
        'name = "box"', 'name = "box"\nat = [1, 2, 3]'
    )
    power = layout_of(text + SUPPLY.replace("volts = 5", "volts = 5\nat = [10, 0]")).power
    assert power.supplies[0].at == pytest.approx((3.048, 0, 0))  # 1 ft = 0.3048 m exactly
    assert power.places["box"] == pytest.approx((0.3048, 0.6096, 0.9144))


def test_dark_pixels_are_known_by_their_place_on_the_string(layout_of):
    text = TWO.replace('"eaves", "row"', '"eaves", { prop = "row", null_pixels = 2 }')
    text = text.replace("number = 1", "number = 1\nnull_pixels = 1")
    (string,) = layout_of(text).power.strings
    assert (string.nulls, string.null_pixels) == (((0, 1), (100, 2)), 3)


def test_an_unknown_kind_is_told_with_the_nearest(layout_of):
    with pytest.raises(LayoutError, match=r"power, pixel_type: no kind of pixel is called '5 V, 20mA'\n.*'5 V, 20 mA'"):
        layout_of(LINE.replace("5 V, 20 mA", "5 V, 20mA"))


def test_white_takes_a_fourth_current(layout_of):
    text = LINE.replace("number = 1", 'number = 1\norder = "RGBW"')
    assert layout_of(text).pixel_count == 100
    with pytest.raises(LayoutError, match="'eaves' has white, and its pixels '5 V, 12 mA' have none"):
        layout_of(text.replace("5 V, 20 mA", "5 V, 12 mA"))


def test_fewer_outputs_than_are_described(layout_of):
    more = LINE.replace("[[controller.output]]", "outputs = 1\n[[controller.output]]", 1)
    assert layout_of(more).power.free_outputs == {"box": 0}
    second = '[[controller.output]]\nnumber = 2\nchain = ["b"]\n[[prop]]\nname = "b"\nshape = "spot"\n'
    with pytest.raises(LayoutError, match="it has 1 outputs, and 2 are described"):
        layout_of(more + second)


def test_all_faults_are_told_at_once(layout_of):
    text = LINE + SUPPLY + 'props = ["roof"]\n' + SUPPLY.replace('"one"', '"two"').replace("output = 1", "output = 7")
    with pytest.raises(LayoutError) as told:
        layout_of(text)
    assert len(told.value.problems) == 2
