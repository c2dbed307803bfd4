"""Voltage along strings as the layout describes them."""

import numpy as np
import pytest

from eavesong.layout.kinds import Conductor
from eavesong.limits import Assumptions, limits
from eavesong.limits.cables import links_of
from eavesong.limits.circuits import circuits_of, gaps_of
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
    lead = loop_ohms(Conductor(gauge=16), 3 * 1.15)  # with the slack that is bought
    assert voltage.full.volts == pytest.approx(5 - 100 * 0.061 * lead - 0.061 * WIRE * 100 * 99 / 2, abs=2e-5)
    assert (voltage.full.prop, voltage.full.pixel) == ("eaves", 100)
    assert voltage.lead_amperes == pytest.approx((6.1,))
    assert not voltage.full.holds


def test_without_a_supply_an_ideal_one_stands_at_the_first_pixel(house):
    (voltage,) = limits(house()).voltages
    assert voltage.supply == ""
    assert voltage.full.volts == pytest.approx(5 - 0.061 * WIRE * 100 * 99 / 2, abs=2e-5)


def test_slack_lengthens_what_the_voltage_falls_over(house):
    layout = house(LINE + SUPPLY.format(lead=3))
    tight, loose = (limits(layout, None, Assumptions(slack=slack)) for slack in (0, 0.5))
    fall = 6.1 * loop_ohms(Conductor(gauge=16), 1.5)
    assert tight.voltages[0].full.volts - loose.voltages[0].full.volts == pytest.approx(fall, abs=1e-5)
    (bought,) = [part.count for part in loose.parts if part.group == "leads"]
    assert bought == 4.5


def test_an_injection_without_a_lead_has_one_as_long_as_the_way(house):
    """9.9 m from the supply, at the first pixel, to the last one; 15 % of slack, 0.3 m of spare, which are all
    that the first one has; AWG 16."""
    feed = SUPPLY.format(lead=0).replace("lead = { gauge = 16, length = 0 }", 'inject = [{ prop = "eaves" }]')
    (circuit,) = circuits_of(house(LINE + feed), Assumptions())
    way = float(np.linalg.norm(np.subtract(*circuit_ends(house(LINE + feed)))))
    assert [point.metres for point in circuit.points] == pytest.approx([0.3, way * 1.15 + 0.3])
    assert circuit.ladder.leads[1] == pytest.approx(loop_ohms(Conductor(gauge=16), way * 1.15 + 0.3))
    thick = feed.replace("[[supply]]", "[[supply]]\nat = [5.0, 0.0]")
    (circuit,) = circuits_of(house(LINE.replace("[power]", "[power]\nlead = { gauge = 12 }") + thick), Assumptions())
    assert [str(point.wire) for point in circuit.points] == ["AWG 12 stranded"] * 2
    assert [point.metres for point in circuit.points] == pytest.approx([4.95 * 1.15 + 0.3] * 2, rel=1e-3)


def circuit_ends(layout):
    places = np.stack([layout.pixels.X, layout.pixels.Y, layout.pixels.Z], axis=1)
    return places[0], places[-1]


def test_copper_clad_aluminium_is_described_by_its_resistance(house):
    """1.6 times the resistance of copper of that size (handbooks: CCA-10 conducts some 63 % IACS; from memory)."""
    ohms = 1.6 * ohms_per_metre(Conductor(gauge=16))
    clad = SUPPLY.format(lead=3).replace("gauge = 16", f"ohms_per_metre = {ohms}")
    copper, other = (limits(house(LINE + text)).voltages[0].full.volts for text in (SUPPLY.format(lead=3), clad))
    assert copper - other == pytest.approx(6.1 * 0.6 * loop_ohms(Conductor(gauge=16), 3.45), rel=1e-3)


@pytest.mark.parametrize("seed", range(4))
def test_the_worst_frame_is_found_among_all_frames(house, film, seed):
    """Every frame is solved by itself here, with all pixels; the critical pixel is a different one from frame to
    frame."""
    text = LINE + SUPPLY.format(lead=2) + 'inject = [{ prop = "eaves", pixel = 70, lead = { gauge = 18, length = 5 } }]'
    layout = house(text)
    rng = np.random.default_rng(seed)
    frames = np.zeros((50, 100, 3), np.uint8)
    for frame in frames:
        first, last = np.sort(rng.integers(0, 101, 2))
        frame[first:last] = rng.integers(100, 256)
    report = limits(layout, film(layout, frames.reshape(50, 300)))
    (circuit,) = circuits_of(layout, Assumptions())
    amperes = 0.001 + 0.060 * frames[:, :, 0] / 255
    alone = [circuit.ladder.voltages(row).min() for row in amperes]
    assert report.voltages[0].worst.volts == pytest.approx(min(alone), abs=1e-5)
    assert report.voltages[0].moment.seconds == pytest.approx(int(np.argmin(alone)) / 40)


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
    assumed = Assumptions(slack=0.2, spare=0.5)
    (gap,) = gaps_of(layout, circuits_of(layout, assumed), assumed)
    places = np.stack([layout.pixels.X, layout.pixels.Y], axis=1)
    straight = np.linalg.norm(places[9] - places[19])  # the second one is wired from its other end
    assert gap.metres == pytest.approx(1.2 * straight + 0.5, rel=1e-5)
    assert (gap.before, gap.after) == ("a", "b")


def test_the_spacing_of_a_string_can_be_longer_than_what_shows(house):
    kind = '[power]\npixel_type = "own"\n[[pixel_type]]\nname = "own"\nvolts = 5\namperes = [0.02, 0.02, 0.02]\n'
    layout = house(TWO + kind + "spacing = 0.25\n")
    metres, _ = links_of(layout, layout.power.strings[0].pixels, Assumptions())
    assert metres[:9] == pytest.approx(np.full(9, 0.25))


def test_stretches_of_a_string_are_circuits_of_their_own(house):
    text = LINE + SUPPLY.format(lead=1).replace("output = 1", "output = 1\npixels = [31, 50]")
    circuits = circuits_of(house(text), Assumptions())
    assert [len(circuit.pixels) for circuit in circuits] == [30, 20, 50]
    assert [circuit.supply for circuit in circuits] == [None, 0, None]
    assert circuits[1].name == "box, output 1, pixels 31 to 50"
