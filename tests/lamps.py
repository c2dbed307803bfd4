"""A small invented house whose frames are known, and sounds with clicks in them."""

from __future__ import annotations

import wave
from pathlib import Path

import numpy as np

from eavesong.frames import Description, FramesWriter, PatchRow, PropRow, encode_frames

SHOW = """
title = "Three lamps"
[[cue]]
name = "Lamps glow"
effect = "lamps"
on = "lamp"
bars = [1, 3]
[[cue]]
name = "The wall answers"
effect = "lamps"
on = ["moon", "wall"]
bars = [2, 4]
"""
LAYOUT = 'title = "Three lamps"\n'
EFFECT = 'title = "Lamps"\nabout = "All on."\ncode = """\nlevel = 1\ncolour = linear_rgb(1, 1, 1)\n"""\n'
BEATS = "".join(f"{0.25 + 0.5 * beat}\t{beat % 4 + 1}\n" for beat in range(15))
"""Bars begin at 0.25, 2.25, 4.25 and 6.25 s."""
SECTIONS = "0.25\t4.25\tverse\n4.25\t8.0\tchorus\n"
TEXTS = {"layout": LAYOUT, "show": SHOW, "beats": BEATS, "sections": SECTIONS, "effect lamps": EFFECT}
FPS, SECONDS = 20.0, 8.0


def house(metres, **more):
    """A description of pixels at ``metres``: the first three are lamps, the rest hang on a wall."""
    places = np.asarray(metres, np.float32)
    count = len(places)
    size = np.maximum(places.max(axis=0), 1e-6)
    lamps = min(3, count)
    props = [PropRow("lamp row", 0, lamps, ("lamp",), "line")]
    patch = [PatchRow("lamp row", 0, lamps, 0, 3 * lamps, "GRB", 7, 10, "porch box", "192.0.2.7", "E1.31", 2)]
    if count > lamps:
        props.append(PropRow("wall lights", lamps, count - lamps, ("wall", "eaves"), "line"))
        patch.append(PatchRow("wall lights", lamps, count - lamps, 3 * lamps, 3 * (count - lamps), "RGB"))
    texts = {
        "layout": 'title = "Three lamps"\n',
        "show": SHOW,
        "beats": BEATS,
        "sections": SECTIONS,
        "effect lamps": EFFECT,
    }
    told = {"texts": texts, "song": "click.wav", "song_seconds": SECONDS} | more
    return Description(
        title="Three <lamps> & “a wall”", frame_rate=FPS, places=places / size, metres=places, props=tuple(props),
        patch=tuple(patch), **told,
    )  # fmt: skip


def write(path: Path, description: Description, frames):
    """Write frames uint8 (f, channel)."""
    with FramesWriter(path, description=description, frame_count=len(frames)) as writer:
        size = writer.chunk_frames
        for first in range(0, len(frames), size):
            writer.append(encode_frames(np.ascontiguousarray(frames[first : first + size]), size))
    return path


LAMPS = [[1.0, 3.0, 0.0], [5.0, 3.0, 0.0], [9.0, 3.0, 0.0]]
WALL = [[0.2 * at, 1.0, -1.0] for at in range(51)]


def known_frames(count=int(FPS * SECONDS), pixels=54):
    """Frames in which each lamp has its own colour and all change at every frame; the wall twinkles."""
    frames = np.random.default_rng(11).integers(0, 40, (count, 3 * pixels), np.uint8)
    time = np.arange(count)
    frames[:, 0:9] = 0
    frames[:, 1] = 60 + time % 180  # GRB: the first lamp is red,
    frames[:, 3] = 240 - time % 180  # the second green,
    frames[:, 8] = 40 + 3 * time % 200  # the third blue
    return frames


RATE = 44100


def write_click(path: Path, moments, seconds=SECONDS):
    """A quiet tone with a click of 5 ms at each moment."""
    time = np.arange(int(seconds * RATE)) / RATE
    sound = 0.02 * np.sin(2 * np.pi * 220 * time)
    for moment in moments:
        begin = round(moment * RATE)
        sound[begin : begin + 220] = 0.9 * np.sin(2 * np.pi * 3000 * time[:220])
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes((sound * 32767).astype("<i2").tobytes())
    return path


def in_planes(scene, light):
    """The picture as a clip has it, (3 h / 2, w): luma, and below it blue and red in lines of half the width."""
    width, height = scene.size
    planes = np.zeros((height * 3 // 2, width), np.uint8)
    scene.film(light, planes[:height], *planes[height:].reshape(2, height // 2, width // 2))
    return planes
