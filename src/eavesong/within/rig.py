"""A house as what its bytes do: which channels belong to each pixel, what light they make, what they draw."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.light import light_of, light_table

if TYPE_CHECKING:
    from eavesong.layout import Layout
    from eavesong.layout.feeds import PowerPlan

LETTERS = "RGBW"


@dataclass(frozen=True, eq=False)
class Rig:
    """Arrays over the n pixels of a house, as ``kernels.watch`` and ``kernels.current`` take them."""

    channel_count: int
    places: NDArray[np.int64]
    """(n, 4): channel of a frame that holds red, green, blue and white; -1 where there is no white."""
    curves: NDArray[np.int16]
    """(n,): row of ``tables``."""
    tables: NDArray[np.float32]
    """(k, 256): linear light of each byte, 0..1, as a share of what the brightest pixel of this house can give."""
    amperes: NDArray[np.float32]
    """(n, 4): drawn by each step of a byte."""
    idle: NDArray[np.float32]
    """(n,): amperes of a dark pixel."""
    volts: NDArray[np.float32]
    """(n,): of its supply; of the pixel's kind where it has none."""

    @property
    def full(self) -> NDArray[np.float64]:
        """(n,) amperes at full white, every channel at 255."""
        lit = np.where(self.places >= 0, self.amperes, 0).astype(np.float64)
        amperes: NDArray[np.float64] = 255 * lit.sum(axis=1) + self.idle
        return amperes

    def channel_amperes(self) -> NDArray[np.float32]:
        """(channels,): drawn by each step of each channel's byte."""
        out = np.zeros(self.channel_count, np.float32)
        for colour in range(4):
            used = self.places[:, colour] >= 0
            out[self.places[used, colour]] = self.amperes[used, colour]
        return out


def rig_of(layout: Layout) -> Rig:
    """The rig of a layout, from its patch and its kinds of pixels.

    Light is what a pixel gives, see `eavesong.light`. A house that is driven at part brightness is measured against its
    own brightest pixel, as eyes at night are.
    """
    patch, power = layout.patch, layout.power
    offsets = np.array([[order.find(letter) for letter in LETTERS] for order in patch.orders], np.int64)[patch.order]
    gammas, curves = np.unique(patch.gamma, return_inverse=True)
    curves = np.asarray(curves).reshape(-1)
    brightest = float(light_of(patch.brightness, patch.gamma).max(initial=0)) or 1.0
    tables = np.stack([np.minimum(light_table(float(gamma)) / brightest, 1) for gamma in gammas])
    kinds = power.types
    amperes = np.array([(*kind.amperes, 0.0)[:4] for kind in kinds])[power.type]
    return Rig(
        channel_count=patch.channel_count,
        places=np.where(offsets < 0, -1, patch.channel_start[:, None] + offsets),
        curves=curves.astype(np.int16),
        tables=tables.astype(np.float32),
        amperes=(amperes / 255).astype(np.float32),
        idle=np.array([kind.idle for kind in kinds], np.float32)[power.type],
        volts=_volts(power),
    )


def _volts(power: PowerPlan) -> NDArray[np.float32]:
    volts = np.array([kind.volts for kind in power.types], np.float32)[power.type]
    for supply in power.supplies:
        for feed in supply.feeds:
            volts[power.strings[feed.string].pixels[feed.start : feed.stop]] = supply.volts
    return volts
