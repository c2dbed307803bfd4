"""A folder with a short song, a show of three cues, a house of four props and its frames, to retarget from."""

from pathlib import Path
from typing import Any

import numpy as np

from eavesong.frames import open_frames
from eavesong.render import Order, render
from eavesong.retarget import Retargeted, retarget

SHOW = """
title = "Changes"
song = "song.wav"
[[cue]]
effect = "gradient"
on = "not ring"
[[cue]]
effect = "runners"
on = "ring or arch"
[[cue]]
effect = "glimmer"
on = ["roofline", "upper"]
blend = "plus-lighter"
"""

PROPS = {
    "gutter": 'shape = "line"\nat = [0, 3, 1]\nto = [6, 0, 0]\npixels = 60\ntags = ["roofline"]',
    "arch": 'shape = "arch"\nat = [2, 0, 2]\nwidth = 1\nheight = 1\npixels = 20\ntags = ["arch"]',
    "ring": 'shape = "ring"\nat = [4, 2, 0]\nwidth = 1\npixels = 24\ntags = ["ring"]',
    "fir": 'shape = "cone"\nat = [5, 0, 1]\nheight = 2\nbase = 1\nstrings = 4\npixels = 10\ntags = ["tree"]',
}
FRAME = "[frame]\nfrom = [-1, 0, 0]\nto = [9, 6, 3]\n"


def house_text(props: dict[str, str], order: str = "RGB", more: str = "") -> str:
    text = f'title = "House"\n{FRAME}'
    text += "".join(f'[[prop]]\nname = "{name}"\n{keys}\n' for name, keys in props.items())
    chain = ", ".join(f'"{name}"' for name in props)
    box = f'[[controller]]\nname = "box"\n[[controller.output]]\nnumber = 1\norder = "{order}"\n{more}\n'
    return f"{text}{box}chain = [{chain}]\n"


class Street:
    """A folder with a song of two seconds, a show, the old house and its frames."""

    def __init__(self, folder: Path) -> None:
        import soundfile

        self.folder = folder
        t = np.arange(16_000) / 8000
        sound = 0.5 * np.exp(-6 * (t % 0.5)) * np.sin(2 * np.pi * 220 * t)
        soundfile.write(folder / "song.wav", sound.astype(np.float32), 8000)
        (folder / "song.beats").write_text("".join(f"{n / 2}\t{n % 4 + 1}\n" for n in range(4)))
        (folder / "song.sections").write_text("0.0\t2.0\tall\n")
        self.show = folder / "test.show.toml"
        self.show.write_text(SHOW)
        self.old = self.layout("old.toml", house_text(PROPS))
        self.frames = folder / "old.h5"
        render(Order.of(self.show, self.old), self.frames)

    def layout(self, name: str, text: str) -> Path:
        path = self.folder / name
        path.write_text(text)
        return path

    def retargeted(self, text: str, **how: Any) -> Retargeted:
        """Retarget to a house and hold the frames against a full render's."""
        new, full, out = self.layout("new.toml", text), self.folder / "full.h5", self.folder / "new.h5"
        render(Order.of(self.show, new), full)
        done = retarget(self.show, self.old, new, out, frames=self.frames, **how)
        with open_frames(full) as a, open_frames(out) as b:
            np.testing.assert_array_equal(a.frames[:], b.frames[:])
            assert a.hashes == b.hashes
            assert (a.props, a.patch, a.start, a.frame_rate) == (b.props, b.patch, b.start, b.frame_rate)
            assert a.texts == b.texts
        return done
