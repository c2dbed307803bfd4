"""What wires may carry, against published tables."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eavesong.layout.kinds import Conductor
from eavesong.limits.ampacity import AMPERES, FUSES, allowed_amperes, fuse_for, largest_load
from eavesong.limits.copper import area, ohms_per_metre

CORD = {18: 10, 16: 13, 14: 18, 12: 25}
"""Flexible cord with two conductors that carry current: NEC (NFPA 70) table 400.5(A)(1), as a UL standard for
appliances quotes it."""

SMALL = {30: 0.5, 28: 0.8, 26: 1, 24: 2, 22: 3, 20: 5, 18: 7, 16: 10}
"""NFPA 79 table 12.5.1 (from memory)."""

GUARDED = {18: 7, 16: 10, 14: 15, 12: 20, 10: 30}
"""Overcurrent protection of small copper conductors, at most: NEC 240.4(D) (from memory)."""


def amperes(gauge, celsius=30.0, cables=1):
    return allowed_amperes(Conductor(gauge=gauge), celsius, cables)


@pytest.mark.parametrize("table", [CORD, SMALL, GUARDED])
def test_no_gauge_carries_more_than_any_of_the_tables_allows(table):
    for gauge, most in table.items():
        assert amperes(gauge) <= most


@pytest.mark.parametrize("gauge", SMALL)
def test_small_conductors_carry_what_the_table_says(gauge):
    assert amperes(gauge) == SMALL[gauge]


def test_thicker_wire_never_carries_less():
    # Also between the gauges of the table, and beyond its ends.
    rows = [amperes(gauge) for gauge in range(40, -1, -1)]
    assert rows == sorted(rows)
    assert amperes(17) == amperes(18)
    assert amperes(0) == AMPERES[2]
    # Less copper than the table's thinnest: in proportion.
    assert amperes(36) == pytest.approx(0.5 * area(36) / area(30), rel=0.002)


@pytest.mark.parametrize(("square", "gauge"), [(0.5, 22), (0.75, 20), (1.0, 18), (1.5, 16), (2.5, 14), (4.0, 12)])
def test_metric_sizes_count_as_the_thinner_gauge_beside_them(square, gauge):
    # ASTM B258: AWG 14 has 2.081 mm², AWG 12 has 3.309 mm².
    assert allowed_amperes(Conductor(area=square)) == AMPERES[gauge]


@pytest.mark.parametrize(("celsius", "share"), [(-10, 1), (30, 1), (35, 0.91), (40, 0.82), (45, 0.71), (50, 0.58)])
def test_warm_surroundings_take_their_share(celsius, share):
    # NEC table 310.15(B)(1), 60 °C insulation (from memory). Cold ones give nothing back.
    assert amperes(14, celsius) == pytest.approx(15 * share)
    assert amperes(14, 60) == 0


@pytest.mark.parametrize(("cables", "share"), [(1, 1), (2, 0.8), (3, 0.8), (4, 0.7), (5, 0.5), (10, 0.5), (30, 0.35)])
def test_bundled_cables_warm_each_other(cables, share):
    # NEC table 310.15(C)(1), two loaded conductors in each cable: 4-6 80 %, 7-9 70 %, 10-20 50 %, 41 and more 35 %
    # (from memory).
    assert amperes(14, 30, cables) == pytest.approx(15 * share)


def test_copper_clad_aluminium_carries_less_than_copper_of_its_gauge():
    clad = Conductor(ohms_per_metre=1.55 * ohms_per_metre(Conductor(gauge=14)))
    assert allowed_amperes(clad) == AMPERES[16]  # it resists nearly as AWG 16 does: 92 ** (4 / 39) = 1.59 times
    same = Conductor(ohms_per_metre=ohms_per_metre(Conductor(gauge=14)))
    assert allowed_amperes(same) == AMPERES[14]


@given(st.floats(0.01, 40), st.sampled_from(range(0, 31)))
def test_a_fuse_carries_the_load_for_hours_and_blows_before_the_wire_suffers(load, gauge):
    # NEC 210.20(A), 215.3: 125 % of a continuous load. ISO 8820-3: ratings of blade fuses (both from memory).
    allowed = amperes(gauge)
    rating = fuse_for(load, allowed)
    if rating is None:
        assert load > largest_load(allowed)
    else:
        assert rating in FUSES
        assert 1.25 * load <= rating + 1e-9
        assert rating <= allowed
        assert all(1.25 * load > less for less in FUSES if less < rating)


def test_the_ratings_of_blade_fuses():
    assert FUSES == (1, 2, 3, 4, 5, 7.5, 10, 15, 20, 25, 30, 40)
    assert fuse_for(4.0, 7.0) == 5.0
    assert fuse_for(4.1, 7.0) is None  # 7.5 A would be the next, above what AWG 18 may carry
    assert largest_load(0.8) == 0.0
