"""The house at night, from the street: every pixel a small light whose glow adds up as light does.

Pictures are computed in linear light and only at the end tone-mapped and encoded for a screen (sRGB,
IEC 61966-2-1), so two glows that meet are as bright as both together.
"""

from __future__ import annotations

import threading
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from eavesong.preview import brush
from eavesong.preview.glare import shares
from eavesong.preview.glow import BLOCK, half_bell, halvings, reached, shape_at, smaller, stamps
from eavesong.preview.ground import Ground
from eavesong.preview.outlook import Outlook
from eavesong.preview.subject import Subject, subject_of
from eavesong.preview.view import STREET, View
from eavesong.scene.reopen import Reopened
from eavesong.scene.sight import Sight

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
"""Light of a pixel that is off, in the same terms: a hint of the moon on its glass, and none of it reaches the ground.
Where many crowd, they show no more than one by itself."""
HINT = 0.006
"""Linear light of such a pixel's centre at most: a step or two above walls and lawn, where full white is 1."""

WARNING = "This show may flash more than three times a second."
"""Stands on pictures and clips of a show that does, or says that it may."""
AMBER = (2.0, 0.55, 0.05)
"""Light of the letters of a warning."""


class Painter:
    """A house seen from somewhere, ready to be lit frame after frame; used by several threads at once."""

    def __init__(
        self,
        source: Reopened | Subject,
        size: tuple[int, int] = (1280, 720),
        view: View = STREET,
        photo: Path | None = None,
        sight: Sight | None = None,
    ) -> None:
        """photo: a picture of the house. sight: where it is seen from, as the layout says where not given."""
        subject = source if isinstance(source, Subject) else subject_of(source)
        self.size = size
        self.hand: Any = brush
        self._own = threading.local()
        look = Outlook(subject, view, photo, sight)
        self.projection = look.projection(size)
        self.scale = min(size[0] / 1280, size[1] / 720)
        self._prepare(*self.projection.place(subject.metres), shares(self.projection, subject.metres, size))
        self.dark, house = look.backdrop(size)
        level = self._ground_level = min(self._gathered[0][0], 2)
        free = 1 - smaller(house, 2**level)
        self.ground = Ground(subject.metres, look.ground, self.projection, size, level, free)
        self.dark = np.maximum(self.dark, self._unlit(len(subject.metres)))

    def _prepare(self, columns: Picture, rows: Picture, looks: Picture) -> None:
        """Where all lights fall: the bells of the two narrow glows, and what is gathered for the wide ones.

        looks: (n,) how bright each light looks.
        """
        sigmas = [max(radius * self.scale, 0.5) for radius, _ in GLOWS]
        fine, coarse = [halvings(sigma) for sigma in sigmas[:2]], [max(1, halvings(sigma)) for sigma in sigmas[2:]]
        shapes = [shape_at(self.size, level) for level in range(max(coarse) + 1)]
        bright = EXPOSURE * self.scale * looks
        self._stamps = [
            (level, stamps(columns, rows, shapes[level], level, sigma, share * bright))
            for level, sigma, (_, share) in zip(fine, sigmas, GLOWS, strict=False)
        ]
        self._gathered = [
            (level, stamps(columns, rows, shapes[level], level, 0.0, bright), half_bell(sigma / 2**level))
            for level, sigma in zip(coarse, sigmas[2:], strict=True)
        ]
        self._shapes = shapes
        height, blocks = self.size[1], -(-self.size[0] // BLOCK)
        fine_ones = [reached(own, height) for level, own in self._stamps if level == 0]
        self._reached = np.maximum.reduce([np.zeros((height, blocks), np.uint8), *fine_ones])

    @property
    def dark(self) -> Picture:
        """The scene without any frame's light, linear (height, width, 3)."""
        return self._dark.transpose(0, 2, 1)

    @dark.setter
    def dark(self, scene: Picture) -> None:
        """Take another scene, linear (height, width, 3)."""
        self._stand(np.ascontiguousarray(scene.transpose(0, 2, 1)))

    def _stand(self, dark: Picture) -> None:
        """Take another scene (height, 3, width), which nobody changes from now on."""
        self._dark = dark
        self._roots: NDArray[np.uint16] | None = None

    def hurry(self) -> None:
        """Draw with compiled loops from now on: they take longer to load than a picture, and a tenth to draw it."""
        from eavesong.preview import paint

        self.hand = paint

    def _unlit(self, count: int) -> Picture:
        """What the lamps themselves look like while they are off, linear (height, width, 3)."""
        (level, disc), off = self._stamps[0], np.zeros(self._shapes[0], np.float32)
        if level == 0:
            self.hand.stamp(disc, np.full((count, 3), UNLIT, np.float32), off)
        return np.minimum(off, np.float32(HINT)).transpose(0, 2, 1)

    def write(self, words: str) -> None:
        """Let a few words stand at the upper left of every picture from now on."""
        from PIL import Image, ImageDraw, ImageFont

        width, height = self.size
        letters = max(9, height // 24)
        mask = Image.new("L", (width, 3 * letters))
        font = ImageFont.load_default(letters)
        letters = min(letters, int(letters * 0.95 * (width - 2 * letters) / max(1.0, font.getlength(words))))
        ImageDraw.Draw(mask).text((letters, letters), words, fill=255, font=ImageFont.load_default(max(6, letters)))
        self._plain, dark = self._dark, self._dark.copy()
        share = np.asarray(mask, np.float32)[:height, None] / 255
        dark[: len(share)] += share * np.array(AMBER, np.float32)[:, None]
        self._stand(dark)

    def wipe(self) -> None:
        """Take the words away again."""
        self._stand(self._plain)

    def glow(self, light: Picture) -> Picture:
        """The light in the picture, linear (height, width, 3), without the backdrop, for ``light`` (n, 3) 0..1."""
        canvas, half = self._drawn(light)
        self.hand.double(half, canvas)
        return canvas.transpose(0, 2, 1).copy()

    def picture(self, light: Bytes) -> Bytes:
        """The picture as sRGB bytes (height, width, 3), for the light of a frame, uint8 (n, 3)."""
        return self._developed(*self._drawn(light.astype(np.float32) / np.float32(255)))

    def developed(self, glow: Picture) -> Bytes:
        """Tone mapping by 1 - exp(-light), as film takes light, with what burns out bleeding to white; then sRGB."""
        return self._developed(np.ascontiguousarray(glow.transpose(0, 2, 1)), np.zeros(self._shapes[1], np.float32))

    def _developed(self, canvas: Picture, half: Picture) -> Bytes:
        out = np.empty((*self.size[::-1], 3), np.uint8)
        self.hand.develop(canvas, half, self._dark, grain(self.size[0]), out)
        return out

    def film(self, light: Bytes, luma: Bytes, blue: Bytes, red: Bytes) -> None:
        """Draw the picture as H.264 takes it, ITU-R BT.709 in 4:2:0, into luma (h, w), blue and red (h / 2, w / 2);
        their lines may be longer."""
        from eavesong.preview import paint

        canvas, half = self._drawn(light.astype(np.float32) / np.float32(255))
        if self._roots is None:
            self._roots = paint.roots_of(self._dark)
        paint.film(canvas, self._reached, half, self._roots, grain(self.size[0]), luma, blue, red)
        self._own.dark = True

    def _drawn(self, light: Picture) -> tuple[Picture, Picture]:
        """The canvas, and what is still to be drawn on it twice as large."""
        if not hasattr(self._own, "canvases"):  # for each thread: to get new memory takes as long as to draw in it
            self._own.canvases, self._own.dark = [np.empty(shape, np.float32) for shape in self._shapes], False
        canvases: list[Picture] = self._own.canvases
        for canvas in canvases[1:] if self._own.dark else canvases:
            canvas.fill(0)
        self._own.dark = False
        self._draw_wide(light, canvases)
        for level, own in self._stamps:
            self.hand.stamp(own, light, canvases[level])
        self.ground.spill(light, self.hand, canvases[self._ground_level])
        for level in range(self._gathered[0][0], 1, -1):
            self.hand.double(canvases[level], canvases[level - 1])
        return canvases[0], canvases[1]

    def _draw_wide(self, light: Picture, canvases: list[Picture]) -> None:
        """The bloom and the haze on the canvas of the bloom."""
        (level, bloom, bell), (widest, haze, soft) = self._gathered
        self.hand.stamp(haze, light, canvases[widest])
        self.hand.blur(canvases[widest], soft, soft)
        canvases[widest] *= np.float32(GLOWS[3][1])
        for at in range(widest, level, -1):
            self.hand.double(canvases[at], canvases[at - 1])
        gathered = np.zeros_like(canvases[level])
        self.hand.stamp(bloom, light, gathered)
        self.hand.blur(gathered, bell, bell)
        canvases[level] += gathered * np.float32(GLOWS[2][1])


@cache
def grain(width: int) -> NDArray[np.float32]:
    """(64, width) numbers 0..1 in which neighbours differ: hides the steps of slow gradients, always the same."""
    random = np.random.default_rng(5).random((64, 64))
    rough = random - sum(np.roll(random, shift, axis) for shift in (-1, 1) for axis in (0, 1)) / 4
    ranks = (rough.ravel().argsort().argsort().reshape(64, 64) + 0.5) / rough.size
    return np.tile(ranks, (1, -(-width // 64)))[:, :width].astype(np.float32)


def still(
    frames: FramesFile,
    seconds: float,
    size: tuple[int, int] = (1280, 720),
    view: View = STREET,
    photo: Path | None = None,
    sight: Sight | None = None,
) -> Bytes:
    """The picture of the frame shown at a moment of the song; the nearest frame where there is none."""
    source = Reopened(frames)
    scene = Painter(source, size, view, photo, sight)
    if source.allows_flashes:
        scene.write(WARNING)
    return scene.picture(source.light_at(seconds))


GAP = 4
"""Dark between the pictures of a filmstrip."""


def filmstrip(
    frames: FramesFile,
    seconds: Sequence[float],
    captions: Sequence[str] = (),
    columns: int = 3,
    width: int = 480,
    view: View = STREET,
    photo: Path | None = None,
    sight: Sight | None = None,
) -> Bytes:
    """Pictures at several moments of a frames file, in rows from left to right: sRGB bytes (height, width, 3).

    seconds: moments of the song. captions: a few words below each. width: of each picture, its height is 9/16 of it.
    """
    size = (width, width * 9 // 16)
    columns = min(columns, max(1, len(seconds)))
    rows = -(-len(seconds) // columns)
    sheet = np.zeros((rows * (size[1] + GAP) - GAP, columns * (width + GAP) - GAP, 3), np.uint8)
    source = Reopened(frames)
    scene = Painter(source, size, view, photo, sight)
    if source.allows_flashes:
        scene.write(WARNING)
    for place, moment in enumerate(seconds):
        picture = scene.picture(source.light_at(moment))
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

    kind: dict[str, object] = {"format": "PNG", "compress_level": 4}
    if Path(path).suffix.lower() == ".webp":
        kind = {"format": "WEBP", "quality": 88, "method": 4}
    with whole_file(path) as draft:
        Image.fromarray(picture).save(draft, **kind)  # type: ignore[arg-type]
