"""The job in one figure: when the song beats, how long until the house lights up?

The light is measured on the rendered bytes, not on anything the renderer says about itself: an effect jumps up on
every beat, and a jump is a frame whose total is far above that of the frame before. Run with ``-s`` to see the figures.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from eavesong.demo.songs import DemoSong
from eavesong.frames import open_frames
from eavesong.layout import layout_from_points
from eavesong.music import hear
from eavesong.render import Order, render_scene
from eavesong.scene import scene_of
from eavesong.show import load_show

FPS = 40.0
FRAME = 1.0 / FPS
SHOW = """
title = "Beats"
song = "{song}"

[[cue]]
effect = "knock"
palette = ["white", "white"]
parameters = {{ least = 0, fall = 6 }}
"""

# ITU-R BT.1359-1 (1998), considering g: what viewers notice lies outside sound 45 ms early to 125 ms late. Light that
# comes after the sound is sound that is early.
LATEST_LIGHT, EARLIEST_LIGHT = 0.045, -0.125


def flashes(song: Path, folder: Path, name: str) -> NDArray[np.float64]:
    """The seconds of every frame in which a small house lights up."""
    show, out = folder / f"{name}.show.toml", folder / f"{name}.h5"
    show.write_text(SHOW.format(song=song.name))
    house = layout_from_points(np.array([[0.0, 0.0, 0.0], [1.0, 1.0, 0.0]]), title="Two lights")
    render_scene(scene_of(load_show(show), house, Order.of(show, "", frame_rate=FPS)), out)
    with open_frames(out) as file:
        light = np.asarray(file.frames[:]).sum(axis=1).astype(np.float64)
    rises = np.flatnonzero(np.diff(light, prepend=0.0) > 0.5 * light.max())
    return rises / FPS


def lateness(light: NDArray[np.float64], beats: NDArray[np.float64]) -> NDArray[np.float64]:
    """For each beat, how long after it the nearest flash comes; negative where it comes before."""
    nearest = light[np.abs(light[None, :] - beats[:, None]).argmin(axis=1)]
    return nearest - beats


def told(title: str, grid: str, late: NDArray[np.float64]) -> None:
    low, middle, high = np.percentile(late * 1000, [5, 50, 95])
    print(f"\n{title}, {grid}: light after the beat by {middle:+.1f} ms (5 to 95 %: {low:+.1f} to {high:+.1f})", end="")


@pytest.mark.parametrize("index", range(3))
def test_given_the_true_beats_every_one_is_lit_within_a_frame(
    demo_songs: tuple[DemoSong, ...], index: int, tmp_path: Path
) -> None:
    song = demo_songs[index]
    beats = np.array(song.grid.times)
    for path in (song.path, song.beats_path, song.sections_path):
        shutil.copy(path, tmp_path)
    light = flashes(tmp_path / song.path.name, tmp_path, "true")
    # Beats go on at the same pace before the first and after the last; nothing sounds there.
    light = light[(light >= beats[0]) & (light < beats[-1] + FRAME)]
    assert len(light) == len(beats)
    late = lateness(light, beats)
    told(song.title, "true beats", late)
    # A frame shows what holds at its moment, so light is never early and waits for the next frame at most.
    assert late.min() >= -1e-6
    assert late.max() < FRAME + 1e-6


@pytest.mark.parametrize(("index", "share"), [(0, 0.95), (1, 0.95), (2, 0.6)])
def test_given_the_heard_beats_light_and_sound_go_together(
    demo_songs: tuple[DemoSong, ...], index: int, share: float, tmp_path: Path
) -> None:
    song = demo_songs[index]
    alone = tmp_path / song.path.name  # without the texts beside it, so that the song has to be listened to
    alone.write_bytes(song.path.read_bytes())
    light = flashes(alone, tmp_path, "heard")
    # The last beats fade into silence; a show cannot miss what nobody hears.
    loud = hear(alone).signals.at(song.grid.times)["loudness"] > 0.2
    late = lateness(light, np.array(song.grid.times)[loud])
    told(song.title, "heard beats", late)
    inside = (late >= EARLIEST_LIGHT) & (late <= LATEST_LIGHT)
    # The tracker expects one tempo: where a song changes it, some beats are lost (index 2); those found are in time.
    assert inside.mean() >= share
    found = np.abs(late) < 0.07  # mir_eval's window for a beat that counts as found
    assert EARLIEST_LIGHT < np.median(late[found]) < LATEST_LIGHT
