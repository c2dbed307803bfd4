"""An effect by itself: a show of one cue, on a house that comes with eavesong, to a metronome."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from eavesong.files import shipped, write_whole
from eavesong.leftovers import marked_folder
from eavesong.scene import Order

HOUSE = "two-storey-2026.toml"
BARS, BEATS_PER_MINUTE = 32, 120
"""Of the metronome, four beats to the bar."""
OPACITY = 0.7
"""A whole house lit by one effect would burn out in the picture."""


@contextmanager
def by_itself(effect: Path, layout: Path | None = None, song: Path | None = None) -> Iterator[Order]:
    """An order that shows the effect in the file ``effect`` by itself; what it needs is in a temporary folder.

    layout: another house than the shipped one. song: a song instead of the metronome.
    """
    with marked_folder("watch") as folder:
        heard = song.resolve() if song is not None else metronome(folder)
        named = os.path.relpath(heard, folder) if song is not None else heard.name
        lines = [
            f"title = {json.dumps(effect.name)}", f"song = {json.dumps(named)}", "[[cue]]",
            f"effect = {json.dumps(effect.name)}", f"opacity = {OPACITY}", 'palette = "evening sky"',
        ]  # fmt: skip
        show = folder / "alone.show.toml"
        write_whole(folder / effect.name, "# The reader reads the file itself.\n")
        write_whole(show, "\n".join(lines) + "\n")
        yield Order.of(show, layout or shipped("layouts") / HOUSE)


def metronome(folder: Path) -> Path:
    """A click on every beat, a higher one on the first of a bar, in ``folder``; its beats lie beside it."""
    import numpy as np
    import soundfile

    from eavesong.music.clicks import BEAT, DOWNBEAT

    rate, beat = 44_100, 60 / BEATS_PER_MINUTE
    seconds = 4 * BARS * beat
    sound = np.zeros(round(seconds * rate), np.float32)
    t = np.arange(int(0.05 * rate)) / rate
    for number in range(4 * BARS):
        tone = 0.4 * np.sin(2 * np.pi * (BEAT if number % 4 else DOWNBEAT) * t) * np.exp(-t / 0.01)
        begin = round(number * beat * rate)
        sound[begin : begin + len(tone)] += tone[: len(sound) - begin].astype(np.float32)
    path = folder / "metronome.wav"
    soundfile.write(path, sound, rate, subtype="PCM_16")
    write_whole(
        path.with_suffix(".beats"), "".join(f"{number * beat}\t{number % 4 + 1}\n" for number in range(4 * BARS))
    )
    write_whole(path.with_suffix(".sections"), f"0\t{seconds}\tmetronome\n")
    return path
