"""Clips, by decoding them again: a flash and a click that are known stand where they should, within a frame."""

import av
import numpy as np
import pytest

from eavesong.errors import FramesError
from eavesong.frames import open_frames
from eavesong.preview.film import _pictures, frames_between, write_film, write_loop
from eavesong.preview.night import Painter
from eavesong.scene.reopen import Reopened
from lamps import LAMPS, house, in_planes, write, write_click

FPS, SIZE = 20.0, (320, 180)
FLASHES = (1.0, 3.55, 6.2)
"""Seconds of the song at which the house flashes for one frame and the song clicks."""


@pytest.fixture(scope="module")
def flashing(tmp_path_factory):
    folder = tmp_path_factory.mktemp("flash")
    frames = np.zeros((160, 9), np.uint8)
    for moment in FLASHES:
        frames[round(moment * FPS)] = 255
    write(folder / "flash.h5", house(LAMPS), frames)
    write_click(folder / "click.wav", FLASHES)
    return folder


def film(folder, tmp_path, start, end, song=True):
    with open_frames(folder / "flash.h5") as frames:
        source = Reopened(frames)
        write_film(source, Painter(source, SIZE), tmp_path / "a.mp4", start, end, song=source.song if song else None)
    return tmp_path / "a.mp4"


def pictures(path):
    """Moments (f,) in seconds and mean brightness (f,) of the pictures."""
    with av.open(str(path)) as clip:
        seen = [
            (float(frame.pts * frame.time_base), frame.to_ndarray(format="gray").mean())
            for frame in clip.decode(video=0)
        ]
    return np.array(seen).T


def sound(path):
    """Moments (n,) in seconds and samples (n,) of the sound."""
    moments, samples = [], []
    with av.open(str(path)) as clip:
        for frame in clip.decode(audio=0):
            own = frame.to_ndarray()[0]
            moments.append(float(frame.pts * frame.time_base) + np.arange(len(own)) / frame.sample_rate)
            samples.append(own)
    return np.concatenate(moments), np.concatenate(samples)


def clicks(path):
    """Where the sound is loud: the beginning of each click."""
    moments, samples = sound(path)
    loud = moments[np.abs(samples) > 0.4]
    return loud[np.flatnonzero(np.diff(loud, prepend=-1.0) > 0.1)]


@pytest.mark.parametrize(("start", "end", "within"), [(0.0, 8.0, FLASHES), (2.6, 7.0, FLASHES[1:])])
def test_flash_and_click_stand_together(flashing, tmp_path, start, end, within):
    path = film(flashing, tmp_path, start, end)
    times, bright = pictures(path)
    flashes = times[bright > (bright.max() + np.median(bright)) / 2]
    wanted = np.array(within) - start
    assert np.allclose(flashes, wanted, atol=1e-3)
    assert np.allclose(clicks(path), wanted, atol=0.5 / FPS)
    assert np.abs(clicks(path) - flashes).max() < 1 / FPS


def test_a_clip_holds_every_frame_once(flashing, tmp_path):
    times, _ = pictures(film(flashing, tmp_path, 0.0, 8.0, song=False))
    assert np.allclose(times, np.arange(160) / FPS)


def test_codecs_and_colours_are_those_that_players_expect(flashing, tmp_path):
    with av.open(str(film(flashing, tmp_path, 0.0, 2.0))) as clip:
        video, audio = clip.streams.video[0], clip.streams.audio[0]
        assert (video.codec_context.name, audio.codec_context.name) == ("h264", "aac")
        assert (video.width, video.height, video.codec_context.pix_fmt) == (*SIZE, "yuv420p")
        assert (video.codec_context.colorspace, video.codec_context.color_range) == (1, 1)  # ITU-R BT.709, studio range


def test_pictures_in_a_films_own_colours_are_those_of_a_still(three_lamps):
    """Against swscale, which makes ITU-R BT.709 in studio range of the same picture in red, green and blue."""
    with open_frames(three_lamps / "lamps.h5") as frames:
        source = Reopened(frames)
        scene, light = Painter(source, (640, 360)), source.light_at(3.0)
        planes = in_planes(scene, light)
        still = av.VideoFrame.from_ndarray(scene.picture(light), format="rgb24")
    wanted = still.reformat(format="yuv420p", dst_colorspace="ITU709", dst_color_range="MPEG").to_ndarray()
    away = np.abs(planes.astype(int) - wanted)
    assert away[:360].max() <= 2
    assert away[360:].mean() < 0.5


def test_compiled_loops_draw_what_numpy_draws(three_lamps):
    """The two ways to draw, in a picture whose canvases halve unevenly, from the street and from above."""
    with open_frames(three_lamps / "lamps.h5") as frames:
        source = Reopened(frames)
        for size in ((333, 251), (1280, 720)):
            scene, light = Painter(source, size), source.light_at(2.0)
            by_numpy = scene.picture(light)
            scene.hurry()
            assert np.abs(scene.picture(light).astype(int) - by_numpy).max() <= 1


@pytest.mark.parametrize("size", [SIZE, (334, 190)])
def test_pictures_of_a_clip_are_those_of_its_frames(flashing, tmp_path, size):
    """Also where they are drawn on memory used before, and where the encoder's lines are longer than the picture's."""
    with open_frames(flashing / "flash.h5") as frames:
        source = Reopened(frames)
        scene = Painter(source, size)
        write_film(source, scene, tmp_path / "a.mp4", 0.5, 4.0)
        wanted = [in_planes(scene, source.light_at(0.5 + number / FPS)) for number in range(70)]
    with av.open(str(tmp_path / "a.mp4")) as clip:
        for frame, own in zip(clip.decode(video=0), wanted, strict=True):
            assert np.abs(frame.to_ndarray()[: size[1]].astype(int) - own[: size[1]]).mean() < 2


def test_a_frame_as_the_one_before_is_not_drawn_again(tmp_path):
    frames = np.repeat(np.array([0, 90, 90, 90, 30, 30, 90], np.uint8)[:, None], 9, axis=1)
    drawn = []
    with open_frames(write(tmp_path / "a.h5", house(LAMPS), frames)) as opened:
        source = Reopened(opened)
        scene = Painter(source, (64, 64))

        def draw(light):
            drawn.append(int(light.max()))
            return scene.picture(light)

        pictures = list(_pictures(source, scene, range(7), 0, draw))
    assert sorted(drawn) == [0, 30, 90, 90]
    bright = [picture.mean() for picture in pictures]
    assert bright[0] < bright[4] == bright[5] < bright[1] == bright[2] == bright[3] == bright[6]


def test_a_loop_is_an_animation(flashing, tmp_path):
    from PIL import Image

    with open_frames(flashing / "flash.h5") as frames:
        source = Reopened(frames)
        scene = Painter(source, SIZE)
        for name in ("loop.webp", "loop.gif"):
            write_loop(source, scene, tmp_path / name, 0.5, 1.5, rate=10)
            with Image.open(tmp_path / name) as picture:
                assert picture.n_frames > 1
                assert picture.size == SIZE
                assert picture.info["loop"] == 0


def test_a_time_without_frames_is_told(flashing, tmp_path):
    with open_frames(flashing / "flash.h5") as frames:
        source = Reopened(frames)
        with pytest.raises(FramesError, match="no frame between 9 s and 10 s; it holds 0 s to 8 s"):
            frames_between(source, 9.0, 10.0)
        with pytest.raises(FramesError, match="too long for a looping picture"):
            write_loop(source, Painter(source, SIZE), tmp_path / "a.webp", 0.0, 90.0)
        assert frames_between(source, 0.05, 0.2) == range(1, 4)
