"""Stills, by analysis: light adds up, stays where it is, and only at the end becomes what a screen shows."""

import numpy as np
import pytest

from eavesong.colours import srgb_encode
from eavesong.frames import open_frames
from eavesong.preview.night import GLOWS, UNLIT, Painter, filmstrip, still
from eavesong.preview.subject import Subject
from eavesong.preview.view import FRONT, VIEWS, View, parse_view, project
from eavesong.scene.reopen import Reopened
from eavesong.scene.sight import Sight
from lamps import house, in_planes, write

SIZE = (640, 360)
HIGH = np.array([[0.0, 0.0, 0.0], [5.0, 6.0, 0.0], [10.0, 0.0, 0.0]], np.float32)
"""The middle one hangs high above the ground."""


def bare(metres):
    """Places without a frames file."""
    return Subject(metres, (), np.ptp(metres, axis=0).astype(float), Sight())


@pytest.fixture(scope="module")
def scene():
    return Painter(bare(HIGH), SIZE)


def light(*levels):
    return np.array([[level] * 3 for level in levels], np.float32)


def test_total_light_grows_linearly_with_drive(scene):
    """Before tone mapping: twice the drive, twice the light (superposition)."""
    totals = [scene.glow(light(0, drive, 0)).sum(dtype=np.float64) for drive in (0.1, 0.2, 0.4, 0.8)]
    assert np.allclose(totals / np.array([1, 2, 4, 8]), totals[0], rtol=1e-5)


def test_the_glows_of_two_lights_add_up(scene):
    both, one, other = (scene.glow(light(*levels)) for levels in ((0.3, 0.5, 0), (0.3, 0, 0), (0, 0.5, 0)))
    assert np.allclose(both, one + other, rtol=1e-4, atol=1e-6)


def test_a_light_that_is_off_gives_none(scene):
    assert not scene.glow(light(0, 0, 0)).any()


def test_a_glow_is_centred_on_its_place(scene):
    """Its centre of light is where the projection puts it, to within a twentieth of a picture element."""
    glow = scene.glow(light(0, 1, 0)).sum(axis=2, dtype=np.float64)
    column, row = (float(at[1]) for at in scene.projection.place(HIGH))
    # Only what lies within a window around it, so that the haze cut off at the edges does not pull it away.
    reach = 30
    top, left = int(row) - reach, int(column) - reach
    window = glow[top : top + 2 * reach + 1, left : left + 2 * reach + 1]
    window = window * (window > window.max() / 50)
    rows, columns = np.indices(window.shape) + 0.5
    assert abs((window * columns).sum() / window.sum() + left - column) < 0.05
    assert abs((window * rows).sum() / window.sum() + top - row) < 0.05


def test_the_light_in_the_picture_is_that_of_the_four_bells():
    """A light in the middle of a large picture: all of its bells lie inside it, and their shares add up.

    The ground is too far below for any of its light to be seen there. Alone in its spot, it is hardly held.
    """
    middle = np.array([[0, 0, 0], [4, 3, 0], [8, 6, 0]], np.float32)
    scene = Painter(bare(middle), (640, 640), FRONT)
    total = scene.glow(light(0, 1, 0))[..., 0].sum(dtype=np.float64)
    exposure = 16.0 * scene.scale
    assert total == pytest.approx(exposure * sum(share for _, share in GLOWS), rel=0.01)


@pytest.mark.parametrize("level", [0.0, 1e-4, 0.003, 0.02, 0.1, 0.4, 0.9, 1.0])
def test_tone_mapping_is_srgb_of_one_minus_exp(scene, level):
    """IEC 61966-2-1 behind 1 - exp(-light), for light up to white; the grain moves a byte by one at most."""
    scene.dark, before = np.zeros_like(scene.dark), scene.dark
    shown = scene.developed(np.full_like(before, level))
    scene.dark = before
    wanted = 255 * float(srgb_encode(1 - np.exp(-level)))
    assert abs(shown.mean() - wanted) < 0.3
    assert np.ptp(shown) <= 1


def test_nothing_of_a_picture_stays_in_the_next(scene):
    fresh = Painter(bare(HIGH), SIZE)
    drawn = [in_planes(scene, light(*levels)) for levels in ((1, 1, 1), (0.2, 0, 0), (0.2, 0, 0))]
    assert (drawn[1] == drawn[2]).all()
    assert (drawn[1] == in_planes(fresh, light(0.2, 0, 0))).all()
    assert (scene.picture(light(0.2, 0, 0)) == fresh.picture(light(0.2, 0, 0))).all()


def test_brighter_than_white_bleeds_to_white(scene):
    red = np.zeros_like(scene.dark)
    red[..., 0] = 20.0
    assert scene.developed(red)[50, 50].min() > 200


def test_lights_spill_on_the_ground_below_them_and_high_ones_wider():
    """From above: the ground shines brightest where the light hangs, and what a high one spills reaches farther."""
    scene = Painter(bare(HIGH), SIZE, VIEWS["corner"])
    spots = []
    for which, levels in enumerate(((1, 0, 0), (0, 1, 0))):
        canvas = np.zeros((SIZE[1] // 4, 3, SIZE[0] // 4), np.float32)
        scene.ground.spill(light(*levels), scene.hand, canvas)
        below = HIGH[which] * [1, 0, 1]
        column, row = (float(at[0]) / 4 for at in scene.projection.place(below[None]))
        glow = canvas[:, 0].astype(np.float64)
        columns = np.indices(glow.shape)[1] + 0.5
        peak = np.unravel_index(glow.argmax(), glow.shape)
        assert np.hypot(peak[0] - row, peak[1] - column) < 6
        spots.append(np.sqrt((glow * (columns - column) ** 2).sum() / glow.sum()))
    assert spots[1] > 2 * spots[0]


def test_a_dark_house_shows_its_wires_faintly():
    dark = Painter(bare(HIGH), SIZE).picture(np.zeros((3, 3), np.uint8))
    column, row = project(HIGH, SIZE).place(HIGH)
    assert 15 < dark[int(row[1]), int(column[1])].mean() < 30  # of 255
    assert UNLIT < 0.01


def test_a_dark_frame_has_no_light_on_the_ground_and_lamps_that_crowd_are_no_brighter_than_one():
    """A hundred lamps in a centimetre or side by side: what is off lights nothing, however many there are."""
    crowd = np.concatenate([HIGH, np.tile(HIGH[1] - [0, 2, 0], (100, 1)) + np.linspace(0, 0.01, 100)[:, None]])
    scene = Painter(bare(crowd.astype(np.float32)), SIZE)
    dark = scene.picture(np.zeros((len(crowd), 3), np.uint8)).astype(int)
    column, row = (np.rint(at).astype(int) for at in scene.projection.place(crowd.astype(np.float32)))
    away = np.zeros(dark.shape[:2], bool)
    away[row[0] :] = True  # the lawn before the house
    for x, y in zip(column, row, strict=True):
        away[max(0, y - 4) : y + 5, max(0, x - 4) : x + 5] = False
    assert dark[away].max() < 12  # of 255
    assert dark[row[-1] - 1 : row[-1] + 2, column[-1] - 1 : column[-1] + 2].max() <= dark[row[1], column[1]].max() + 3


@pytest.mark.parametrize("name", VIEWS)
def test_the_whole_house_is_in_every_view(name):
    corners = np.array([[x, y, z] for x in (0, 12) for y in (0, 7) for z in (0, 9)], np.float32)
    column, row = project(corners, SIZE, VIEWS[name]).place(corners)
    assert column.min() > 0
    assert column.max() < SIZE[0]
    assert row.min() > 0
    assert row.max() < SIZE[1]


def test_axes_are_those_of_the_layout():
    """Right-handed: x to the right, y up, z towards the street; from above, the street is below."""
    metres = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]], np.float32)
    column, row = project(metres, SIZE, FRONT).place(metres)
    assert column[1] > column[0]
    assert row[2] < row[0]
    column, row = project(metres, SIZE, VIEWS["plan"]).place(metres)
    assert row[3] > row[0]
    column, row = project(metres, SIZE, View(90, 0)).place(metres)  # from the right, the street lies to the left
    assert column[3] < column[0]


def test_a_view_that_is_none_is_told():
    with pytest.raises(ValueError, match="Did you mean 'front'"):
        parse_view("fornt")
    with pytest.raises(ValueError, match="Turn by -360 to 360"):
        parse_view("20,120")
    assert parse_view("30,15") == View(30, 15)


def test_a_still_shows_the_frame_of_its_moment(three_lamps):
    """The lamps are red, green and blue at their places, as the frame says."""
    with open_frames(three_lamps / "lamps.h5") as frames:
        picture = still(frames, 2.0, SIZE)
        columns, rows = project(frames.metres, SIZE).place(frames.metres)
    for lamp in range(3):
        seen = picture[int(rows[lamp]), int(columns[lamp])]
        assert seen.argmax() == lamp


def test_pictures_of_a_show_that_may_flash_say_so(tmp_path):
    """The words stand at the upper left, in an amber that no sky has."""
    escaped = '"allow\\u005fflashes" = true\n'
    shows = {"allowed": "allow_flashes = true\n", "escaped": escaped, "not": 'title = "allow_flashes"\n'}
    amber = {}
    for name, show in shows.items():
        frames = np.zeros((4, 9), np.uint8)
        with open_frames(write(tmp_path / f"{name}.h5", house(HIGH, texts={"show": show}), frames)) as opened:
            corner = still(opened, 0.0, SIZE)[:40, :300].astype(int)
        amber[name] = bool((corner[..., 0] - corner[..., 2] > 100).any())
    assert amber == {"allowed": True, "escaped": True, "not": False}


def test_a_filmstrip_holds_its_pictures_in_rows(three_lamps):
    with open_frames(three_lamps / "lamps.h5") as frames:
        strip = filmstrip(frames, [0, 1, 2, 3], ["a", "b"], columns=3, width=160)
    assert strip.shape == (2 * 90 + 4, 3 * 160 + 8, 3)


def test_a_photo_lies_dimmed_on_the_house_frame(tmp_path, three_lamps):
    """A white photo: the house frame is lit evenly and faintly, outside it is night."""
    from PIL import Image

    Image.new("RGB", (300, 100), "white").save(tmp_path / "house.png")
    with open_frames(three_lamps / "lamps.h5") as frames:
        source = Reopened(frames)
        plain, photo = (Painter(source, SIZE, photo=each) for each in (None, tmp_path / "house.png"))
    inside = photo.dark[180:300, 200:440].mean(axis=(0, 1))
    assert 0.02 < inside.mean() < 0.1
    assert np.allclose(photo.dark[:20], plain.dark[:20])


def test_a_photo_that_is_none_is_left_out(tmp_path, three_lamps):
    (tmp_path / "house.png").write_bytes(b"no picture")
    with open_frames(three_lamps / "lamps.h5") as frames:
        scene = Painter(Reopened(frames), SIZE, photo=tmp_path / "house.png")
        assert scene.picture(Reopened(frames).light_at(1)).shape == (360, 640, 3)


def test_gamma_is_taken_out_of_the_light(tmp_path):
    """A byte of 55 that was made with gamma 2.2 stands for half the light: 255 * 0.5 ** 2.2 = 55."""
    from dataclasses import replace

    description = house(HIGH)
    description = replace(description, patch=(replace(description.patch[0], gamma=2.2),))
    path = write(tmp_path / "gamma.h5", description, np.full((2, 9), 55, np.uint8))
    with open_frames(path) as frames:
        assert np.all(np.abs(Reopened(frames).light_at(0).astype(int) - 127) <= 1)
