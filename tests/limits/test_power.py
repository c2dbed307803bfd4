"""Currents and watts: from frames, at full white, and what they cost."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from eavesong.layout.kinds import GENERIC
from eavesong.limits import Assumptions, limits, supply_findings
from eavesong.limits.circuits import WireFinder
from eavesong.limits.limits import amperes_of
from eavesong.within.rig import rig_of
from powered import LINE

CHAIN = '["eaves", { prop = "gable", pixel_type = "twelve" }]'

FED = """
[[supply]]
name = "one"
volts = 5
watts = 20
[[supply.feed]]
controller = "box"
output = 1
pixels = [1, 60]
lead = { gauge = 16, length = 2 }
inject = [{ prop = "eaves", pixel = 60, lead = { gauge = 16, length = 4 } }]
[[supply]]
name = "two"
volts = 5
watts = 30
usable = 0.9
efficiency = 0.5
[[supply.feed]]
controller = "box"
output = 1
pixels = [61, 100]
"""


@pytest.mark.parametrize(
    ("kind", "amperes", "watts"),
    [
        ("5 V, 20 mA", 0.060, 0.30),  # rule of thumb: 3 x 20 mA
        ("5 V, 18.5 mA", 0.0555, 0.28),  # WS2811 datasheet, 18.5 mA at each output, one LED
        ("12 V, 18.5 mA", 0.0555, 0.67),  # the same, three LEDs in series
        ("5 V, 12 mA", 0.036, 0.18),  # WS2812B-V5, from secondary texts
    ],
)
def test_generic_pixels_draw_what_datasheets_say(kind, amperes, watts):
    assert sum(GENERIC[kind].amperes[:3]) == pytest.approx(amperes)
    assert sum(GENERIC[kind].amperes[:3]) * GENERIC[kind].volts == pytest.approx(watts, abs=0.0051)


def test_a_lead_that_names_its_wire_alone_is_as_long_as_the_way(house):
    """Some 3 m along the line: as one that names nothing, of another wire."""
    fed = FED.replace('name = "two"\n', 'name = "two"\nat = [3, 0, 0]\n')
    assumed, (_, plain) = Assumptions(), house(LINE + fed).power.supplies
    (_, named) = house(LINE + fed + "lead = { gauge = 12, bundled = 3 }\n").power.supplies
    finder = WireFinder(house(LINE + fed), assumed)
    (one,), (other,) = (finder.points(supply, supply.feeds[0]) for supply in (plain, named))
    assert other.metres == one.metres > 3
    assert (other.wire.gauge, other.cables, other.measured) == (12, 3, False)
    assert one.wire.gauge != 12


def test_full_white_share_and_dark_of_a_hundred_pixels(house):
    # 100 pixels of 60 mA and 1 mA at 5 V.
    power = limits(house()).power
    assert power.house.full == pytest.approx(100 * 0.061 * 5)
    assert power.house.share == pytest.approx(100 * (0.001 + 0.3 * 0.060) * 5)
    assert power.house.idle == pytest.approx(100 * 0.001 * 5)
    assert power.house.peak is None
    assert power.unfed_pixels == 100


def test_pixels_of_two_voltages_on_a_string_that_nobody_feeds_draw_at_their_own(house):
    """50 pixels of 61 mA at 5 V and 50 at 12 V: 15.25 and 36.6 W; no positive joins them."""
    twelve = '[[pixel_type]]\nname = "twelve"\nvolts = 12\namperes = [0.02, 0.02, 0.02]\n'
    more = '[[prop]]\nname = "gable"\nshape = "line"\nfrom = [6, 0]\nto = [11, 0]\npixels = 50\n'
    text = LINE.replace("pixels = 100", "pixels = 50").replace('["eaves"]', CHAIN)
    report = limits(house(text.replace("[[controller]]", more + "[[controller]]", 1) + twelve))
    assert report.power.house.full == pytest.approx(15.25 + 36.6)
    assert [(voltage.volts, voltage.circuit) for voltage in report.voltages] == [
        (5, "box, output 1, pixels 1 to 50"), (12, "box, output 1, pixels 51 to 100"),
    ]  # fmt: skip
    (cut,) = report.cuts
    assert (cut.before, cut.after) == (("eaves", 50), ("gable", 1))


def test_a_supply_that_frames_ask_for_too_much_is_told_at_a_glance(house, film):
    """60 pixels of 61 mA at 5 V, 18.3 W, of a supply that 16 W are planned with; the other one bears its 40."""
    layout = house(LINE + FED)
    bright = np.array([0, 128, 255, 128], np.uint8)
    (found,) = supply_findings(layout, film(layout, bright))
    assert not found.warning
    assert found.found == "supply 'one' is asked for 18 W or more, as at 0:00.05; 16 W of its 20 W are planned with"
    assert supply_findings(layout, film(layout, np.minimum(bright, 128))) == ()
    assert supply_findings(house(LINE), film(house(LINE), bright)) == ()


def test_each_supply_bears_its_own_stretch(house):
    power = limits(house(LINE + FED)).power
    assert [load.pixels for load in power.supplies] == [60, 40]
    assert [load.full for load in power.supplies] == pytest.approx([60 * 0.061 * 5, 40 * 0.061 * 5])
    assert [load.usable for load in power.supplies] == pytest.approx([16, 27])
    assert power.unfed_pixels == 0


def test_the_peak_is_found_in_its_frame_and_the_mean_over_all(house, film):
    frames = np.zeros(100, np.uint8)
    frames[30:40] = 102  # 0.4 of full drive
    frames[70] = 255
    power = limits(house(LINE + FED), film(house(LINE + FED), frames)).power
    assert power.house.peak == pytest.approx(100 * 0.061 * 5)
    assert power.house.worst.seconds == pytest.approx(70 / 40)
    assert power.house.worst.clock == "0:01.75"
    assert power.house.mean == pytest.approx(100 * 5 * (0.001 + 0.060 * (10 * 0.4 + 1) / 100))
    assert power.supplies[0].peak == pytest.approx(60 * 0.061 * 5)
    assert power.pixel.peak_amperes == pytest.approx(0.061)
    assert len(power.house.curve) == 100
    assert max(power.house.curve) == pytest.approx(30.5)


def test_energy_of_a_song_and_a_season(house, film):
    """Half the house by a supply of half the efficiency: 1 W there is 2 W from the mains."""
    layout = house(LINE + FED)
    assumed = Assumptions(hours=5, nights=40, tariff=0.25)
    energy = limits(layout, film(layout, np.full(400, 255)), assumed).power.energy
    mains = 60 * 0.061 * 5 / 0.85 + 40 * 0.061 * 5 / 0.5
    assert energy.mean_watts == pytest.approx(mains)
    assert energy.song_watt_hours == pytest.approx(mains * 10 / 3600)
    assert energy.season_kwh == pytest.approx(mains * 200 / 1000)
    assert energy.season_cost == pytest.approx(mains * 0.2 * 0.25)


def test_colours_draw_their_own_currents_in_any_order(house):
    text = LINE.replace("5 V, 20 mA", "own").replace("number = 1", 'number = 1\norder = "GRB"')
    kind = '[[pixel_type]]\nname = "own"\nvolts = 5\namperes = [0.01, 0.02, 0.03]\nidle = 0.002\n'
    rig = rig_of(house(text + kind))
    frame = np.zeros(300, np.uint8)
    frame[[0, 4, 8]] = 255  # green of the first pixel, red of the second, blue of the third
    assert amperes_of(rig, frame)[:4] == pytest.approx([0.022, 0.012, 0.032, 0.002])
    assert rig.full == pytest.approx(np.full(100, 0.062))


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=25)
@given(seed=st.integers(0, 1000), k=st.integers(1, 5))
def test_scaling_all_drive_scales_the_current_above_idle(house, seed, k):
    rig = rig_of(house())
    frame = np.random.default_rng(seed).integers(0, 51, 300).astype(np.uint8)
    idle = rig.idle.astype(float)
    above = amperes_of(rig, frame) - idle
    assert amperes_of(rig, frame * np.uint8(k)) - idle == pytest.approx(k * above, abs=1e-7)


def test_the_streamed_figures_are_those_of_all_frames_at_once(house, film):
    layout = house(LINE + FED)
    frames = np.random.default_rng(2).integers(0, 256, (700, 300), dtype=np.uint8)
    rig, report = rig_of(layout), limits(layout, film(layout, frames))
    amperes = np.array([amperes_of(rig, frame) for frame in frames])
    watts = 5 * amperes.sum(axis=1)
    assert report.power.house.peak == pytest.approx(watts.max(), rel=1e-6)
    assert report.power.house.mean == pytest.approx(watts.mean(), rel=1e-6)
    assert report.power.house.worst.seconds == pytest.approx(watts.argmax() / 40)
    assert report.power.supplies[1].peak == pytest.approx(5 * amperes[:, 60:].sum(axis=1).max(), rel=1e-6)
    assert report.power.pixel.mean_amperes == pytest.approx(amperes.mean(axis=0).max(), rel=1e-5)
    assert len(report.power.house.curve) <= 600


def test_brightness_is_in_the_frames_and_not_in_full_white(house):
    dim = LINE.replace("number = 1", "number = 1\nbrightness = 0.5")
    assert limits(house(dim)).power.house.full == limits(house()).power.house.full


def test_a_draft_without_controllers_has_a_circuit_for_each_prop(house):
    report = limits(
        house('title = "Draft"\n[[prop]]\nname = "a"\nshape = "spot"\n[[prop]]\nname = "b"\nshape = "spot"\n')
    )
    assert [voltage.circuit for voltage in report.voltages] == ["a", "b"]
    assert report.data.outputs == ()
