"""Advice can be followed: whatever is named passes every check once it is done."""

import re

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from eavesong.limits import Assumptions, limits
from eavesong.limits.ampacity import FUSES
from eavesong.limits.remedy import RATINGS, as_written, beside, rating_for, spread

HOUSE = """\
title = "Advice"
[power]
pixel_type = "own"
celsius = {celsius}
{connector}
[[pixel_type]]
name = "own"
volts = {volts}
amperes = [{each}, {each}, {each}]
wire = {{ gauge = {wire} }}
[[prop]]
name = "row"
shape = "line"
to = [{length}, 0]
pixels = {pixels}
[[controller]]
name = "box"
[[controller.output]]
number = 1
chain = ["row"]
[[supply]]
name = "one"
volts = {volts}
watts = {watts}
{at}
[[supply.feed]]
controller = "box"
output = 1
lead = {lead}
inject = [{inject}]
"""

plans = st.fixed_dictionaries({
    "celsius": st.sampled_from([5, 20, 38]),
    "volts": st.sampled_from([5.0, 12.0, 24.0]),
    "each": st.sampled_from([0.004, 0.012, 0.02, 0.2]),
    "wire": st.sampled_from([16, 18, 20, 22, 26]),
    "length": st.sampled_from([0.5, 4.0, 12.0]),
    "pixels": st.integers(1, 200),
    "watts": st.sampled_from([30, 100, 350]),
    "at": st.sampled_from(["", "at = [2, 1]"]),
    "connector": st.sampled_from(["", "connector_amperes = 4"]),
})  # fmt: skip
PLAIN = {
    "celsius": 20, "volts": 5.0, "each": 0.02, "wire": 20, "length": 10.0, "pixels": 100, "watts": 100, "at": "",
    "connector": "",
}  # fmt: skip
leads = st.tuples(st.sampled_from([12, 16, 20, 24]), st.sampled_from([0.3, 2.0, 8.0]))


def lead(gauge, metres):
    return f"{{ gauge = {gauge}, length = {metres} }}"


def half_way(plan, gauges):
    """One more feeding point, in the middle, through a lead of the second of ``gauges``."""
    if gauges[1] is None or plan["pixels"] < 4:
        return ""
    return f'{{ prop = "row", pixel = {plan["pixels"] // 2}, lead = {lead(gauges[1], 1.0)} }}'


def circuit_findings(report):
    return [finding for finding in report.findings if finding.about in ("voltage", "wire")]


def done(plan, remedy, gauges, metres):
    """The layout's text after the advice was followed to the letter; lengths that it names are with slack.

    gauges: of the first lead and of those of injections, which stay where only thinner ones are to be replaced.
    """
    if not remedy.points:
        gauges = tuple(None if each is None else min(each, remedy.wire.gauge) for each in gauges)
        return HOUSE.format(**plan, lead=lead(gauges[0], metres), inject=half_way(plan, gauges))
    first, *others = (
        (prop, pixel, lead(wire.gauge, length / 1.15))
        for (prop, pixel, length), wire in zip(remedy.points, remedy.wires, strict=True)
    )
    inject = ", ".join(f'{{ prop = "{prop}", pixel = {pixel}, lead = {each} }}' for prop, pixel, each in others)
    return HOUSE.format(**plan, lead=first[2], inject=inject)


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(plan=plans, own=leads)
@pytest.mark.parametrize("beside", [None, 12, 28])
def test_what_is_advised_passes_every_check(house, plan, own, beside):
    """beside: gauge of the lead of another feeding point half-way, where there is one."""
    gauges = (own[0], beside)
    report = limits(house(HOUSE.format(**plan, lead=lead(*own), inject=half_way(plan, gauges))))
    (voltage,) = report.voltages
    assert voltage.sound == (not circuit_findings(report))
    for remedy in voltage.remedies:
        better = limits(house(done(plan, remedy, gauges, own[1])))
        assert better.voltages[0].sound, (str(remedy), [str(strain) for strain in better.voltages[0].strains])
        assert not circuit_findings(better)
        assert all(part.item != "none fits" for part in better.parts)


@settings(max_examples=20, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(plans, leads)
def test_every_fuse_in_the_list_bears_its_load_and_guards_the_wire(house, plan, own):
    report = limits(house(HOUSE.format(**plan, lead=lead(*own), inject="")))
    (load,) = report.voltages[0].lead_amperes
    for part in report.parts:
        if part.group == "fuses" and part.item != "none fits":
            rating = float(part.item.split()[0])
            assert rating in FUSES
            assert load <= 0.8 * rating + 1e-9
            # NFPA 79 table 12.5.1 and NEC 240.4(D), the thinner of lead and string (from memory).
            most = {12: 20, 16: 10, 18: 7, 20: 5, 22: 3, 24: 2, 26: 1}
            assert rating <= min(most[own[0]], most[plan["wire"]])


@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(plans)
def test_the_supply_that_is_advised_is_large_enough(house, plan):
    report = limits(house(HOUSE.format(**plan, lead=lead(12, 0.3), inject="")))
    for finding in report.findings:
        larger = re.search(r"take one of (\d+) W", finding.instead)
        if finding.about == "supply" and larger:
            better = limits(house(HOUSE.format(**plan | {"watts": larger[1]}, lead=lead(12, 0.3), inject="")))
            assert not any(one.about == "supply" for one in better.findings)


def test_the_fewest_points_are_named(house):
    """One fewer is not enough, spread in the same way."""
    (voltage,) = limits(house(HOUSE.format(**PLAIN, lead=lead(12, 1), inject=""))).voltages
    remedy = voltage.remedies[0]
    fewer = spread(np.full(100, 0.061), len(remedy.points) - 1)
    inject = ", ".join(
        f'{{ prop = "row", pixel = {place + 1}, lead = {lead(12, 1 + 0.1 * place)} }}' for place in fewer[1:].tolist()
    )
    assert not limits(house(HOUSE.format(**PLAIN, lead=lead(12, 1), inject=inject))).voltages[0].sound
    leads = f"{len(remedy.points)} points instead of 1 through leads of AWG 12, lengths as written"
    assert str(remedy).startswith(f"feed it at {leads}: 'row' pixels 1 (1.0 m), ")


@pytest.mark.parametrize(
    ("at", "length", "told"),
    [("", 1, 0), ("at = [-12, 0]", 1, 1), ("at = [-12, 0]", 11.5, 0), ("at = [-12, 0]", 11, 1)],
)
def test_a_lead_that_cannot_reach_is_told(house, at, length, told):
    """The row begins at 0; its supply hangs twelve metres away, or nobody knows where."""
    report = limits(house(HOUSE.format(**PLAIN | {"at": at}, lead=lead(12, length), inject="")))
    found = [each.found for each in report.findings if each.about == "lead"]
    assert len(found) == told
    if found:  # pixels lie in the middle of their share
        assert found[0] == f"the lead from 'one' to 'row' pixel 1 is {length}.0 m long, and the straight way is 12.1 m"


def test_leads_of_a_supply_that_cannot_reach_are_told_once(house):
    points = "".join(f'{{ prop = "row", pixel = {pixel}, lead = {lead(12, 1)} }}, ' for pixel in (30, 60, 90))
    report = limits(house(HOUSE.format(**PLAIN | {"at": "at = [-12, 0]"}, lead=lead(12, 1), inject=points)))
    (found,) = (each.found for each in report.findings if each.about == "lead")
    assert found.startswith("the lead from 'one' to 'row' pixel 90 is 1.0 m long, and the straight way is 2")
    assert found.endswith("; 3 more of its leads are too short, too")
    nearly = f'{{ prop = "row", pixel = 30, lead = {lead(12, 14.9)} }}'  # 15 m away, and so little is not told alone
    report = limits(house(HOUSE.format(**PLAIN | {"at": "at = [-12, 0]"}, lead=lead(12, 1), inject=nearly)))
    (found,) = (each.found for each in report.findings if each.about == "lead")
    assert found.endswith("; 1 more of its leads is too short, too")


@pytest.mark.parametrize(("units", "metre"), [("ft", 1 / 0.3048), ("in", 1 / 0.0254), ("cm", 100.0)])
def test_leads_are_told_as_the_file_of_the_house_writes_them(house, units, metre):
    """The international foot and inch: 0.3048 m and 0.0254 m. What is told can be copied, with its unit: a lead of a
    metre, rounded up, as slack is added where the file is read."""
    text = f'units = "{units}"\n' + HOUSE.format(**PLAIN | {"length": 10 * metre}, lead=lead(12, metre), inject="")
    remedy = limits(house(text)).voltages[0].remedies[0]
    told, wanted = str(remedy), {"ft": "3.3 ft", "in": "40 in", "cm": "1.0 m"}[units]
    assert f"'row' pixels 1 ({wanted}), " in told
    assert (" m)" in told) == (units == "cm")


def test_a_wire_that_burns_is_never_advised_although_its_voltage_would_hold(house):
    """24.4 A over a hand's breadth: the volts hold on AWG 20, which may carry 5 A (NFPA 79 table 12.5.1)."""
    plan = PLAIN | {"each": 1.0, "wire": 10, "length": 0.1, "pixels": 8}
    (voltage,) = limits(house(HOUSE.format(**plan, lead=lead(24, 0.1), inject=""))).voltages
    assert voltage.remedies
    for remedy in voltage.remedies:
        assert remedy.wire is None or remedy.wire.gauge <= 12 or len(remedy.points) > 2


def test_where_nothing_helps_it_says_what_does(house):
    """AWG 30 may carry 0.5 A, and no blade fuse is that small."""
    plan = PLAIN | {"volts": 12.0, "wire": 30, "length": 5.0, "pixels": 60}
    report = limits(house(HOUSE.format(**plan, lead=lead(14, 1), inject="")))
    assert report.voltages[0].remedies == ()
    (finding,) = circuit_findings(report)
    assert "take strings of thicker wire" in finding.instead


def test_heat_beyond_the_tables_is_told_as_such(house):
    """NEC table 310.15(B)(1) ends at 55 °C for 60 °C insulation (from memory): no thicker wire helps."""
    report = limits(house(HOUSE.format(**PLAIN | {"celsius": 60}, lead=lead(12, 1), inject="")))
    (finding,) = circuit_findings(report)
    assert "At 60 °C no wire of the tables may carry anything: they end at 55 °C" in finding.instead


@given(st.floats(1, 2000), st.sampled_from([5.0, 12.0, 24.0]), st.sampled_from([0.5, 0.8, 1.0]))
def test_a_rating_is_sold_and_large_enough(watts, volts, usable):
    rating = rating_for(watts, volts, usable)
    if rating is not None:
        assert rating in RATINGS
        assert watts <= rating * usable
        assert all(watts > less * usable for less in RATINGS if less < rating)


@given(st.lists(st.floats(0.001, 1), min_size=2, max_size=60), st.integers(2, 12))
def test_feeding_points_run_from_end_to_end(loads, count):
    places = spread(np.array(loads), count)
    assert places[0] == 0
    assert places[-1] == len(loads) - 1
    assert (np.diff(places) > 0).all()


@given(st.lists(st.floats(0.001, 1), min_size=2, max_size=60), st.integers(2, 12))
def test_beside_the_first_point_alone_others_are_spread_from_end_to_end(loads, count):
    assert beside([0], np.array(loads), count) == spread(np.array(loads), count)[1:].tolist()


@pytest.mark.parametrize(
    ("kept", "count", "added"),
    [
        ([0, 40], 3, [100]),  # 59 pixels behind the last point, fed from one side, count as 118
        ([0, 40], 4, [70, 100]),  # 59 behind it, 39 before it
        ([0, 40], 5, [20, 70, 100]),
        ([0, 100], 4, [33, 67]),
        ([0, 1, 2, 100], 5, [51]),  # no pixel is left between neighbours
        ([0, 100], 2, []),
    ],
)
def test_points_are_added_where_most_is_to_be_carried(kept, count, added):
    assert beside(kept, np.ones(101), count) == pytest.approx(added, abs=1)


def test_points_that_are_written_are_advised_as_they_are(house):
    """As long a lead as this carries little, and need not be as thick as those that are added."""
    own = f'{{ prop = "row", pixel = 37, lead = {lead(18, 39.3)} }}'
    (voltage,) = limits(house(HOUSE.format(**PLAIN, lead=lead(12, 1), inject=own))).voltages
    assert ", 37 (39.3 m of AWG 18), " in str(voltage.remedies[0])


def test_assumptions_reach_the_advice(house):
    """More slack, longer leads: the lengths that are named are those that are bought."""
    text = HOUSE.format(**PLAIN, lead=lead(12, 2), inject="")
    first = [limits(house(text), None, Assumptions(slack=slack)).voltages[0].remedies[0].points[0][2]
             for slack in (0, 0.5)]  # fmt: skip
    assert first == pytest.approx([2, 3])


@pytest.mark.parametrize(("metres", "unit", "length"), [(2.9, 1.0, 2.6), (2.99, 1.0, 2.6), (2.9, 0.3048, 8.3)])
def test_leads_are_tried_as_they_are_written(metres, unit, length):
    """In whole tenths without slack, up: 2.9 / 1.15 = 2.52 m or 8.27 ft. Longer leads share the current otherwise."""
    written, tried = as_written(metres, 0.15, unit)
    assert written == length
    assert tried == pytest.approx(length * unit * 1.15)
    assert as_written(tried, 0.15, unit) == (written, tried)
