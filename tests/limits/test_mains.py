"""Amperes from the mains and the circuits they take."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from eavesong.limits import limits
from eavesong.limits.mains import packed
from powered import LINE

SUPPLY = """
[[supply]]
name = "{name}"
volts = 5
watts = 100
{more}
[[supply.feed]]
controller = "box"
output = 1
pixels = {pixels}
"""


def test_amperes_are_watts_over_efficiency_power_factor_and_volts(house, film):
    """100 pixels of 61 mA at 5 V are 30.5 W; P = U I cos φ."""
    fed = LINE + SUPPLY.format(name="one", more="efficiency = 0.9\npower_factor = 0.5", pixels="[1, 100]")
    mains = limits(house(fed), film(house(fed), np.array([0, 102]))).power.mains
    assert mains.house.amperes(120) == pytest.approx(30.5 / 0.9 / 0.5 / 120)
    assert mains.house.amperes(230) == pytest.approx(30.5 / 0.9 / 0.5 / 230)
    show = 100 * (0.001 + 0.060 * 0.4) * 5
    assert mains.house.peak_amperes(230) == pytest.approx(show / 0.9 / 0.5 / 230, rel=1e-5)
    assert mains.supplies[0].peak_amperes(120) == pytest.approx(show / 0.9 / 0.5 / 120, rel=1e-5)


def test_supplies_with_and_without_correction_add_up(house):
    two = SUPPLY.format(name="one", more="power_factor = 1", pixels="[1, 50]")
    two += SUPPLY.format(name="two", more="", pixels="[51, 100]")
    mains = limits(house(LINE + two)).power.mains
    each = [15.25 / 0.85 / 1 / 230, 15.25 / 0.85 / 0.6 / 230]
    assert [load.amperes(230) for load in mains.supplies] == pytest.approx(each)
    assert mains.house.amperes(230) == pytest.approx(sum(each))
    assert limits(house(LINE)).power.mains.house.amperes(230) == pytest.approx(30.5 / 0.85 / 0.6 / 230)


def test_more_than_a_circuit_gives_over_hours_is_told_with_the_caution(house):
    """2,000 W at 0.85 and 0.6 are 32.68 A at 120 V, and 80 % of 15 A are 12 A (NEC 210.20(A), from memory)."""
    each = 2000 / 12 / 300
    kind = f'[[pixel_type]]\nname = "flood"\nvolts = 12\nidle = 0\namperes = [{each}, {each}, {each}]\n'
    report = limits(house(LINE.replace("5 V, 20 mA", "flood") + kind))
    (finding,) = [finding for finding in report.findings if finding.about == "mains"]
    assert "32.68 A at 120 V or 17.05 A at 230 V" in finding.found
    assert "12.0 A of 15 A or 12.8 A of 16 A over hours" in finding.found
    assert "at least 3 at 120 V or 2 at 230 V" in finding.instead
    assert "residual-current protection: ask a licensed person" in finding.instead
    assert finding.warning
    assert not any(finding.about == "mains" for finding in limits(house()).findings)
    lines = [part for part in report.parts if part.group == "mains"]
    assert all("residual-current protection" in part.note for part in lines)


def test_a_supply_that_takes_more_than_a_circuit_gives_is_named(house):
    """A plug cannot be on two circuits: 800 W at 0.85 and 0.6 are 13.07 A at 120 V, and 6.82 A at 230 V."""
    each = 800 / 12 / 300
    kind = f'[[pixel_type]]\nname = "flood"\nvolts = 12\nidle = 0\namperes = [{each}, {each}, {each}]\n'
    flood = LINE.replace("5 V, 20 mA", "flood")
    large, small = (SUPPLY.replace("volts = 5", "volts = 12").replace("watts = 100", "watts = 1000") for _ in range(2))
    whole = flood + large.format(name="garage", more="", pixels="[1, 100]") + kind
    told = [finding.found for finding in limits(house(whole)).findings if finding.about == "mains"]
    assert [each for each in told if "'garage' takes 13.07 A at 120 V, where a circuit of 15 A gives 12.0 A" in each]
    assert not any("at 230 V, where" in each for each in told)
    parts = small.format(name="left", more="", pixels="[1, 50]") + small.format(
        name="right", more="", pixels="[51, 100]"
    )
    told = [finding.found for finding in limits(house(flood + parts + kind)).findings if finding.about == "mains"]
    assert told
    assert not any("one supply cannot" in each for each in told)


def test_what_no_supply_feeds_yet_needs_circuits_too(house):
    """Of 100 pixels of 36 W 40 have a supply. Both parts are above what a circuit gives (12 A at 120 V), and a supply
    is on no circuit with what is still to be fed: 1,440 and 2,160 W over 0.85 and 0.6 are 23.5 and 35.3 A."""
    kind = '[[pixel_type]]\nname = "flood"\nvolts = 12\nidle = 0\namperes = [1, 1, 1]\n'
    supply = SUPPLY.format(name="one", more="", pixels="[1, 40]").replace("volts = 5", "volts = 12")
    report = limits(house(LINE.replace("5 V, 20 mA", "flood") + kind + supply))
    each = [40 * 36 / 0.51 / 120, 60 * 36 / 0.51 / 120]
    assert report.power.mains.house.amperes(120) == pytest.approx(sum(each))
    circuits = {volts: count for volts, _, count in report.power.mains.circuits}
    assert circuits[120] == sum(-(-amperes // 12) for amperes in each) == 5
    assert any(finding.about == "mains" and "at least 5 at 120 V" in finding.instead for finding in report.findings)


@given(st.lists(st.floats(0.1, 30), max_size=30), st.floats(8, 16))
def test_circuits_hold_every_supply(parts, most):
    count = packed(parts, most)
    assert count >= sum(parts) / most - 1e-9
    assert count <= len(parts) + sum(part // most for part in parts)


def test_a_supply_cannot_be_split():
    assert packed([7, 7, 7], 12) == 3  # 21 A would fit on two circuits of 12 A if they could be cut
    assert packed([6, 6, 6, 6], 12) == 2
    assert packed([], 12) == 0
