"""A small house, a song of eight seconds and a show of two cues, to be watched; and patience."""

import time
import zlib
from pathlib import Path

import numpy as np

from eavesong.scene import Order
from eavesong.watch.blocks import END
from lamps import write_click
from shows import GLOW, HOUSE, WASH

SHOW = """\
title = "Two cues"   # a title
song = "song.wav"

[palettes]
dusk = ["#201040", "#ff8000"]

[[cue]]
name = "Glow on the roof"
effect = "glow.toml"
on = "roofline"
parameters = { strength = 0.5 } # half of it
opacity = 0.8

# --- the second half ---

[[cue]]
name = "Wash"
effect = "wash.toml"
bars = [3, 5]
palette = "dusk"
blend = "plus-lighter"
fade_in = { bars = 0.5 }
"""


def write_all(folder: Path) -> Order:
    """The house, the effects, the song and the show in ``folder``; the order that shows them."""
    for name, text in (("house.toml", HOUSE), ("glow.toml", GLOW), ("wash.toml", WASH), ("two.show.toml", SHOW)):
        (folder / name).write_text(text)
    write_click(folder / "song.wav", [beat / 2 for beat in range(16)])
    (folder / "song.beats").write_text("".join(f"{beat / 2}\t{beat % 4 + 1}\n" for beat in range(16)))
    (folder / "song.sections").write_text("0\t8\tverse\n")
    return order_in(folder)


def order_in(folder: Path) -> Order:
    """The order that shows what is in ``folder`` already."""
    return Order.of(folder / "two.show.toml", folder / "house.toml")


def strobe(folder: Path) -> None:
    """Make the show's first cue flash ten times a second, all over the house."""
    code = "level = step(0.5, fract(10 * t))\ncolour = linear_rgb(1, 1, 1)\n"
    (folder / "glow.toml").write_text(f'title = "S"\nabout = "S."\ncode = """\n{code}"""\n')
    show = SHOW.replace('on = "roofline"\nparameters = { strength = 0.5 } # half of it', 'on = "all"')
    (folder / "two.show.toml").write_text(show.replace("opacity = 0.8", "opacity = 1"))


def light_of(block):
    """The light (frames, 3 * pixels) of a block as it is sent, unpacked by Python's own zlib (RFC 1951)."""
    data = zlib.decompress(b"".join([*(piece.data for piece in block.pieces), END]), wbits=-zlib.MAX_WBITS)
    parts, at = [], 0
    for size in (len(zlib.decompress(piece.data + END, wbits=-zlib.MAX_WBITS)) for piece in block.pieces):
        parts.append(np.frombuffer(data[at : at + size], np.uint8).reshape(block.frames, -1))
        at += size
    return np.concatenate(parts, axis=1)


def until(true, seconds=240):
    """Wait until something is true; what it says is returned."""
    end = time.monotonic() + seconds
    while not (found := true()):
        assert time.monotonic() < end, "it has not become true"
        time.sleep(0.01)
    return found


def free_port() -> int:
    """A port that nobody listens on."""
    import socket

    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        return int(taken.getsockname()[1])
