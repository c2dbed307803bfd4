"""A picture of the plain house as a camera of known place and lens sees it: flat colours, drawn by Pillow. Invented."""

from __future__ import annotations

import io
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from PIL import Image, ImageDraw

from eavesong.survey.camera import Lens
from eavesong.survey.known import FILM_DIAGONAL
from survey_houses import HEIGHT, WIDTH, House

SKY, LAWN, PATH = (176, 200, 222), (110, 134, 92), (184, 178, 166)
WALL, ROOF, WOOD, GLASS, DOOR, GARAGE = (
    (214, 200, 178),
    (122, 84, 70),
    (96, 74, 58),
    (90, 112, 132),
    (120, 44, 40),
    (232, 230, 224),
)


def photo_of(house: House, lens: Lens) -> Image.Image:
    """What ``lens`` sees of the plain house, WIDTH x HEIGHT."""
    picture = Image.new("RGB", (WIDTH, HEIGHT), SKY)
    pen = ImageDraw.Draw(picture)
    at = {name: np.array(place) for name, place in house.places.items()}
    near = lens.place[2] - 2.0
    horizon = lens.see(np.array([[x, 0.0, -60.0] for x in np.linspace(-90, 90, 60)])).tolist()
    pen.polygon([*map(tuple, horizon), (WIDTH, HEIGHT), (0, HEIGHT)], fill=LAWN)
    door, last = at["door bl"][0], at["path b"][0]
    _face(pen, lens, [(door, 0, 0), (door + 0.91, 0, 0), (last, 0, near), (at["path a"][0], 0, near)], PATH)
    _face(pen, lens, [at["base l"], at["base r"], at["eave r"], at["eave l"]], WALL)
    _face(pen, lens, [at["eave l"], at["eave r"], at["gable"]], ROOF)
    for name, colour in (("door", DOOR), ("window", GLASS), ("garage", GARAGE)):
        _face(pen, lens, [at[f"{name} {corner}"] for corner in ("bl", "br", "tr", "tl")], colour)
    tree, top = at["tree foot"], at["tree top"]
    _face(pen, lens, [tree + np.array([-0.7, 0.3, 0]), tree + np.array([0.7, 0.3, 0]), top], (60, 92, 62))
    for name in ("arch 0", "arch 1", "arch 2", "path a", "path b", "tree foot"):
        corners = np.array([[-0.04, 0, 0], [0.04, 0, 0], [0.04, 0.3, 0], [-0.04, 0.3, 0]])
        _face(pen, lens, list(at[name] + corners), WOOD)
    return picture


def _face(
    pen: ImageDraw.ImageDraw, lens: Lens, corners: Sequence[Sequence[float]], colour: tuple[int, int, int]
) -> None:
    """A flat face; its edges bend with the lens."""
    ring = [np.asarray(corner, dtype=float) for corner in (*corners, corners[0])]
    path = np.concatenate([np.linspace(a, b, 40) for a, b in pairwise(ring)])
    before = path[lens.depth(path) > 0.2]
    pen.polygon([tuple(each) for each in lens.see(before).tolist()], fill=colour)


def as_jpeg(picture: Image.Image, lens: Lens | None = None, turned: int = 1) -> bytes:
    """The picture as a file; with ``lens``, its focal length stands in the EXIF (35 mm equivalent, rounded)."""
    exif = Image.Exif()
    if lens is not None:
        exif.get_ifd(0x8769)[0xA405] = round(lens.focal / np.hypot(*picture.size) * FILM_DIAGONAL)
    exif[0x0112] = turned
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=88, exif=exif)
    return out.getvalue()
