"""The list of what to buy, as somebody takes it to a shop."""

import csv
import io

import numpy as np
import pytest

from eavesong.limits import Assumptions, limits, parts_csv, report_text
from eavesong.limits.assumptions import CAUTIONS
from powered import LINE

FED = """
[[prop]]
name = "lamp"
shape = "spot"
at = [0, 3]
[[prop]]
name = "sill"
shape = "line"
at = [0, 2]
to = [1.01, 0]
pixels = 10
[[controller.output]]
number = 2
null_pixels = 2
chain = ["lamp", "sill"]
[[supply]]
name = "one"
volts = 5
watts = 100
[[supply.feed]]
controller = "box"
output = 1
lead = { gauge = 16, length = 2 }
inject = [{ prop = "eaves", pixel = 50, lead = { gauge = 16, length = 3 } },
          { prop = "eaves", lead = { gauge = 14, length = 6 } }]
[[supply.feed]]
controller = "box"
output = 2
lead = { gauge = 16, length = 4 }
"""


@pytest.fixture
def by_group(house):
    """The rows of the list as comma-separated text, by their group."""
    text = parts_csv(limits(house(LINE.replace('name = "box"', 'name = "box"\noutputs = 8') + FED)).parts)
    groups: dict[str, list[dict[str, str]]] = {}
    for row in csv.DictReader(io.StringIO(text.split("\n", len(CAUTIONS))[-1])):
        groups.setdefault(row["group"], []).append(row)
    return groups


def cells(rows, *names):
    return [tuple(row[name] for name in names) for row in rows]


def test_pixels_by_kind_and_pitch_and_dark_ones(by_group):
    """10 m / 100 and 1.01 m / 10: a millimetre is no difference."""
    assert cells(by_group["pixels"], "item", "detail", "count") == [
        ("5 V, 20 mA", "single", "1"),
        ("5 V, 20 mA", "every 100 mm", "110"),
        ("5 V, 20 mA", "dark, only to pass the signal on", "2"),
    ]


def test_a_house_in_feet_has_its_pitch_in_inches(house):
    """10 m in 100 pixels; the inch is 25.4 mm."""
    text = 'units = "ft"\n' + LINE.replace('name = "box"', 'name = "box"\noutputs = 8') + FED
    (row, *_) = [part for part in limits(house(text)).parts if part.group == "pixels" and part.count == 110]
    assert row.detail == "every 1 ft" or row.detail.endswith(" in")


def test_pitches_that_are_told_alike_are_one_item(house):
    """97 and 103 mm are both 4 inches to the nearest (an inch is 25.4 mm)."""
    props = "".join(
        f'[[prop]]\nname = "{name}"\nshape = "line"\nto = [30, 0]\npitch = {pitch / 304.8}\n'
        for name, pitch in (("a", 97), ("b", 103))
    )
    rows = [part for part in limits(house(f'title = "A"\nunits = "ft"\n{props}')).parts if part.group == "pixels"]
    assert [row.detail for row in rows] == ["every 4 in"]
    assert rows[0].count > 180


def test_controllers_are_items_and_free_outputs_are_not_needed(by_group):
    assert cells(by_group["controllers"], "item", "detail", "count") == [
        ("box", "with at least 2 outputs and 2 universes", "1")
    ]
    assert "outputs" not in by_group


def test_a_controller_has_as_many_outputs_as_its_last_one_in_use_says(house):
    """One was taken down, and the others are plugged in where they were."""
    rows = [
        part for part in limits(house(LINE.replace("number = 1", "number = 4"))).parts if part.group == "controllers"
    ]
    assert [row.detail for row in rows] == ["with at least 4 outputs and 1 universe"]


def test_supplies_are_measured_against_full_white(house, film):
    """111 pixels of 61 mA at 5 V, the supply's last watt for a dark song too: 33.9 W of 80 W."""
    layout = house(LINE + FED)
    for report in (limits(layout), limits(layout, film(layout, np.zeros(5)))):
        (line,) = [part for part in report.parts if part.group == "supplies"]
        assert line.note == "46 W to spare of 80 W usable, at full white"


def test_leads_with_slack_and_what_to_buy_of_each_cable(by_group):
    # 15 % more than the layout says.
    assert cells(by_group["leads"], "item", "count") == [
        ("two conductors, AWG 16 stranded", "2.3"), ("two conductors, AWG 16 stranded", "4.6"),
    ]  # fmt: skip
    assert cells(by_group["injection leads"], "detail", "count") == [
        ("'one' to 'eaves' pixel 50 (box, output 1)", "3.4"), ("'one' to 'eaves' pixel 100 (box, output 1)", "6.9"),
    ]  # fmt: skip
    (extension,) = by_group["extensions"]
    assert extension["item"] == "positive, ground and data, AWG 20 stranded"
    sums = {row["item"]: float(row["count"]) for row in by_group["cable in all"]}
    assert sums["two conductors, AWG 16 stranded"] == pytest.approx(2.3 + 4.6 + 3.4, abs=0.11)
    assert sums["two conductors, AWG 14 stranded"] == pytest.approx(6.9)
    assert len(by_group["data leads"]) == 2


def test_cable_in_all_is_told_by_kinds_and_each_lead_as_a_piece(house, by_group):
    told = report_text(limits(house(LINE + FED)))
    assert f"m in {len(by_group['cable in all'])} kinds" in told
    assert f"m in {len(by_group['leads'])} pieces" in told


def test_fuses_are_standard_ones_in_groups_with_holders(by_group, house):
    rows = {row["item"]: float(row["count"]) for row in by_group["fuses"]}
    loads = [amperes for voltage in limits(house(LINE + FED)).voltages for amperes in voltage.lead_amperes]
    # 125 % of a load that lasts for hours (NEC 210.20(A)), the next rating of ISO 8820-3 (both from memory).
    wanted = [next(r for r in (1, 2, 3, 4, 5) if 1.25 * load <= r) for load in loads]
    assert rows == {f"{rating} A": wanted.count(rating) for rating in set(wanted)}
    (holders,) = by_group["fuse holders"]
    assert float(holders["count"]) == len(loads) == 4


def test_connectors_are_pairs_with_the_amperes_they_must_bear(by_group):
    """One pair at each of four feeding points, one at each end of an extension, one for data at each output."""
    powered = [row for row in by_group["connectors"] if row["item"].startswith("rated for")]
    assert sum(float(row["count"]) for row in powered) == 6
    (data,) = [row for row in by_group["connectors"] if row["item"] == "for data and ground"]
    assert data["count"] == "2"


def test_a_connector_bears_what_the_fuse_before_it_lets_through(house):
    """14 pixels of 60 mA ask for 0.84 A, which one of 1 A would bear; a fuse carries four fifths of what it is rated
    for, so it is one of 2 A (NEC 210.20(A), ISO 8820-3, both from memory)."""
    feed = '[[supply]]\nname = "one"\nvolts = 5\nwatts = 100\n[[supply.feed]]\ncontroller = "box"\noutput = 1\n'
    lit = house(LINE.replace("pixels = 100", "pixels = 14") + feed + "lead = { gauge = 12, length = 2 }\n")
    items = [(part.group, part.item) for part in limits(lit).parts if part.group in ("fuses", "connectors")]
    assert ("fuses", "2 A") in items
    assert ("connectors", "rated for 2 A or more") in items
    assert ("connectors", "rated for 1 A or more") not in items


def test_pixels_of_several_props_are_told_as_those_of_all(house):
    row = LINE.replace("pixels = 100\n", "pixels = 100\nrepeat = { count = 3, step = [0, 1] }\n")
    rows = [
        part.detail
        for part in limits(house(row.replace('["eaves"]', '["eaves 1", "eaves 2", "eaves 3"]'))).parts
        if part.group == "props"
    ]
    assert any("300 pixels in all" in each for each in rows)


def test_spares_are_a_stated_share(by_group, house):
    (pixels,) = [row for row in by_group["spares"] if "every 100 mm" in row["detail"]]
    assert (pixels["count"], pixels["note"]) == ("6", "5% more")  # 5 % of 110, whole ones
    parts = limits(house(LINE + FED), None, Assumptions(spares=0.2)).parts
    assert [part.count for part in parts if part.group == "spares" and "every 100 mm" in part.detail] == [22]
    assert not [part for part in limits(house(LINE), None, Assumptions(spares=0)).parts if part.group == "spares"]


def test_what_nobody_can_count_from_here_is_a_line_to_fill(by_group):
    assert cells(by_group["enclosures"], "item", "count") == [("for 'one'", ""), ("for 'box'", "")]
    assert all(row["count"] == "" for row in by_group["mounts"])


TWO = """
[[supply]]
name = "left"
volts = 5
watts = 50
[[supply.feed]]
controller = "box"
output = 1
props = ["eaves"]
[[supply]]
name = "right"
volts = 5
watts = 50
[[supply.feed]]
controller = "box"
output = 1
props = ["b"]
[[prop]]
name = "b"
shape = "line"
at = [12, 0]
to = [1, 0]
pixels = 10
"""


def test_two_supplies_on_one_chain_are_never_joined(house):
    """The positive is cut where one supply's stretch ends; ground and data go on."""
    layout = house(LINE.replace('chain = ["eaves"]', 'chain = ["eaves", "b"]') + TWO)
    report = limits(layout)
    (extension,) = [part for part in report.parts if part.group == "extensions"]
    assert extension.item.startswith("ground and data, no positive")
    (joint,) = [part for part in report.parts if part.group == "joints"]
    assert joint.item == "cut the positive, keep ground and data"
    assert joint.detail == "box, output 1: between 'eaves' pixel 100 and 'b' pixel 1"
    (finding,) = [finding for finding in report.findings if "several supplies feed" in finding.found]
    assert "Cut the positive before pixel 101 ('b' pixel 1); keep ground and data." in finding.instead
    one = TWO.replace('props = ["b"]\n', "").replace('props = ["eaves"]\n', "").split("[[supply]]")
    alone = limits(house(LINE.replace('chain = ["eaves"]', 'chain = ["eaves", "b"]') + "[[supply]]".join(one[:2])
                         + one[2][one[2].index("[[prop]]"):]))  # fmt: skip
    assert not any(part.group == "joints" for part in alone.parts)
    assert all("positive, ground and data" in part.item for part in alone.parts if part.group == "extensions")


def test_a_cut_inside_a_prop_is_told_with_its_pixels(house):
    text = LINE + TWO.split("[[prop]]")[0].replace('props = ["eaves"]', "pixels = [1, 60]").replace(
        'props = ["b"]', "pixels = [61, 100]"
    )
    (joint,) = [part for part in limits(house(text)).parts if part.group == "joints"]
    assert joint.detail == "box, output 1: between 'eaves' pixel 60 and 'eaves' pixel 61"


def test_every_lead_names_its_fuse(by_group):
    """As many of each as are to be bought."""
    notes = [row["note"] for row in (*by_group["leads"], *by_group["injection leads"])]
    bought = {row["item"]: int(float(row["count"])) for row in by_group["fuses"]}
    assert {size: notes.count(f"its fuse: {size}") for size in bought} == bought


def test_a_supply_at_its_first_pixel_has_a_lead(house):
    """It hangs there where nothing else is said: 0.3 m, and a fuse in it."""
    feed = '[[supply]]\nname = "one"\nvolts = 5\nwatts = 100\n[[supply.feed]]\ncontroller = "box"\noutput = 1\n'
    (lead,) = [part for part in limits(house(LINE.replace("100", "20") + feed)).parts if part.group == "leads"]
    assert (lead.item, lead.count) == ("two conductors, AWG 16 stranded", 0.3)


def test_strings_are_bought_with_the_wire_they_have_from_pixel_to_pixel(house):
    kind = '[[pixel_type]]\nname = "own"\nvolts = 5\namperes = [0.02, 0.02, 0.02]\nspacing = 0.15\n'
    parts = limits(house(LINE.replace("5 V, 20 mA", "own") + kind)).parts
    assert [part.detail for part in parts if part.group == "pixels"] == ["every 150 mm"]
