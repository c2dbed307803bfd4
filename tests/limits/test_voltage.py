"""Voltage along strings as the layout describes them."""

import numpy as np
import pytest

from eavesong.layout.kinds import Conductor
from eavesong.limits import Assumptions, limits
from eavesong.limits.circuits import circuits_of, gaps_of, wire_metres
from eavesong.limits.copper import loop_ohms, ohms_per_metre
from powered import LINE

SUPPLY = """
[[supply]]
name = "one"
volts = 5
watts = 100
[[supply.feed]]
controller = "box"
output = 1
lead = {{ gauge = 16, length = {lead} }}
"""
WIRE = 2 * ohms_per_metre(Conductor(gauge=20)) * 0.1
"""Loop ohms between two pixels of the usual kind, 0.1 m apart."""


def test_full_white_falls_as_the_closed_form_says(house):
    """n lumps of I at the end of a lead: V - n I R_lead - I r n (n - 1) / 2."""
    (voltage,) = limits(house(LINE + SUPPLY.format(lead=3))).voltages
    lead = loop_ohms(Conductor(gauge=16), 3)
    assert voltage.full.volts == pytest.approx(5 - 100 * 0.061 * lead - 0.061 * WIRE * 100 * 99 / 2, abs=2e-5)
    assert (voltage.full.prop, voltage.full.pixel) == ("eaves", 100)
    assert voltage.lead_amperes == pytest.approx((6.1,))
    assert not voltage.full.holds


def test_without_a_supply_an_ideal_one_stands_at_the_first_pixel(house):
    (voltage,) = limits(house()).voltages
    assert voltage.supply == ""
    assert voltage.full.volts == pytest.approx(5 - 0.061 * WIRE * 100 * 99 / 2, abs=2e-5)


def test_the_worst_frame_is_the_one_in_which_the_weakest_pixel_loses_most(house, film):
    """Forty pixels at the far end lose more than sixty at the near one."""
    layout = house(LINE + SUPPLY.format(lead=0))
    frames = np.zeros((20, 300), np.uint8)
    frames[5, :180] = 255
    frames[11, 180:] = 255
    (voltage,) = limits(layout, film(layout, frames)).voltages
    assert voltage.moment.seconds == pytest.approx(11 / 40)
    loads = np.full(100, 0.001)
    loads[60:] = 0.061
    drop = sum(WIRE * loads[i + 1 :].sum() for i in range(99))
    assert voltage.worst.volts == pytest.approx(5 - drop, abs=2e-5)


def test_the_suggested_number_of_feeds_is_enough_and_one_fewer_is_not(house):
    (voltage,) = limits(house(LINE + SUPPLY.format(lead=1))).voltages
    points = int(voltage.suggestions[0].split()[3])

    def fed_at(count):
        inject = ", ".join(
            f'{{ prop = "eaves", pixel = {round(place) + 1}, lead = {{ gauge = 16, length = 1 }} }}'
            for place in np.linspace(0, 99, count)[1:]
        )
        return limits(house(LINE + SUPPLY.format(lead=1) + f"inject = [{inject}]\n")).voltages[0]

    assert fed_at(points).full.holds
    assert not fed_at(points - 1).full.holds
    assert fed_at(points).points == points


def test_a_thicker_lead_is_suggested_where_the_lead_is_at_fault(house):
    text = LINE.replace("to = [10.0, 0.0]", "to = [1.0, 0.0]") + SUPPLY.format(lead=4)
    (voltage,) = limits(house(text)).voltages
    gauge = int(next(words for words in voltage.suggestions if "AWG" in words).split("AWG ")[1].split()[0])
    assert limits(house(text.replace("gauge = 16", f"gauge = {gauge}"))).voltages[0].full.holds
    assert not limits(house(text.replace("gauge = 16", f"gauge = {gauge + 2}"))).voltages[0].full.holds


def test_warm_copper_drops_more(house):
    cold, warm = (
        limits(house(LINE.replace("[power]", f"[power]\ncelsius = {celsius}") + SUPPLY.format(lead=1))).voltages[0]
        for celsius in (20, 45)
    )
    # 0.00393 a kelvin (IACS).
    assert (5 - warm.full.volts) / (5 - cold.full.volts) == pytest.approx(1 + 25 * 0.00393)


TWO = """\
title = "Two props"
[[prop]]
name = "a"
shape = "line"
to = [0.9, 0]
pixels = 10
[[prop]]
name = "b"
shape = "line"
at = [3, 4]
to = [0.9, 0]
pixels = 10
[[controller]]
name = "box"
[[controller.output]]
number = 1
chain = ["a", { prop = "b", reversed = true }]
"""


def test_the_gap_between_props_is_measured_with_slack(house):
    layout = house(TWO)
    (gap,) = gaps_of(layout, layout.power, Assumptions(slack=0.2, spare=0.5))
    places = np.stack([layout.pixels.X, layout.pixels.Y], axis=1)
    straight = np.linalg.norm(places[9] - places[19])  # the second one is wired from its other end
    assert gap.metres == pytest.approx(1.2 * straight + 0.5, rel=1e-5)
    assert (gap.before, gap.after) == ("a", "b")


def test_the_spacing_of_a_string_can_be_longer_than_what_shows(house):
    kind = '[power]\npixel_type = "own"\n[[pixel_type]]\nname = "own"\nvolts = 5\namperes = [0.02, 0.02, 0.02]\n'
    layout = house(TWO + kind + "spacing = 0.25\n")
    metres = wire_metres(layout, layout.power.strings[0].pixels, Assumptions())
    assert metres[:9] == pytest.approx(np.full(9, 0.25))


def test_stretches_of_a_string_are_circuits_of_their_own(house):
    text = LINE + SUPPLY.format(lead=1).replace("output = 1", "output = 1\npixels = [31, 50]")
    circuits = circuits_of(house(text), Assumptions())
    assert [len(circuit.pixels) for circuit in circuits] == [30, 20, 50]
    assert [circuit.supply for circuit in circuits] == [None, 0, None]
    assert circuits[1].name == "box, output 1, pixels 31 to 50"
