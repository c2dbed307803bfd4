"""The house at night, from the street: every pixel a small light whose glow adds up as light does.

Pictures are computed in linear light and only at the end tone-mapped and encoded for a screen (sRGB,
IEC 61966-2-1), so two glows that meet are as bright as both together.
"""

from __future__ import annotations

import math
import threading
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.preview.backdrop import backdrop
from eavesong.preview.source import Source
from eavesong.preview.view import FRONT, View, project

if TYPE_CHECKING:
    from eavesong.frames import FramesFile

Picture = NDArray[np.float32]
Bytes = NDArray[np.uint8]

GLOWS = ((0.9, 1.0), (3.2, 0.5), (14.0, 0.55), (60.0, 0.5))
"""(radius, share) of the glow around a light: its disc, a halo, a bloom and the haze. Radii are standard deviations
in pixels of a picture 1280 wide and 720 high."""

EXPOSURE = 16.0
"""Brightness of a full light's centre before tone mapping, as a multiple of white, in such a picture."""

UNLIT = 0.006
"""Light of a pixel that is off: a hint of the moon on the wires, so that the house keeps its shape in the dark."""

SPILL = (0.30, 0.04)
"""How much of their glow the lights spill on the ground, at the house and at the lower edge."""


class Scene:
    """A house seen from somewhere, ready to be lit frame after frame; used by several threads at once."""

    def __init__(
        self, source: Source, size: tuple[int, int] = (1280, 720), view: View = FRONT, photo: Path | None = None
    ) -> None:
        self.size = size
        self._own = threading.local()
        self.projection = project(source.metres, size, view)
        columns, rows = self.projection.place(source.metres)
        # Those that are nearer come last, which matters to nobody: light only adds up.
        self.columns, self.rows = np.ascontiguousarray(columns), np.ascontiguousarray(rows)
        self.scale = min(size[0] / 1280, size[1] / 720)
        self.dark = backdrop(source, self.projection, size, photo)
        self.dark += self.glow(np.full((len(columns), 3), UNLIT, np.float32))

    def glow(self, light: Picture, canvas: Picture | None = None) -> Picture:
        """The light in the picture, linear (height, width, 3), without the backdrop, for ``light`` (n, 3) 0..1.

        canvas: where to draw it; a new one where it is None.
        """
        from eavesong.preview import paint

        width, height = self.size
        lit = np.ascontiguousarray(light, np.float32) * np.float32(EXPOSURE * self.scale)
        if canvas is None:
            canvas = np.empty((height, width, 3), np.float32)
        canvas.fill(0)
        wide: list[tuple[Picture, int]] = []
        for radius, share in GLOWS:
            sigma = max(radius * self.scale, 0.5)
            step = 2 ** max(0, math.floor(math.log2(sigma / 1.6)))
            if step == 1:
                paint.stamp(self.columns, self.rows, lit * np.float32(share), sigma, canvas)
            else:
                wide.append((self._gathered(lit * np.float32(share), sigma, step), step))
        self._spill(wide, canvas)
        # The widest glow is drawn large on the canvas of the next one, that on the next, and the last in the picture.
        for (small, step), (finer, scale) in zip(wide[::-1], [*wide[-2::-1], (canvas, 1)], strict=True):
            paint.enlarge(small, step / scale, 0, 1.0, finer)
        return canvas

    def picture(self, light: Bytes) -> Bytes:
        """The picture as sRGB bytes (height, width, 3), for the light of a frame, uint8 (n, 3)."""
        if not hasattr(self._own, "canvas"):  # one for each thread: to get new memory takes as long as to draw in it
            self._own.canvas = np.empty((self.size[1], self.size[0], 3), np.float32)
        return self.developed(self.glow(light.astype(np.float32) / np.float32(255), self._own.canvas))

    def developed(self, glow: Picture) -> Bytes:
        """Tone mapping by 1 - exp(-light), as film takes light, with what burns out bleeding to white; then sRGB."""
        from eavesong.preview import paint

        out = np.empty(glow.shape, np.uint8)
        paint.develop(glow, self.dark, grain(self.size[0]), out.reshape(len(out), -1))
        return out

    def _gathered(self, lit: Picture, sigma: float, step: int) -> Picture:
        """The lights on a canvas ``step`` times coarser, as a glow of ``sigma``."""
        from eavesong.preview import paint

        width, height = self.size
        small = np.zeros((-(-height // step), -(-width // step), 3), np.float32)
        paint.gather(self.columns, self.rows, lit, step, small)
        _blur(small, sigma / step, sigma / step)
        return small

    def _spill(self, wide: Sequence[tuple[Picture, int]], canvas: Picture) -> None:
        """What the lights spill on the earth before the house: their glow mirrored, spread and fading with distance."""
        from eavesong.preview import paint

        ground, depth = self.projection.ground, self.size[1] - self.projection.ground
        if not depth or not wide:
            return
        for small, step in wide:
            tall = max(1, depth // step)
            rows = np.clip(ground // step - 1 - 4 * np.arange(tall), 0, len(small) - 1)
            soft = np.ascontiguousarray(small[rows])
            _blur(soft, depth / 10 / step, depth / 4 / step)
            soft *= np.linspace(*SPILL, tall, dtype=np.float32)[:, None, None]
            paint.enlarge(soft, step, ground, 2.0, canvas)


def _blur(canvas: Picture, down: float, along: float) -> None:
    from eavesong.preview import paint

    flat = canvas.reshape(len(canvas), -1)
    paint.blur(flat, np.empty_like(flat), _bell(along), _bell(down))


def _bell(sigma: float) -> NDArray[np.float32]:
    """Half a bell of weights, from the middle outwards; the whole adds up to 1."""
    half = np.exp(-(np.arange(math.ceil(3 * sigma) + 1) ** 2) / (2 * max(sigma, 1e-3) ** 2))
    return np.asarray(half / (2 * half.sum() - half[0]), np.float32)


@cache
def grain(width: int) -> NDArray[np.float32]:
    """(64, 3 width) numbers 0..1 in which neighbours differ: hides the steps of slow gradients, always the same."""
    random = np.random.default_rng(5).random((64, 64))
    rough = random - sum(np.roll(random, shift, axis) for shift in (-1, 1) for axis in (0, 1)) / 4
    ranks = (rough.ravel().argsort().argsort().reshape(64, 64) + 0.5) / rough.size
    return np.tile(ranks.repeat(3, axis=1), (1, -(-width // 64)))[:, : 3 * width].astype(np.float32)


def night(metres: NDArray[np.float32], light: NDArray[np.float32], size: tuple[int, int] = (1280, 720)) -> Bytes:
    """A picture (height, width, 3) of sRGB bytes of lights under a night sky.

    metres: (n, 3), each pixel's place, x to the right, y up. light: (n, 3) linear light 0..1. size: width and
    height of the picture. The whole house is in it, at one scale in both directions.
    """
    scene = Scene(_Bare(metres), size)
    return scene.developed(scene.glow(light))


class _Bare(Source):
    """Places alone, without a frames file."""

    def __init__(self, metres: NDArray[np.float32]) -> None:
        from types import SimpleNamespace
        from typing import Any, cast

        super().__init__(cast(Any, SimpleNamespace(metres=metres, props=())))


def still(
    frames: FramesFile,
    seconds: float,
    size: tuple[int, int] = (1280, 720),
    view: View = FRONT,
    photo: Path | None = None,
) -> Bytes:
    """The picture of the frame shown at a moment of the song; the nearest frame where there is none."""
    source = Source(frames)
    return _warned(source, Scene(source, size, view, photo).picture(source.light_at(seconds)))


WARNING = "This show may flash more than three times a second."
"""Stands on pictures of a show that allows it."""


def _warned(source: Source, picture: Bytes) -> Bytes:
    """The picture, with a warning where the show says ``allow_flashes = true``."""
    from eavesong.show.model import flashes_allowed

    text = source.frames.texts.get("show", "")
    if "allow_flashes" not in text or not flashes_allowed(text):
        return picture
    from PIL import Image, ImageDraw, ImageFont

    image = Image.fromarray(picture)
    size = max(9, picture.shape[0] // 24)
    ImageDraw.Draw(image).text((size, size), WARNING, fill=(240, 170, 60), font=ImageFont.load_default(size))
    return np.asarray(image)


GAP = 4
"""Dark between the pictures of a filmstrip."""


def filmstrip(
    frames: FramesFile,
    seconds: Sequence[float],
    captions: Sequence[str] = (),
    columns: int = 3,
    width: int = 480,
    view: View = FRONT,
    photo: Path | None = None,
) -> Bytes:
    """Pictures at several moments of a frames file, in rows from left to right: sRGB bytes (height, width, 3).

    seconds: moments of the song. captions: a few words below each. width: of each picture, its height is 9/16 of it.
    """
    size = (width, width * 9 // 16)
    columns = min(columns, max(1, len(seconds)))
    rows = -(-len(seconds) // columns)
    sheet = np.zeros((rows * (size[1] + GAP) - GAP, columns * (width + GAP) - GAP, 3), np.uint8)
    source = Source(frames)
    scene = Scene(source, size, view, photo)
    for place, moment in enumerate(seconds):
        picture = _warned(source, scene.picture(source.light_at(moment)))
        if place < len(captions):
            picture = captioned(picture, captions[place])
        top, left = place // columns * (size[1] + GAP), place % columns * (width + GAP)
        sheet[top : top + size[1], left : left + width] = picture
    return sheet


def captioned(picture: Bytes, words: str) -> Bytes:
    """The picture with a few words at its lower left."""
    from PIL import Image, ImageDraw, ImageFont

    image = Image.fromarray(picture)
    size = max(10, picture.shape[0] // 19)
    at = (size, picture.shape[0] - 2 * size)
    ImageDraw.Draw(image).text(at, words, fill=(150, 156, 176), font=ImageFont.load_default(size))
    return np.asarray(image)


def save_picture(picture: Bytes, path: str | Path) -> None:
    """Write a picture as PNG, or as WebP where the name ends so; whole or not at all."""
    from PIL import Image

    from eavesong.files import whole_file

    kind: dict[str, object] = {"format": "PNG", "compress_level": 6}
    if Path(path).suffix.lower() == ".webp":
        kind = {"format": "WEBP", "quality": 88, "method": 4}
    with whole_file(path) as draft:
        Image.fromarray(picture).save(draft, **kind)  # type: ignore[arg-type]
