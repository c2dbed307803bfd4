"""What a frames file says about its frames: the song, the house, the patch and the texts they were made from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from eavesong.frames import misfits

if TYPE_CHECKING:
    from eavesong.layout import Layout


@dataclass(frozen=True)
class PropRow:
    """A prop and its run of pixels, ``first_pixel`` up to but not including ``first_pixel + pixel_count``."""

    name: str
    first_pixel: int
    pixel_count: int
    tags: tuple[str, ...] = ()
    shape: str = ""


@dataclass(frozen=True)
class PatchRow:
    """A run of channels of a frame and where it is sent.

    A run holds whole pixels, but for a pixel that straddles two universes: it stands in two rows of its own, each
    with ``pixel_count`` 1 and a part of its channels.
    """

    prop: str
    first_pixel: int
    pixel_count: int
    first_channel: int
    channel_count: int
    order: str
    """The pixel's channels in the order they are sent, one letter each: ``GRB``, ``RGBW``."""
    universe: int = 0
    """1..63999 (ANSI E1.31, 6.2.7); 0 for channels that are sent nowhere."""
    slot: int = 0
    """1..512: the data slot of the run's first channel; 0 where there is no universe."""
    controller: str = ""
    address: str = ""
    """A host or IP address, or ``multicast``."""
    protocol: str = ""
    output: int = 0
    """The controller's connector, from 1; 0 where there is none."""
    frame_rate_limit: float = 0.0
    """Frames per second the controller takes at most; 0 where that is not known."""
    brightness: float = 1.0
    """Share of full brightness, 0..1, already contained in the bytes."""
    gamma: float = 1.0
    """The exponent the share of light was raised to, already contained in the bytes."""


@dataclass(frozen=True, eq=False)
class Description:
    """Everything a frames file holds besides the frames. Raises ValueError when its parts do not fit together."""

    title: str
    frame_rate: float
    """Frames per second, 0.1 to 1,000."""
    places: np.ndarray
    """float32 (pixel, 3): x y z, 0..1 of the house frame."""
    metres: np.ndarray
    """float32 (pixel, 3): X Y Z from the house frame's left, bottom, back corner."""
    props: tuple[PropRow, ...]
    patch: tuple[PatchRow, ...]
    """In channel order; every pixel in at least one row, sent somewhere or not."""
    texts: Mapping[str, str] = field(default_factory=dict)
    """What the frames were made from: ``layout``, ``show``, ``beats``, ``sections``, ``effect <name>``."""
    start: float = 0.0
    """Seconds into the song at which frame 0 is shown."""
    song: str = ""
    """Name of its file."""
    song_path: str = ""
    """Where it lay, from the folder of the frames file, with slashes; likewise ``photo_path``, of the house's photo."""
    photo_path: str = ""
    law: str = ""
    """How light became bytes, in words."""
    song_seconds: float = 0.0
    origin: tuple[float, ...] = (0.0, 0.0, 0.0)
    """Metres: where the house frame's left, bottom, back corner is in the layout's own places."""
    hashes: Mapping[str, str] = field(default_factory=dict)
    """Hex digests of what is not contained as a text: ``audio``. Those of the texts are added by the writer."""

    def __post_init__(self) -> None:
        for name in ("places", "metres"):
            table = np.ascontiguousarray(getattr(self, name), dtype=np.float32)
            if table.ndim != 2 or table.shape[1] != 3:
                raise ValueError(f"{name} has a row of 3 for each pixel, not the shape {table.shape}")
            object.__setattr__(self, name, table)
        numbers = misfits.in_numbers(self.frame_rate, self.start, self.song_seconds, self.origin)
        tables = misfits.in_tables(self.places, self.metres, self.props, self.patch, self.channel_count)
        if found := misfits.first_of([*numbers, *tables]):
            raise ValueError(found)

    @property
    def pixel_count(self) -> int:
        """Pixels of the house."""
        return len(self.places)

    @property
    def channel_count(self) -> int:
        """Bytes of a frame: one for each letter of each pixel's colour order."""
        orders, chosen = pixel_orders(self.patch, self.pixel_count)
        return int(np.array([len(order) for order in orders], np.int64)[chosen].sum()) if orders else 0


def describe(
    layout: Layout,
    *,
    title: str,
    frame_rate: float,
    texts: Mapping[str, str] | None = None,
    start: float = 0.0,
    song: str = "",
    song_path: str = "",
    photo_path: str = "",
    law: str = "",
    song_seconds: float = 0.0,
    hashes: Mapping[str, str] | None = None,
) -> Description:
    """The description of frames made for ``layout``; its own text is added to ``texts``, the rest is passed on."""
    pixels = layout.pixels
    return Description(
        title=title,
        frame_rate=frame_rate,
        places=np.stack([pixels.x, pixels.y, pixels.z], axis=1),
        metres=np.stack([pixels.X, pixels.Y, pixels.Z], axis=1),
        props=tuple(
            PropRow(prop.name, prop.start, prop.stop - prop.start, tuple(sorted(prop.tags)), prop.shape)
            for prop in layout.props
        ),
        patch=_patch_rows(layout),
        texts={"layout": layout.text} | dict(texts or {}),
        start=start,
        song=song,
        song_path=song_path,
        photo_path=photo_path,
        law=law,
        song_seconds=song_seconds,
        origin=tuple(layout.frame.origin.tolist()),
        hashes={"layout files": layout.content_hash} | dict(hashes or {}),
    )


def _patch_rows(layout: Layout) -> tuple[PatchRow, ...]:
    """The layout's runs in channel order, and a row that is sent nowhere for each prop without one."""
    patch = layout.patch
    boxes = {box.name: box for box in patch.controllers}
    rows = [
        PatchRow(
            run.prop, run.first_pixel, run.pixel_count, run.first_channel, run.channel_count, run.order,
            run.universe, run.slot, run.controller, boxes[run.controller].address,
            boxes[run.controller].protocol, run.output, boxes[run.controller].frame_rate_limit or 0.0,
            run.brightness, float(patch.gamma[run.first_pixel]),
        )
        for run in patch.runs
    ]  # fmt: skip
    wired = {row.prop for row in rows}
    for prop in layout.props:
        if prop.name not in wired:
            first = int(patch.channel_start[prop.start])
            width = int(patch.channel_width[prop.start])
            order = patch.orders[patch.order[prop.start]]
            count = prop.stop - prop.start
            rows.append(PatchRow(prop.name, prop.start, count, first, count * width, order))
    return tuple(sorted(rows, key=lambda row: row.first_channel))


def pixel_orders(patch: tuple[PatchRow, ...], pixel_count: int) -> tuple[tuple[str, ...], np.ndarray]:
    """The colour orders of a patch, and for each pixel which of them it has: int64 (pixel,).

    Raises ValueError when a row names pixels that are not there, or a pixel stands in no row.
    """
    orders = tuple(dict.fromkeys(row.order for row in patch if row.pixel_count))
    chosen = np.full(pixel_count, -1, np.int64)
    for row in patch:
        stop = row.first_pixel + row.pixel_count
        if row.first_pixel < 0 or row.pixel_count < 0 or stop > pixel_count:
            raise ValueError(f"a patch row of '{row.prop}' names pixel {stop - 1} of {pixel_count}")
        if row.pixel_count:
            chosen[row.first_pixel : stop] = orders.index(row.order)
    for order in orders:
        if sorted(order) not in (["B", "G", "R"], ["B", "G", "R", "W"]):
            raise ValueError(f"'{order}' is not a colour order")
    if pixel_count and chosen.min() < 0:
        raise ValueError(f"pixel {int(chosen.argmin())} stands in no row of the patch")
    return orders, chosen


def colour_channels(patch: tuple[PatchRow, ...], pixel_count: int) -> tuple[np.ndarray, np.ndarray]:
    """Where in a frame each pixel's colours lie: int64 (pixel, 3) of red, green, blue, and (pixel,) of white.

    White is -1 for a pixel that has none. A frame holds its pixels one after the other, each with as many
    channels as its order has letters.
    """
    orders, chosen = pixel_orders(patch, pixel_count)
    widths = np.array([len(order) for order in orders], np.int64)[chosen]
    starts = np.cumsum(widths) - widths
    offsets = np.array([[order.index(letter) for letter in "RGB"] for order in orders], np.int64).reshape(-1, 3)
    whites = np.array([order.find("W") for order in orders], np.int64)[chosen]
    return starts[:, None] + offsets[chosen], np.where(whites < 0, -1, starts + whites)
