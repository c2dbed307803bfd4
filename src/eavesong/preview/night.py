"""The house at night, from the street: every pixel a small light whose glow adds up as light does.

Pictures are computed in linear light and only at the end tone-mapped and encoded for a screen (sRGB,
IEC 61966-2-1), so two glows that meet are as bright as both together.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.colours import srgb_encode
from eavesong.show.model import flashes_allowed

if TYPE_CHECKING:
    from eavesong.frames import FramesFile

Picture = NDArray[np.float32]

MARGIN = 0.06
"""Share of the picture's width left free on either side of the house."""

GROUND = 0.16
"""Share of the picture's height that is ground, in front of the house."""

GLOWS = ((0.9, 1.0), (3.2, 0.5), (14.0, 0.55), (60.0, 0.5))
"""(radius, share) of the glow around a light: its disc, a halo, a bloom and the haze. Radii are standard deviations
in pixels of a picture 1280 wide."""

EXPOSURE = 16.0
"""Brightness of a full light's centre before tone mapping, as a multiple of white, at 1280 pixels of width."""

SKY_TOP = (0.0006, 0.0010, 0.0030)
SKY_LOW = (0.0022, 0.0030, 0.0075)
EARTH = (0.0016, 0.0019, 0.0026)
UNLIT = 0.006
"""Light of a pixel that is off: a hint of the moon on the wires, so that the house keeps its shape in the dark."""


def night(
    metres: NDArray[np.float32], light: NDArray[np.float32], size: tuple[int, int] = (1280, 720)
) -> NDArray[np.uint8]:
    """A picture (height, width, 3) of sRGB bytes.

    metres: (n, 3), each pixel's place, x to the right, y up. light: (n, 3) linear light 0..1. size: width and
    height of the picture. The whole house is in it, at one scale in both directions.
    """
    width, height = size
    columns, rows, ground = _project(metres, width, height)
    lit = _splat(columns, rows, light + UNLIT, width, height) * EXPOSURE * (width / 1280)
    glow = _glow(lit, width / 1280)
    scene = _backdrop(width, height, ground) + glow + _on_the_ground(glow, ground)
    return _develop(scene)


GAP = 4
"""Dark between the pictures of a filmstrip."""


def filmstrip(
    frames: FramesFile, seconds: Sequence[float], captions: Sequence[str] = (), columns: int = 3, width: int = 480
) -> NDArray[np.uint8]:
    """Pictures at several moments of a frames file, in rows from left to right: sRGB bytes (height, width, 3).

    seconds: moments of the song. captions: a few words below each. width: of each picture, its height is 9/16 of it.
    """
    size = (width, width * 9 // 16)
    rows = -(-len(seconds) // columns)
    sheet = np.zeros((rows * (size[1] + GAP) - GAP, columns * (width + GAP) - GAP, 3), np.uint8)
    for place, moment in enumerate(seconds):
        picture = still(frames, moment, size)
        if place < len(captions):
            picture = _captioned(picture, captions[place])
        top, left = place // columns * (size[1] + GAP), place % columns * (width + GAP)
        sheet[top : top + size[1], left : left + width] = picture
    return sheet


def _captioned(picture: NDArray[np.uint8], words: str) -> NDArray[np.uint8]:
    from PIL import Image, ImageDraw, ImageFont

    image = Image.fromarray(picture)
    size = max(10, picture.shape[0] // 19)
    at = (size, picture.shape[0] - 2 * size)
    ImageDraw.Draw(image).text(at, words, fill=(150, 156, 176), font=ImageFont.load_default(size))
    return np.asarray(image)


def still(frames: FramesFile, seconds: float, size: tuple[int, int] = (1280, 720)) -> NDArray[np.uint8]:
    """The picture of the frame shown at a moment of the song; the nearest frame where there is none."""
    number = round((seconds - frames.start) * frames.frame_rate)
    number = min(max(number, 0), frames.frame_count - 1)
    light = frames.rgb(number).astype(np.float32) / 255.0
    picture = night(np.asarray(frames.metres, np.float32), light, size)
    return _warned(picture) if flashes_allowed(frames.texts.get("show", "")) else picture


WARNING = "This show may flash more than three times a second."
"""Stands on pictures of a show that allows it."""


def _warned(picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
    from PIL import Image, ImageDraw, ImageFont

    image = Image.fromarray(picture)
    size = max(9, picture.shape[0] // 24)
    ImageDraw.Draw(image).text((size, size), WARNING, fill=(240, 170, 60), font=ImageFont.load_default(size))
    return np.asarray(image)


def save_picture(picture: NDArray[np.uint8], path: str | Path) -> None:
    """Write a picture as PNG, whole or not at all."""
    from PIL import Image

    from eavesong.files import whole_file

    with whole_file(path) as draft:
        Image.fromarray(picture).save(draft, format="PNG", optimize=True)


def _project(metres: Picture, width: int, height: int) -> tuple[Picture, Picture, int]:
    """Column and row of every place, as seen from far away, and the row of the ground line at the house."""
    x, y = metres[:, 0], metres[:, 1]
    room_across, room_up = width * (1 - 2 * MARGIN), height * (1 - GROUND - 0.10)
    span, top = max(float(np.ptp(x)), 0.1), max(float(y.max()), 0.1)
    scale = min(room_across / span, room_up / top)
    ground = height - int(height * GROUND)
    columns = width / 2 + (x - (x.min() + x.max()) / 2) * scale
    return columns.astype(np.float32), (ground - y * scale).astype(np.float32), ground


def _splat(columns: Picture, rows: Picture, light: Picture, width: int, height: int) -> Picture:
    """Each light shared out over the four picture elements around it, so that its centre of light is its place."""
    canvas = np.zeros((height * width, 3), np.float64)
    left, top = np.floor(columns - 0.5), np.floor(rows - 0.5)
    across, down = columns - 0.5 - left, rows - 0.5 - top
    for step_x, share_x in ((0, 1 - across), (1, across)):
        for step_y, share_y in ((0, 1 - down), (1, down)):
            column = np.clip(left + step_x, 0, width - 1).astype(np.int64)
            row = np.clip(top + step_y, 0, height - 1).astype(np.int64)
            share = (share_x * share_y)[:, None] * light
            for channel in range(3):
                canvas[:, channel] += np.bincount(row * width + column, share[:, channel], height * width)
    return canvas.reshape(height, width, 3).astype(np.float32)


def _glow(lit: Picture, scale: float) -> Picture:
    from scipy.ndimage import gaussian_filter

    total = np.zeros_like(lit)
    for radius, share in GLOWS:
        sigma = max(radius * scale, 0.5)
        # A wide glow is blurred on a smaller picture: it looks the same and costs a fraction.
        step = max(1, int(sigma // 4))
        small = _shrunk(lit, step)
        blurred = gaussian_filter(small, (sigma / step, sigma / step, 0), mode="constant", truncate=3.0)
        total += share * _grown(blurred, step, lit.shape)
    return total


def _shrunk(picture: Picture, step: int) -> Picture:
    height, width = picture.shape[0] // step * step, picture.shape[1] // step * step
    padded = np.pad(picture, ((0, -picture.shape[0] % step), (0, -picture.shape[1] % step), (0, 0)))
    height, width = padded.shape[0] // step, padded.shape[1] // step
    small: Picture = padded.reshape(height, step, width, step, 3).mean(axis=(1, 3))
    return small


def _grown(small: Picture, step: int, shape: tuple[int, ...]) -> Picture:
    if step == 1:
        return small
    from scipy.ndimage import zoom

    grown: Picture = zoom(small, (step, step, 1), order=1, grid_mode=True, mode="nearest")
    return grown[: shape[0], : shape[1]]


def _backdrop(width: int, height: int, ground: int) -> Picture:
    """A clear night: darker overhead than at the horizon, and the earth darker still."""
    scene = np.empty((height, width, 3), np.float32)
    rise = np.linspace(0.0, 1.0, ground, dtype=np.float32)[:, None, None] ** 2
    scene[:ground] = np.array(SKY_TOP, np.float32) * (1 - rise) + np.array(SKY_LOW, np.float32) * rise
    depth = np.linspace(1.0, 0.4, height - ground, dtype=np.float32)[:, None, None]
    scene[ground:] = np.array(EARTH, np.float32) * depth
    return scene


def _on_the_ground(glow: Picture, ground: int) -> Picture:
    """What the lights spill on the earth before the house: their glow mirrored, spread and fading with distance."""
    from scipy.ndimage import gaussian_filter

    spill = np.zeros_like(glow)
    depth = glow.shape[0] - ground
    mirrored = glow[ground - 4 * depth : ground : 4][::-1][:depth]
    if len(mirrored):
        soft = gaussian_filter(mirrored, (depth / 10, depth / 4, 0), mode="nearest", truncate=3.0)
        fade = np.linspace(0.30, 0.04, len(soft), dtype=np.float32)[:, None, None]
        spill[ground : ground + len(soft)] = soft * fade
    return spill


def _develop(scene: Picture) -> NDArray[np.uint8]:
    """Tone mapping by 1 - exp(-light), as film takes light, with what burns out bleeding to white; then sRGB."""
    peak = scene.max(axis=2, keepdims=True)
    bleached = scene + 0.12 * np.maximum(peak - 1.0, 0.0)
    shown = 1.0 - np.exp(-bleached)
    return np.asarray(srgb_encode(shown) * 255.0 + 0.5).astype(np.uint8)
