"""Copper by gauge and temperature, against printed wire tables."""

import pytest

from eavesong.layout.kinds import Conductor
from eavesong.limits import copper

FOOT = 0.3048
TABLE = [
    # AWG, mil, mm², ohm per 1000 ft at 20 °C and at 75 °C: Smithsonian Physical Tables, table 420 (10 to 20);
    # HyperPhysics wire gauge table (22, 24 at 20 °C); areas from ASTM B258.
    (10, 101.9, 5.261, 0.9989, 1.215),
    (12, 80.81, 3.309, 1.588, 1.931),
    (14, 64.08, 2.081, 2.525, 3.071),
    (16, 50.82, 1.309, 4.016, 4.884),
    (18, 40.30, 0.823, 6.385, 7.765),
    (20, 31.96, 0.518, 10.15, 12.35),
    (22, 25.35, 0.326, 16.14, None),
    (24, 20.10, 0.205, 25.67, None),
]


@pytest.mark.parametrize(("gauge", "mil", "square", "cold", "warm"), TABLE)
def test_gauges_have_the_sizes_and_resistances_of_printed_tables(gauge, mil, square, cold, warm):
    solid = Conductor(gauge=gauge, copper="solid")
    assert copper.diameter(gauge) / 0.0254 == pytest.approx(mil, rel=3e-4)
    assert copper.area(gauge) == pytest.approx(square, abs=6e-4)
    assert copper.ohms_per_metre(solid) * 1000 * FOOT == pytest.approx(cold, rel=6e-4)
    if warm:
        assert copper.ohms_per_metre(solid, 75) * 1000 * FOOT == pytest.approx(warm, rel=6e-4)


def test_neighbouring_gauges_differ_by_the_39th_root_of_92():
    # ASTM B258
    assert copper.diameter(17) / copper.diameter(18) == pytest.approx(1.1229322, abs=1e-7)


def test_stranded_wire_resists_two_percent_more():
    # NEC chapter 9, table 8, 18 AWG at 75 °C: 7.77 solid, 7.95 stranded ohm per 1000 ft (from memory).
    stranded = copper.ohms_per_metre(Conductor(gauge=18), 75) * 1000 * FOOT
    assert stranded == pytest.approx(7.95, rel=0.006)


def test_wire_can_be_given_by_its_area_or_its_resistance():
    # IACS: 1/58 ohm for a metre of one square millimetre.
    assert copper.ohms_per_metre(Conductor(area=1.0, copper="solid")) == pytest.approx(1 / 58)
    assert copper.ohms_per_metre(Conductor(ohms_per_metre=0.05), 20) == pytest.approx(0.05)
    assert copper.ohms_per_metre(Conductor(ohms_per_metre=0.05), 70) == pytest.approx(0.05 * 1.1965)


@pytest.mark.parametrize(("celsius", "volts"), [(20, 0.766), (75, 0.932)])
def test_the_drop_of_a_lead_at_twelve_volts(celsius, volts):
    # Textbook loop formula on the table above: 3 A, 20 ft one way, 18 AWG solid.
    drop = 3 * copper.loop_ohms(Conductor(gauge=18, copper="solid"), 20 * FOOT, celsius)
    assert drop == pytest.approx(volts, abs=6e-4)


def test_the_worked_example_of_a_licence_course():
    # 20 A, 100 ft one way, 12 AWG: 7.72 V at 75 °C and 6.35 V at 20 °C from table values. The rule of the trade,
    # 2 * 12.9 * I * L / cmil, gives 7.90 V, a little on the safe side.
    wire = Conductor(gauge=12, copper="solid")
    assert 20 * copper.loop_ohms(wire, 100 * FOOT, 75) == pytest.approx(7.72, abs=0.01)
    assert 20 * copper.loop_ohms(wire, 100 * FOOT, 20) == pytest.approx(6.35, abs=0.01)
    assert 20 * copper.loop_ohms(wire, 100 * FOOT, 75) < 2 * 12.9 * 20 * 100 / 6530
