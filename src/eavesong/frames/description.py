"""What a frames file says about its frames: the song, the house, the patch and the texts they were made from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np


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

    The run's pixels are those whose *first* channel lies in it. Only where a pixel straddles two universes does a
    run begin or end inside a pixel; it then counts in the row that holds its first channel.
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
    output: str = ""
    brightness: float = 1.0
    """Share of full brightness, 0..1, already contained in the bytes."""
    gamma: float = 1.0
    """Exponent already contained in the bytes."""


@dataclass(frozen=True, eq=False)
class Description:
    """Everything a frames file holds besides the frames. Raises ValueError when its parts do not fit together."""

    title: str
    frame_rate: float
    """Frames per second, above 0."""
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
    song_seconds: float = 0.0
    hashes: Mapping[str, str] = field(default_factory=dict)
    """Hex digests of what is not contained as a text: ``audio``. Those of the texts are added by the writer."""

    def __post_init__(self) -> None:
        if not self.frame_rate > 0:
            raise ValueError(f"a frame rate is above 0, not {self.frame_rate}")
        for name in ("places", "metres"):
            table = np.ascontiguousarray(getattr(self, name), dtype=np.float32)
            if table.ndim != 2 or table.shape[1] != 3:
                raise ValueError(f"{name} has a row of 3 for each pixel, not the shape {table.shape}")
            object.__setattr__(self, name, table)
        if self.places.shape != self.metres.shape:
            raise ValueError("places and metres hold the same pixels")
        pixel_orders(self.patch, self.pixel_count)

    @property
    def pixel_count(self) -> int:
        """Pixels of the house."""
        return len(self.places)

    @property
    def channel_count(self) -> int:
        """Bytes of a frame: the end of the last run of channels."""
        return max((row.first_channel + row.channel_count for row in self.patch), default=0)


def pixel_orders(patch: tuple[PatchRow, ...], pixel_count: int) -> list[str]:
    """The colour order of every pixel; ValueError when a row names pixels that are not there or one is left out."""
    orders = [""] * pixel_count
    for row in patch:
        stop = row.first_pixel + row.pixel_count
        if row.first_pixel < 0 or row.pixel_count < 0 or stop > pixel_count:
            raise ValueError(f"a patch row of '{row.prop}' names pixel {stop - 1} of {pixel_count}")
        if row.pixel_count and not {"R", "G", "B"} <= set(row.order) <= {"R", "G", "B", "W"}:
            raise ValueError(f"a patch row of '{row.prop}' has the colour order '{row.order}'")
        orders[row.first_pixel : stop] = [row.order] * row.pixel_count
    if "" in orders:
        raise ValueError(f"pixel {orders.index('')} stands in no row of the patch")
    return orders
