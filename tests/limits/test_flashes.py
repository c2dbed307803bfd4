"""Episodes of flashing on a house: when, where, how large, and which cue."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import films
import flashing
from eavesong.limits import Assumptions, flashes_of, limits, report_page, report_text
from eavesong.within.rig import rig_of
from powered import LINE

BEATS = "".join(f"{n * 0.5}\t{n % 4 + 1}\n" for n in range(40))
SECTIONS = "0.0\t20.0\tall\n"
SHOW = """
title = "Strobe"
[[cue]]
name = "Glow"
effect = "plain"
bars = [1, 3]
[[cue]]
name = "Strobe"
effect = "plain"
bars = [3, 5]
"""
PLAIN = 'title = "Plain"\nabout = "White."\ncode = """\nlevel = 1\ncolour = rgb(1, 1, 1)\n"""\n'
TEXTS = {"show": SHOW, "beats": BEATS, "sections": SECTIONS, "effect plain": PLAIN}


def blink(frames, changes, high=255):
    """(f,) grey that changes in these frames."""
    level = np.zeros(frames, np.uint8)
    for frame in changes:
        level[frame:] = high - level[frame:]
    return level


def on(pixels, level, count=100):
    """(f, channels): this grey on some of the pixels, the rest dark."""
    frames = np.zeros((len(level), count, 3), np.uint8)
    frames[:, pixels] = level[:, None, None]
    return frames.reshape(len(level), -1)


def test_six_transitions_pass_and_seven_fail(house, film):
    # WCAG 2.2, technique G19.
    layout = house()
    six, seven = blink(80, range(10, 46, 6)), blink(80, range(10, 52, 6))
    passing, failing = limits(layout, film(layout, six)), limits(layout, film(layout, seven))
    assert passing.flashes.passes
    assert passing.flashes.most_transitions == 6
    assert not failing.flashes.passes
    (episode,) = failing.flashes.episodes
    assert episode.transitions == 7
    assert episode.kinds == ("general",)
    assert episode.whole_display
    assert any(finding.about == "flashes" and not finding.warning for finding in failing.findings)
    assert any(finding.about == "flashes" and finding.warning for finding in passing.findings)


def test_one_small_pixel_fails_the_strict_reading_and_passes_where_areas_count(house, film):
    layout = house()
    frames = film(layout, on([40], blink(80, range(10, 52, 4))))
    strict, large = (limits(layout, frames, Assumptions(area=area)).flashes for area in (False, True))
    (episode,) = strict.episodes
    assert (episode.pixels, episode.props, episode.whole_display) == (1, ("eaves",), False)
    assert episode.square_metres == pytest.approx(0.01, rel=1e-5)  # 0.1 m by 0.1 m
    assert episode.steradians == pytest.approx(0.01 / 100, rel=1e-5)  # seen from 10 m
    assert large.passes


def test_a_large_area_fails_where_areas_count_and_passes_from_far_away(house, film):
    wall = LINE.replace('shape = "line"\nto = [10.0, 0.0]\npixels = 100',
                        'shape = "grid"\ncolumns = 10\nrows = 10\nwidth = 1\nheight = 1')  # fmt: skip
    layout = house(wall)
    # Two opposite halves, so that the mean of the display stays what it is; one half of 0.5 m² flashes, and the other.
    level = blink(80, range(10, 52, 4))
    frames = on(range(50), level) + on(range(50, 100), 255 - level)
    frames[0] = 0
    assert not limits(layout, film(layout, frames), Assumptions(area=True, distance=8)).flashes.passes
    assert limits(layout, film(layout, frames), Assumptions(area=True, distance=14)).flashes.passes
    assert not limits(layout, film(layout, frames), Assumptions(distance=14)).flashes.passes


def test_groups_in_turn_make_the_whole_display_flash(house, film):
    """Each pixel flashes twice in two seconds, the display as a whole eight times."""
    layout, frames = house(), np.zeros((90, 100, 3), np.uint8)
    for turn in range(8):
        frames[5 + 10 * turn : 10 + 10 * turn, turn % 4 :: 4] = 255
    report = limits(layout, film(layout, frames.reshape(90, 300)))
    (episode,) = report.flashes.episodes
    assert episode.whole_display
    assert episode.transitions == 8  # a change every five frames, eight in forty


def columns_in_turn(columns, rows, lone, groups, hertz, level=255):
    """Bytes (f, n, 3): the columns of ``films.screen`` in groups, each of which flashes ``hertz`` times a second."""
    frames = np.zeros((80, rows * columns + lone, 3), np.uint8)
    turn = np.tile(np.arange(columns) % groups, rows)
    on = (np.arange(80)[:, None] * hertz / 40 - turn / groups) % 1 < 0.5 / groups
    frames[:, : len(turn)] = level * on[..., None]
    return frames


@pytest.mark.parametrize(("groups", "hertz"), [(2, 2.9), (3, 2.5), (3, 2.8)])
def test_columns_of_a_screen_in_turn_flash_together(film, groups, hertz):
    """No column flashes more than three times a second, and the screen is too small a share of the whole display;
    what its columns add up to flashes up to 8.5 times. At the eye, the whole screen is some 25 degrees wide."""
    layout, frames = films.screen(22, 10, 1200), columns_in_turn(22, 10, 1200, groups, hertz)
    assert (flashing.changes(frames[:, :220] / 255.0, 40) <= 6).all()
    assert (flashing.changes(frames.mean(axis=1, keepdims=True) / 255.0, 40) <= 6).all()
    frames = film(layout, frames.reshape(80, -1))
    (episode,) = limits(layout, frames).flashes.episodes
    assert flashes_of(layout, frames).episodes == (episode,)  # alone they are the same
    assert (episode.part, episode.whole_display, episode.pixels >= 220) == (True, False, True)
    assert episode.props[0] == "screen"
    assert episode.transitions >= 2 * int(groups * hertz)
    assert not limits(layout, frames, Assumptions(area=True)).flashes.passes


def test_columns_in_turn_that_stay_below_a_tenth_together_pass(film):
    """Half of the screen at a time, each at less than a fifth of full light: the mean changes by less than a tenth."""
    layout = films.screen(22, 10, 1200)
    level = int(np.searchsorted(rig_of(layout).tables[0], 0.19)) - 1
    frames = columns_in_turn(22, 10, 1200, 2, 2.9, level)
    assert limits(layout, film(layout, frames.reshape(80, -1))).flashes.passes


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=12, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), kind=st.sampled_from(films.KINDS), distance=st.sampled_from([4.0, 10.0, 25.0]))
def test_the_verdict_on_a_film_is_that_of_the_count_by_brute_force(film, seed, kind, distance):
    """Pixels, parts of the view at two sizes, and the whole display, against tests/flashing.py."""
    layout = films.screen()
    frames = films.film(np.random.default_rng(seed), kind, layout.pixel_count, 36, 16.0)
    rig = rig_of(layout)
    light = rig.tables[rig.curves[:, None], frames[:, rig.places[:, :3]]]
    report = limits(layout, film(layout, frames, 16.0), Assumptions(distance=distance))
    assert report.flashes.passes == flashing.passes(light, 16, layout, distance)


@pytest.mark.parametrize("before", [(0, 255, 0), (255, 0, 0), (0, 0, 0)])
def test_red_and_violet_in_turn_fail_whatever_came_before(house, film, before):
    """WCAG 2.2, red flash: R/(R+G+B) of the orange-red is 0.81, the violet is 0.27 away in u'v'. Bytes are linear."""
    layout, frames = house(), np.zeros((120, 100, 3), np.uint8)
    frames[:40] = before
    orange, violet = (255, 60, 0), (128, 0, 255)
    for frame in range(40, 120):
        frames[frame] = orange if int((frame - 40) * 13 / 40) % 2 == 0 else violet
    report = limits(layout, film(layout, frames.reshape(120, -1)))
    assert any("red" in episode.kinds for episode in report.flashes.episodes)
    assert report.flashes.most_transitions >= 13


def test_an_episode_names_its_time_bar_and_cue(house, film):
    layout = house()
    frames = np.zeros(800, np.uint8)
    frames[200:260] = blink(60, range(0, 60, 3))  # 5.0 s to 6.5 s; bars of 2 s
    (episode,) = limits(layout, film(layout, frames, **TEXTS)).flashes.episodes
    assert 4.0 <= episode.start.seconds <= 5.0 < episode.end.seconds <= 7.5
    assert episode.end.bar.startswith("4.")
    assert episode.start.cues == ("cue 2 'Strobe'",)


def test_two_bursts_far_apart_are_two_episodes(house, film):
    layout, burst = house(), blink(40, range(0, 40, 3))
    frames = np.zeros(400, np.uint8)
    frames[20:60], frames[300:340] = burst, burst
    assert len(limits(layout, film(layout, frames)).flashes.episodes) == 2


def test_red_that_is_too_dim_for_a_general_flash_is_a_red_flash(house, film):
    layout, frames = house(), np.zeros((80, 100, 3), np.uint8)
    frames[:, :, 0] = blink(80, range(10, 52, 6), high=60)[:, None]  # luminance 0.05
    (episode,) = limits(layout, film(layout, frames.reshape(80, 300))).flashes.episodes
    assert episode.kinds == ("red",)


def test_three_flashes_and_a_half_fail_by_both_standards(house, film):
    """ITU-R BT.1702 allows three flashes in a second: seven changes are three and a half, which sequences labelled
    for broadcast fail, as WCAG 2.2 G19 does. The stricter decides, so both read it so."""
    layout = house()
    six, seven = (limits(layout, film(layout, blink(80, range(10, end, 5)))).flashes for end in (40, 45))
    assert (six.most_transitions, six.broadcast_passes, six.passes) == (6, True, True)
    assert (seven.most_transitions, seven.broadcast_passes, seven.passes) == (7, False, False)
    assert seven.broadcast_share == 1.0


@pytest.mark.parametrize("across", [1, 2, 3, 5, 7, 9])
def test_squares_that_flash_are_large_by_the_solid_angle_they_fill(film, across):
    """WCAG 2.2: no more than 0.006 sr within any field of 10 degrees. Squares of 0.2 m pixels, seen from 5 to 20 m, by
    little more than a tenth, so that no part of the view does what its pixels do unless it is full of them."""
    layout = films.screen(22, 10, 1200)
    frames = np.zeros((80, layout.pixel_count, 3), np.uint8)
    square = (np.arange(across)[:, None] * 22 + np.arange(across)).ravel()
    level = int(np.searchsorted(rig_of(layout).tables[0], 0.105))
    frames[:, square] = blink(80, range(10, 50, 5), level)[:, None, None]  # eight changes in a second
    opened, area = film(layout, frames.reshape(80, -1)), (0.2 * across) ** 2
    assert not limits(layout, opened).flashes.passes  # by default no area is too small
    for distance in (5.0, 10.0, 20.0):
        if abs(area / distance**2 / 0.006 - 1) > 0.1:
            seen = limits(layout, opened, Assumptions(area=True, distance=distance)).flashes
            assert seen.passes == (area / distance**2 < 0.006)


def test_broadcast_is_told_where_the_other_standard_was_chosen(house, film):
    """Half of a small display far away is no large area by WCAG 2.2, and more than a quarter of it by BT.1702."""
    layout = house()
    frames = on(range(50), blink(80, range(10, 60, 4), high=45))  # the mean stays below a tenth
    report = limits(layout, film(layout, frames), Assumptions(area=True, distance=100.0))
    assert report.flashes.passes
    assert [finding.warning for finding in report.findings if "50% of the display" in finding.found] == [True]


def test_a_quarter_of_the_display_may_flash_where_areas_count(house, film):
    # ITU-R BT.1702: a quarter of the screen.
    layout, level = house(), blink(80, range(10, 60, 4))
    fields = {"area": True, "distance": 1000.0}
    for pixels, passes in ((24, True), (26, False)):
        frames = on(range(pixels), level) // 3  # a third of a quarter: the mean stays below a tenth
        assert limits(layout, film(layout, frames), Assumptions(**fields)).flashes.broadcast_passes == passes


def test_long_flashing_within_the_limit_is_told(house, film):
    # ITU-R BT.1702: more than 5 s may be a risk although the limit is kept. Three flashes a second.
    layout = house()
    for seconds, told in ((5, False), (8, True)):
        frames = blink(40 * seconds + 40, [int(n * 40 / 6) for n in range(6 * seconds)])
        report = limits(layout, film(layout, frames))
        assert report.flashes.passes
        assert (report.flashes.longest > 5) == told
        assert any("goes on" in finding.found for finding in report.findings) == told


def test_the_show_can_allow_flashes_and_the_report_warns(house, film):
    layout, frames = house(), blink(80, range(10, 52, 3))
    allowed = limits(layout, film(layout, frames, show="allow_flashes = true\n" + SHOW))
    assert not allowed.flashes.passes
    assert allowed.flashes.allowed
    told = [finding for finding in allowed.findings if finding.about == "flashes"]
    assert told
    assert all(finding.warning for finding in told)
    assert "warn everyone" in str(told[0])
    for written in (report_text(allowed), report_page(allowed)):
        assert "This show may flash more than three times a second." in written


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=8)
@given(seed=st.integers(0, 10_000), busy=st.floats(0.05, 0.9))
def test_what_the_strict_reading_passes_every_looser_one_passes(house, film, seed, busy):
    random = np.random.default_rng(seed)
    layout, changes = house(), random.random((60, 100)) < busy
    frames = np.repeat(np.cumsum(changes, axis=0) % 2 * 200, 3, axis=1).astype(np.uint8)
    opened = film(layout, frames)
    for distance in (3.0, 30.0):
        strict, large = (
            limits(layout, opened, Assumptions(area=area, distance=distance)).flashes for area in (False, True)
        )
        assert large.passes or not strict.passes
