"""How much light there is, section by section, against what can be counted by hand."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from eavesong.check import check, report_text
from eavesong.check.light import Looks, _lit_pixels, dark_for_long, seen_in
from eavesong.layout import Layout, load_layout
from eavesong.music import BeatGrid
from eavesong.scene import set_scene
from eavesong.show import Show

GLOW = "effect = 'glow'\nparameters = { tint = 'white' }\n"
SHOW = (
    f"[[cue]]\n{GLOW}on = 'roofline'\nopacity = 0.5\n"  # 200 of 300 pixels at half their drive, all the time
    f"[[cue]]\n{GLOW}on = 'path'\nsections = 'chorus'\n"  # 60 more at full drive, in the second half
)

MIXED = "title = 'Mixed'\n" + "".join(
    f"[[prop]]\nname = '{name}'\nshape = 'line'\nto = [1, 0]\npixels = {count}\n"
    for name, count in (("a", 7), ("b", 5), ("c", 9))
) + "[[controller]]\nname = 'box'\n" + "".join(
    f"[[controller.output]]\nnumber = {number}\norder = '{order}'\nchain = ['{name}']\n"
    for number, order, name in ((1, "RGB", "a"), (2, "GRBW", "b"), (3, "BGR", "c"))
)  # fmt: skip


def test_share_lit_brightness_and_layers_are_the_means_of_each_section(
    read: Callable[[str], Show], house: Layout, grid: BeatGrid
) -> None:
    verse, chorus = check(set_scene(read(SHOW), house, grid), drawn=True).light
    assert (verse.label, verse.start, verse.end) == ("verse", 0, 16)
    assert (verse.lit, verse.layers) == (pytest.approx(200 / 300), 1)
    assert verse.brightness == pytest.approx(200 / 300 * 0.5, abs=1 / 255)
    assert (chorus.label, chorus.lit, chorus.layers) == ("Chorus", pytest.approx(260 / 300), 2)
    assert chorus.brightness == pytest.approx((200 * 0.5 + 60) / 300, abs=1 / 255)


@pytest.mark.parametrize("runs", [0, 1000])
def test_a_pixel_is_lit_where_any_of_its_channels_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, runs: int
) -> None:
    """Three channels a pixel and four side by side; counted one by one."""
    monkeypatch.setattr("eavesong.check.light.MOST_RUNS", runs)
    (tmp_path / "mixed.toml").write_text(MIXED)
    house = load_layout(tmp_path / "mixed.toml")
    patch = house.patch
    block = np.random.default_rng(0).integers(0, 4, (5, patch.channel_count), np.uint8) // 3
    lit = _lit_pixels(block, house)
    assert 0 < lit.mean() < 1
    for frame, row in zip(lit, block, strict=True):
        for pixel, on in enumerate(frame):
            start = int(patch.channel_start[pixel])
            assert on == row[start : start + int(patch.channel_width[pixel])].any()


def test_they_stand_in_the_report_only_where_they_were_drawn(
    read: Callable[[str], Show], house: Layout, grid: BeatGrid
) -> None:
    scene = set_scene(read(SHOW), house, grid)
    assert check(scene).light == ()
    assert "light by section" not in report_text(check(scene))
    row = next(line for line in report_text(check(scene, drawn=True)).splitlines() if line.startswith("  Chorus"))
    assert row.split() == ["Chorus", "0:16", "to", "0:32", "87", "%", "53", "%", "2.0"]


@pytest.mark.parametrize(
    ("spans", "seconds"),
    [
        ("times = [[1, 3], [20, 25.5]]", "0:08"),  # 2 + 5.5 seconds, on a clock without fractions
        ("times = [[0, 15.9]]", "0:16"),
        ("bars = [1, 2]\nevery = 4", "0:08"),  # four times a bar of two seconds
        ("times = [[30, 100]]", "0:02"),  # what lies after the song does not count
        ("times = [[0, 16]]", ""),  # half of the song is not dark for most of it
        ("", ""),
    ],
)
def test_props_dark_for_most_of_the_song_are_named(
    read: Callable[[str], Show], house: Layout, grid: BeatGrid, spans: str, seconds: str
) -> None:
    text = f"[[cue]]\n{GLOW}on = 'not path'\n[[cue]]\n{GLOW}on = 'path'\n{spans}\n"
    report = check(set_scene(read(text), house, grid))
    seldom = [
        finding.found for finding, weight in zip(report.findings, report.weights, strict=True) if weight == "seldom"
    ]
    assert seldom == ([f"arch (all 3): lit for {seconds} of 0:32"] if seconds else [])


def test_two_cues_that_share_a_prop_count_together(read: Callable[[str], Show], house: Layout, grid: BeatGrid) -> None:
    text = f"[[cue]]\n{GLOW}on = 'not path'\n" + "".join(
        f"[[cue]]\n{GLOW}on = 'path'\ntimes = [{start}, {end}]\n" for start, end in ((0, 9), (8, 12), (20, 25))
    )
    assert check(set_scene(read(text), house, grid)).findings == ()  # 12 + 5 of 32 seconds


DARKENING = {
    "black": "effect = 'wash'\npalette = 'black'",
    "multiply": f"{GLOW}blend = 'multiply'",
    "darken": f"{GLOW}blend = 'darken'",
    "at strength 0": "effect = 'glow'\nparameters = { strength = 0 }",
    "at opacity 0": f"{GLOW}opacity = 0",
}


@pytest.mark.parametrize("cue", DARKENING.values(), ids=DARKENING)
@pytest.mark.parametrize("drawn", [False, True])
def test_what_only_darkens_lights_nothing(
    read: Callable[[str], Show], house: Layout, grid: BeatGrid, cue: str, drawn: bool
) -> None:
    text = f"[[cue]]\n{GLOW}on = 'not path'\ntimes = [[0, 20]]\n[[cue]]\n{cue}\non = 'path'\n"
    report = check(set_scene(read(text), house, grid), drawn=drawn)
    assert report.dark_props == ("arch 1", "arch 2", "arch 3")
    assert [(each.start, each.end) for each in report.dark_times] == [(20, 32)]


@pytest.mark.parametrize("cue", [f"{GLOW}blend = 'plus-lighter'", f"{GLOW}blend = 'difference'", "effect = 'wash'"])
def test_what_gives_light_lights(read: Callable[[str], Show], house: Layout, grid: BeatGrid, cue: str) -> None:
    assert check(set_scene(read(f"[[cue]]\n{cue}\n"), house, grid), drawn=True).findings == ()


DOES = {
    "color-dodge": "brightens",  # 9.1.8: below / (1 - source), never less than below, nothing of black
    "multiply": "darkens",  # 9.1.1
    "color-burn": "darkens",
    "hue": "changes",  # 9.2: the luminosity of what is below stays
    "plus-lighter": "",
}


@pytest.mark.parametrize("blend", DOES)
def test_what_a_cue_does_to_the_light_below_it_is_told(
    read: Callable[[str], Show], house: Layout, grid: BeatGrid, blend: str
) -> None:
    """By the formulas of W3C Compositing and Blending 1, section 9."""
    text = f"[[cue]]\n{GLOW}[[cue]]\neffect = 'wash'\npalette = ['#606060', '#cbcbcb']\nblend = '{blend}'\n"
    told = report_text(check(set_scene(read(text), house, grid)))
    assert f"    {DOES[blend]} 300 pixels".replace("     ", "    ") in told.split("cue 2")[1]


def test_a_prop_that_is_always_painted_black_is_dark_though_a_cue_lights_it(
    read: Callable[[str], Show], house: Layout, grid: BeatGrid
) -> None:
    text = f"[[cue]]\n{GLOW}[[cue]]\neffect = 'wash'\npalette = 'black'\non = 'tree'\n"
    report = check(set_scene(read(text), house, grid), drawn=True)
    assert report.dark_props == ("old oak",)
    assert "no cue lights old oak" not in report_text(report)
    assert "no light leaves old oak" in report_text(report)


def test_light_between_the_moments_that_are_drawn_is_seen(
    read: Callable[[str], Show], house: Layout, grid: BeatGrid
) -> None:
    """A tenth of a second begins and ends between two looks, which are a seventh apart."""
    text = f"[[cue]]\n{GLOW}on = 'not tree'\n[[cue]]\n{GLOW}on = 'tree'\ntimes = [[0.01, 0.11]]\n"
    assert check(set_scene(read(text), house, grid), drawn=True).dark_props == ()


def test_what_twinkles_is_not_dark_for_most_of_the_song(
    read: Callable[[str], Show], house: Layout, grid: BeatGrid
) -> None:
    text = f"[[cue]]\n{GLOW}on = 'not path'\n[[cue]]\n{GLOW}on = 'path'\n" + (
        "[[cue]]\neffect = 'wash'\npalette = 'black'\non = 'path'\nbeats = [1, 3.75]\nevery = 4\n"
    )
    assert check(set_scene(read(text), house, grid), drawn=True).findings == ()


def seen_with_darkness(eighths: int) -> Looks:
    """Ten seconds, looked at eight times a second, with nothing lit for so long on either side of the middle."""
    number = np.arange(80)
    return Looks(number / 8, np.where(abs(number - 40) < eighths, 0.0, 0.5), np.zeros(80), np.ones((80, 1), bool))


def test_a_house_that_is_painted_black_for_bars_is_told_as_dark() -> None:
    looks = Looks(
        np.arange(80) / 8, np.where(abs(np.arange(80) - 40) < 12, 0.0, 0.5), np.zeros(80), np.ones((80, 1), bool)
    )
    assert list(dark_for_long(looks)) == [(29 / 8, 52 / 8)]


def test_a_beat_of_black_is_no_dark_stretch() -> None:
    looks = Looks(
        np.arange(80) / 8, np.where(abs(np.arange(80) - 40) < 4, 0.0, 0.5), np.zeros(80), np.ones((80, 1), bool)
    )
    assert not list(dark_for_long(looks))


def test_what_is_always_painted_over_is_seen_by_a_glance_and_in_frames(
    read: Callable[[str], Show], house: Layout, grid: BeatGrid
) -> None:
    """The path is lit, and black lies above it all the time; the rest is lit."""
    text = f"[[cue]]\n{GLOW}[[cue]]\neffect = 'wash'\npalette = 'black'\non = 'path'\n"
    scene = set_scene(read(text), house, grid)
    wide = house.patch.channel_count
    lit, dark = np.full((3, wide), 9, np.uint8), np.zeros((3, wide), np.uint8)
    path = [index for index, prop in enumerate(house.props) if "path" in prop.tags]
    for index in path:
        first, last = house.props[index].start, house.props[index].stop - 1
        start = house.patch.channel_start
        lit[:, start[first] : start[last] + house.patch.channel_width[last]] = 0
    told = "no light leaves arch (all 3) at any time, though cues are there"
    assert check(scene).findings == ()
    assert [each.found for each in check(scene, glance=True).findings] == [told]
    assert [each.found for each in check(scene, frames=np.concatenate([dark, lit]), together=3).findings] == [told]
    assert seen_in(house, lit, 3, 40.0)[1] == tuple(path)
    assert seen_in(house, np.concatenate([lit, dark, np.full((1, wide), 1, np.uint8)]), 3, 40.0)[1] == ()


def test_frames_tell_how_long_a_prop_is_lit_whatever_the_scene_would_draw(
    read: Callable[[str], Show], house: Layout, grid: BeatGrid
) -> None:
    """A scene that was reopened from its frames is in silence, and what follows the song would be dark in it."""
    scene = set_scene(read(f"[[cue]]\n{GLOW}[[cue]]\neffect = 'wash'\npalette = 'black'\n"), house, grid)
    count, wide = round(grid.duration * scene.frame_rate), house.patch.channel_count
    lit = np.full((count, wide), 9, np.uint8)
    assert "seldom" not in check(scene, frames=lit).weights
    lit[count // 4 :] = 0
    for together in (1, 16, 64, 5000):
        looks, never = seen_in(house, lit, together, scene.frame_rate)
        assert never == ()
        assert looks.near(0).mean() * grid.duration == pytest.approx(grid.duration / 4 + 2, abs=2)  # NEAR counts, too
    assert "seldom" in check(scene, frames=lit).weights


def test_a_glance_sees_what_is_dark_for_most_of_the_song(
    read: Callable[[str], Show], house: Layout, grid: BeatGrid
) -> None:
    """Painted black for two thirds of it, under cues that are there all the time; the tree for one third only."""
    text = (
        f"[[cue]]\n{GLOW}[[cue]]\neffect = 'wash'\npalette = 'black'\non = 'arch'\ntimes = [[0, 22]]\n"
        "[[cue]]\neffect = 'wash'\npalette = 'black'\non = 'tree'\ntimes = [[0, 10]]\n"
    )
    told = {}
    for how in ({"glance": True}, {"drawn": True}):
        report = check(set_scene(read(text), house, grid), **how)
        pairs = zip(report.findings, report.weights, strict=True)
        told[str(how)] = [found.found for found, weight in pairs if weight == "seldom"]
    one, other = told.values()
    assert one == other
    assert len(one) == 1
    assert one[0].startswith("arch (all 3): lit for 0:1")


class Counted(np.ndarray):
    """Frames that say how many of them were read."""

    read = 0

    def __getitem__(self, key):
        Counted.read += len(range(*key.indices(len(self)))) if isinstance(key, slice) else 1
        return np.asarray(self)[key]


def test_of_a_large_file_a_fifth_is_read_where_every_prop_is_lit_somewhere_there(house: Layout) -> None:
    """Frames that lie together are unpacked together; NEAR is two seconds, 80 frames."""
    lit = np.full((1600, house.patch.channel_count), 9, np.uint8).view(Counted)
    assert seen_in(house, lit, 16, 40.0)[1] == ()
    assert Counted.read == 1600 // 5


def test_what_twinkles_is_lit_and_what_flashes_up_now_and_then_is_not() -> None:
    """A minute in tenths of seconds: one prop lit once a second, one every fifth second, one from 20 to 40 s."""
    times = np.arange(600) / 10
    props = np.stack([np.arange(600) % 10 == 0, np.arange(600) % 50 == 0, (times >= 20) & (times < 40)], axis=1)
    looks = Looks(times, np.zeros(600), np.zeros(600), props)
    shares = [float(looks.near(prop).mean()) for prop in range(3)]
    assert shares == pytest.approx([1.0, 12 / 600, 20 / 60], abs=0.02)
