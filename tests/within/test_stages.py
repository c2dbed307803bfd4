"""Staying inside: the limiter and softening, alone and together, on frames that need them and frames that do not."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

import films
import flashing
from eavesong.errors import LayoutError
from eavesong.limits.meter import Watch, measure
from eavesong.within.eyes import eyes_of
from eavesong.within.limiter import ATTACK, HOLD, RELEASE, Limiter, SmoothGains, parse_limit
from eavesong.within.rig import rig_of
from eavesong.within.soften import Softener
from eavesong.within.stages import Within, within
from support import line, points

HOUSE = points(line(40))
RIG = rig_of(HOUSE)
FULL = 40 * 5 * 0.061
"""Watts of 40 pixels of 60 mA and 1 mA at 5 V."""


def through(stages: Within, frames, sizes=(16,)):
    """What becomes of all frames (f, channels), handed over in blocks of these sizes in turn."""
    edges = [0]
    for size in itertools.cycle(sizes):
        edges.append(min(edges[-1] + size, len(frames)))
        if edges[-1] == len(frames):
            break
    blocks = (stages.measured(frames[a:b]) for a, b in itertools.pairwise(edges))
    return np.concatenate([stages.finished(part) for part in stages.pass_through(blocks, 0, len(frames), 16)])


def watts(frames):
    """(f,) of the whole house."""
    return 5 * (40 * 0.001 + frames.astype(np.float64).sum(axis=1) * 0.020 / 255)


def most_transitions(frames, rate=40.0, rig=RIG):
    """The most in any second, of any place or of the display."""
    watch = Watch(eyes_of(HOUSE, rig, rate))
    measure([frames], (watch,), lambda seen: None)
    return watch.eyes.most


def noise(seed, frames=160, busy=0.3, pixels=40):
    """Pixels that jump to other colours at random."""
    random = np.random.default_rng(seed)
    jumps = random.random((frames, pixels, 1)) < busy
    colours = random.integers(0, 256, (frames, pixels, 3))
    held = np.maximum.accumulate(np.where(jumps, np.arange(frames)[:, None, None], 0), axis=0)
    return (
        np.take_along_axis(colours, np.broadcast_to(held, colours.shape), axis=0).astype(np.uint8).reshape(frames, -1)
    )


# --- the limiter -----------------------------------------------------------------------------------------------------


@settings(max_examples=20)
@given(seed=st.integers(0, 10_000), share=st.floats(0.02, 1.2))
def test_no_frame_is_above_the_limit_and_none_is_brightened(seed, share):
    frames = noise(seed)
    limit = 5 * 40 * 0.001 + share * 5 * 40 * 0.06
    out = through(within(HOUSE, 40.0, [f"house:{limit:.4f}W"], False), frames)
    assert watts(out).max() <= limit + 1e-4
    assert (out <= frames).all()


def test_where_nothing_exceeds_not_a_byte_changes():
    frames = noise(1)
    assert np.array_equal(through(within(HOUSE, 40.0, [f"house:{watts(frames).max() + 0.01}W"], False), frames), frames)


def test_frames_far_from_a_peak_keep_their_bytes():
    frames = np.full((1200, 120), 60, np.uint8)
    frames[600:620] = 255
    out = through(within(HOUSE, 40.0, [f"house:{FULL / 2}W"], False), frames)
    changed = np.flatnonzero((out != frames).any(axis=1))
    assert 600 - ATTACK * 40 - 1 <= changed[0] <= 600
    assert 619 <= changed[-1] <= 619 + (HOLD + RELEASE) * 40 + 1


def test_the_gain_is_smooth_and_does_not_follow_the_beat():
    """Peaks twice a second (120 beats a minute): after the first one the gain stands still until the last is over."""
    envelope = SmoothGains(1, 40.0)
    allowed = np.ones((600, 1))
    allowed[100:400:20] = 0.5
    envelope.take(allowed)
    gains = envelope.ready(600)[:, 0]
    assert (gains <= allowed[:, 0]).all()
    assert np.diff(gains).min() >= -1 / (ATTACK * 40) - 1e-12
    assert np.diff(gains).max() <= 1 / (RELEASE * 40) + 1e-12
    assert np.ptp(gains[100:380]) == 0
    assert gains[0] == gains[-1] == 1


@pytest.mark.parametrize("sizes", [(1,), (7,), (64, 3), (160,)])
def test_blocks_change_nothing(sizes):
    frames = noise(2)
    limits = ["house:5W"]
    whole = through(within(HOUSE, 40.0, limits, True), frames)
    assert np.array_equal(through(within(HOUSE, 40.0, limits, True), frames, sizes), whole)


@pytest.mark.parametrize("soften", [False, True])
@pytest.mark.parametrize(("first", "count"), [(0, 100), (37, 90), (700, 100), (333, 1)])
def test_any_range_has_the_bytes_of_the_whole(soften, first, count):
    frames = noise(3, frames=800)
    frames[:300] //= 4
    stages = within(HOUSE, 40.0, ["house:7W"], soften)
    begin, needed = stages.around(first, count, len(frames))
    block = stages.measured(frames[begin : begin + needed])
    parts = [stages.finished(part) for part in stages.pass_through([block], first - begin, count, 16)]
    assert {len(part) for part in parts[:-1]} <= {16}
    assert np.array_equal(
        np.concatenate(parts), through(within(HOUSE, 40.0, ["house:7W"], soften), frames)[first : first + count]
    )


TWO_OUTPUTS = """\
title = "Two outputs"
[[prop]]
name = "a"
shape = "line"
to = [1, 0]
pixels = 10
[[prop]]
name = "b"
shape = "line"
to = [1, 0]
at = [0, 1]
pixels = 30
[[controller]]
name = "box"
[[controller.output]]
number = 1
chain = ["a"]
[[controller.output]]
number = 2
order = "GRB"
chain = ["b"]
[[supply]]
name = "one"
volts = 5
watts = 5
[[supply.feed]]
controller = "box"
output = 2
"""


@pytest.fixture(scope="module")
def two(tmp_path_factory):
    from eavesong.layout import load_layout

    path = tmp_path_factory.mktemp("two") / "two.toml"
    path.write_text(TWO_OUTPUTS)
    return load_layout(path)


def test_each_supply_has_its_own_limit(two):
    """Four fifths of 5 W; what no supply feeds is left alone."""
    frames = np.full((80, 120), 255, np.uint8)
    out = through(within(two, 40.0, ["supply"], False), frames)
    assert np.array_equal(out[:, :30], frames[:, :30])
    drawn = 5 * (30 * 0.001 + out[:, 30:].astype(float).sum(axis=1) * 0.020 / 255)
    assert drawn.max() <= 4.0
    assert drawn.min() > 3.9


def test_a_limit_on_supplies_tells_of_pixels_that_none_feeds(two):
    """Ten of forty; a limit on the house reaches all of them."""
    told = within(two, 40.0, ["supply"], False).notes(40.0)
    assert told[-1] == "10 pixels are not limited: no supply of the layout feeds them"
    assert not any("no supply" in note for note in within(two, 40.0, ["house:50W"], False).notes(40.0))


def test_watts_are_those_of_the_supply_that_feeds(tmp_path):
    """A supply turned up to 5.4 V gives its 4 W at fewer amperes; the report says the same."""
    from eavesong.frames import FramesWriter, describe, encode_frames, open_frames
    from eavesong.layout import load_layout
    from eavesong.limits import limits

    (tmp_path / "up.toml").write_text(TWO_OUTPUTS.replace("volts = 5\n", "volts = 5.4\n"))
    up = load_layout(tmp_path / "up.toml")
    out = through(within(up, 40.0, ["supply"], False), np.full((80, 120), 255, np.uint8))
    with FramesWriter(tmp_path / "up.h5", description=describe(up, title="Up", frame_rate=40), frame_count=80) as file:
        file.append(encode_frames(out, file.chunk_frames))
    with open_frames(tmp_path / "up.h5") as frames:
        assert 3.9 < limits(up, frames).power.supplies[0].peak <= 4.0


def test_limits_of_several_kinds_all_hold_and_the_strictest_decides(two):
    frames = np.full((80, 120), 255, np.uint8)
    out = through(within(two, 40.0, ["output:0.4A", "house:3W", "supply"], False), frames)
    watts_of = [5 * (n * 0.001 + part.astype(float).sum(axis=1).max() * 0.020 / 255)
                for n, part in ((10, out[:, :30]), (30, out[:, 30:]))]  # fmt: skip
    assert max(watts_of) <= 2.0
    assert sum(watts_of) <= 3.0
    assert sum(watts_of) > 2.5


@pytest.mark.parametrize(
    ("text", "found"),
    [("hose:100W", "Write house:100W"), ("supply=200", "Write supply:200W"), ("house=1,5 kW", "Write house:1500W"),
     ("fuse:100W", "'fuse' cannot be limited"), ("500W", "'500W' does not say what it limits"),
     ("house", "'house' says no amount"), ("house:100", "Write house:100W"),
     ("house:-3W", "'-3W' is no amount"), ("house:0W", "'0W' is no amount"), ("output:4V", "'4V' is no amount")],
)  # fmt: skip
def test_limits_that_cannot_be_read_are_told(text, found):
    with pytest.raises(LayoutError, match=found):
        parse_limit(text)


def test_limits_that_cannot_be_kept_are_told(two):
    with pytest.raises(LayoutError, match="the layout has no supply to limit"):
        within(HOUSE, 40.0, ["supply"], False)
    with pytest.raises(LayoutError, match="'Test house' draws more than its limit even in the dark"):
        within(HOUSE, 40.0, ["house:0.1W"], False)
    with pytest.raises(LayoutError, match="'hose:1W'") as told:
        within(two, 40.0, ["hose:1W", "house:x"], False)
    assert len(told.value.problems) == 2


# --- softening -------------------------------------------------------------------------------------------------------


def strobe(frames=240, period=3, level=255):
    """The whole house on and off."""
    on = (np.arange(frames) // period) % 2
    return np.repeat((on * level).astype(np.uint8)[:, None], 120, axis=1)


SCREEN = films.screen()
FROM = {distance: replace(SCREEN, watched_from=distance) for distance in (3.0, 10.0, 40.0)}
"""The screen, watched from so many metres."""


def light_of(house, frames):
    """Linear light (f, n, 3) of frames (f, channels)."""
    rig = rig_of(house)
    return rig.tables[rig.curves[:, None], frames[:, rig.places[:, :3]]]


@settings(max_examples=18, deadline=None)
@given(
    seed=st.integers(0, 2**32 - 1), kind=st.sampled_from(films.KINDS), house=st.sampled_from([HOUSE, *FROM.values()]),
    share=st.sampled_from([None, 0.1, 0.3, 0.6, 0.9]),
)  # fmt: skip
@example(seed=1669, kind="dim reds", house=SCREEN, share=0.6)  # hardly lit parts of the view, red and neutral in turn
def test_what_was_dimmed_and_softened_is_within_both_limits(seed, kind, house, share):
    """Against the count by brute force in tests/flashing.py, and the watts of the bytes; dim reds among the films."""
    frames = films.film(np.random.default_rng(seed), kind, house.pixel_count, 40, 16.0)
    full, idle = (5 * float(part.sum()) for part in (rig_of(house).full, rig_of(house).idle))
    watts_allowed = 0.0 if share is None else idle + share * (full - idle)
    out = through(within(house, 16.0, [f"house:{watts_allowed:.6f}W"] if share else [], True), frames)
    assert flashing.passes(light_of(house, out), 16, house, house.watched_from)
    if share is None:
        assert flashing.passes(light_of(house, frames), 16, house, house.watched_from) <= np.array_equal(out, frames)
    else:
        drawn = 5 * (out.astype(np.float64) @ rig_of(house).channel_amperes()) + idle
        assert drawn.max() <= watts_allowed + 1e-4


def test_flashes_that_dimming_uncovers_are_softened():
    """From white to 0.8 of it and back changes nothing that counts (WCAG 2.2: the darker state is not below 0.8);
    at three quarters of that it does. So the limit comes first, and softening sees what it left."""
    frames = np.where((np.arange(160) // 2 % 2 == 0)[:, None], 255, 205).astype(np.uint8).repeat(120, axis=1)
    assert flashing.passes(light_of(HOUSE, frames), 40)
    limits = [f"house:{FULL * 0.75}W"]
    assert not flashing.passes(light_of(HOUSE, through(within(HOUSE, 40.0, limits, False), frames)), 40)
    out = through(within(HOUSE, 40.0, limits, True), frames)
    assert flashing.passes(light_of(HOUSE, out), 40)
    assert watts(out).max() <= FULL * 0.75


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 10_000), amperes=st.integers(50, 500).map(lambda milliamperes: milliamperes / 1000))
def test_softening_brightens_nothing_above_the_limit_of_an_output(two, seed, amperes):
    """A strobe on one output beside noise on the other: what is drawn towards its mean is brighter than it was."""
    frames = noise(seed, frames=100)
    frames[:, :30] = strobe(100)[:, :30]
    out = through(within(two, 40.0, [f"output:{amperes}A", "house:3W"], True), frames)
    drawn = np.stack([part.astype(np.float64).sum(axis=1) * 0.020 / 255 for part in (out[:, :30], out[:, 30:])])
    drawn += np.array([[0.010], [0.030]])  # 1 mA of each dark pixel
    assert drawn.max() <= amperes + 1e-5
    assert 5 * drawn.sum(axis=0).max() <= 3.0 + 1e-4


@pytest.mark.parametrize("rate", [20.0, 25.0, 29.97, 40.0, 60.0])
def test_a_strobe_becomes_a_glow_of_its_mean(rate):
    frames = strobe()
    out = through(within(HOUSE, rate, [], True), frames)
    assert most_transitions(frames, rate) > 6
    assert most_transitions(out, rate) <= 6
    middle = out[100:140].astype(float)
    assert middle.mean() == pytest.approx(127.5, abs=15)
    assert np.ptp(middle) < 0.1 * 255


def test_what_does_not_flash_is_left_alone():
    frames = strobe(period=7)  # 40/7 changes a second
    assert most_transitions(frames) <= 6
    assert np.array_equal(through(within(HOUSE, 40.0, [], True), frames), frames)
    slow = np.repeat((128 + 127 * np.sin(np.arange(400) / 10)).astype(np.uint8)[:, None], 120, axis=1)
    assert np.array_equal(through(within(HOUSE, 40.0, [], True), slow), slow)


def test_only_the_places_that_flash_are_softened():
    frames = np.full((240, 40, 3), 90, np.uint8)
    frames[80:160, 7] = strobe(80).reshape(80, 40, 3)[:, 0]
    out = through(within(HOUSE, 40.0, [], True), frames.reshape(240, -1)).reshape(240, 40, 3)
    assert np.array_equal(np.delete(out, 7, axis=1), np.delete(frames, 7, axis=1))
    assert not np.array_equal(out[:, 7], frames[:, 7])
    assert np.array_equal(out[:20], frames[:20])


def test_groups_in_turn_are_softened_as_a_whole():
    """No place flashes too often, the mean of the display does."""
    frames = np.zeros((160, 40, 3), np.uint8)
    for turn in range(16):
        frames[10 * turn : 10 * turn + 5, turn % 4 :: 4] = 255
    frames = frames.reshape(160, -1)
    assert most_transitions(frames) > 6
    assert most_transitions(through(within(HOUSE, 40.0, [], True), frames)) <= 6


def test_red_flashes_are_softened():
    frames = np.zeros((160, 40, 3), np.uint8)
    frames[..., 0] = 70 * ((np.arange(160) // 3) % 2)[:, None]
    frames = frames.reshape(160, -1)
    assert most_transitions(frames) > 6
    assert most_transitions(through(within(HOUSE, 40.0, [], True), frames)) <= 6


def test_columns_of_a_screen_in_turn_are_softened():
    """No pixel flashes too often, nor the display; a part of the view does."""
    frames = np.zeros((120, SCREEN.pixel_count, 3), np.uint8)
    turn = np.tile(np.arange(14) % 2, 6)
    frames[:, :84] = 160 * ((np.arange(120)[:, None] * 2.9 / 40 - turn / 2) % 1 < 0.25)[..., None]
    assert flashing.passes(light_of(SCREEN, frames.reshape(120, -1)), 40)
    assert not flashing.passes(light_of(SCREEN, frames.reshape(120, -1)), 40, SCREEN)
    out = through(within(SCREEN, 40.0, [], True), frames.reshape(120, -1))
    assert flashing.passes(light_of(SCREEN, out), 40, SCREEN)
    assert not out.reshape(120, -1, 3)[:, 84:].any()


def test_softening_looks_from_where_the_house_is_watched():
    """Columns of a small screen in turn: from 4 m it fills a field of 5 degrees, from 10 m it is too little of one."""
    x, y = np.meshgrid(np.arange(4) * 0.08, np.arange(4) * 0.08)
    screen = np.stack([x.ravel(), y.ravel(), np.zeros(16)], axis=1)
    row = np.stack([3 + np.arange(80) * 0.2, np.zeros(80), np.zeros(80)], axis=1)
    near, usual = (replace(points({"screen": screen, "row": row}), watched_from=metres) for metres in (4.0, 10.0))
    frames, turn = np.zeros((120, 96, 3), np.uint8), np.tile(np.arange(4) % 2, 4)
    level = int(np.searchsorted(RIG.tables[0], 0.27))
    frames[:, :16] = level * ((np.arange(120)[:, None] * 2.9 / 40 - turn / 2) % 1 < 0.25)[..., None]
    frames = frames.reshape(120, -1)
    assert flashing.passes(light_of(usual, frames), 40, usual, 10.0)
    assert not flashing.passes(light_of(usual, frames), 40, usual, 4.0)
    assert np.array_equal(through(within(usual, 40.0, [], True), frames), frames)
    assert flashing.passes(light_of(near, through(within(near, 40.0, [], True), frames)), 40, near, 4.0)


@settings(max_examples=12, deadline=None)
@given(kind=st.sampled_from(films.KINDS), seed=st.integers(0, 9999), limited=st.booleans(), long=st.integers(5, 90))
def test_however_much_is_softened_together_not_a_byte_changes(kind, seed, limited, long):
    """Few frames or many, all pixels looked at again or only some of them."""
    house = films.screen()
    film = films.film(np.random.default_rng(seed), kind, house.pixel_count, 150)
    limit = ["house:8W"] if limited else []
    usual, other = within(house, 40.0, limit, True), within(house, 40.0, limit, True)
    other.softener.size = long
    assert np.array_equal(through(usual, film), through(other, film, (3, 40)))


@pytest.mark.parametrize(("limit", "soften"), [(["house:5W"], False), ([], True), (["house:5W"], True)])
def test_only_what_goes_into_the_file_is_told(limit, soften):
    """Frames around those that are asked for are computed too; two seconds of them are dimmed or softened here."""
    film = np.tile(np.repeat(np.uint8([[255], [0]]), 4, axis=0), (50, 120))
    stages = within(HOUSE, 40.0, limit, soften)
    blocks = (stages.measured(film[at : at + 16].copy()) for at in range(0, len(film), 16))
    assert sum(map(len, stages.pass_through(blocks, 120, 80, 16))) == 80
    # (5 W - 0.2 W of idle pixels) / 12 W is two fifths.
    wanted = (["dimmed for 2.0 s, down to 40%"] if limit else []) + (["softened 2.0 s"] if soften else [])
    assert list(stages.notes(40.0)) == wanted


def test_both_stages_are_flat_in_memory():
    softener, limiter = Softener(HOUSE, RIG, 40.0), Limiter(HOUSE, RIG, [parse_limit("house:5W")], 40.0)
    for _ in range(50):
        limiter.take(limiter.asked(softener.take(noise(1, frames=40))))
    assert len(softener.raw) < 4 * 40
    assert len(limiter.envelope.waiting) < 2 * 40
