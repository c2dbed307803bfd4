"""Inputs for the benchmarks, made with the standard library alone: a scattered house, a song on the beat, a show.

The measuring process has to stay small (what it holds counts as its children's memory), so everything here is
written out piece by piece.
"""

import math
import random
import wave
from array import array
from pathlib import Path

EFFECTS = Path(__file__).with_name("effects")
CUES = ("sweep", "ring", "pulse", "sparkle", "wash", "chase")
BEATS_PER_MINUTE = 120
SAMPLE_RATE = 22_050
LONGEST = 100_000


def write_house(folder: Path, pixels: int) -> Path:
    """A layout of `pixels` random places in a frame of 1 m by 1 m, wired in rows from the bottom to the top.

    Each LONGEST pixels are a prop and a points file of their own.
    """
    text = f'title = "{pixels} pixels at random"\nunits = "m"\n\n[frame]\nfrom = [0, 0, 0]\nto = [1, 1, 0]\n'
    generator = random.Random(0)
    starts = range(0, pixels, LONGEST)
    for number, start in enumerate(starts):
        file = f"{pixels}-{number}.csv"
        _write_points(folder / file, min(LONGEST, pixels - start), number / len(starts), 1 / len(starts), generator)
        text += f'\n[[prop]]\nname = "cloud {number}"\nshape = "points"\nfile = "{file}"\n'
    layout = folder / f"house-{pixels}.toml"
    layout.write_text(text)
    return layout


def _write_points(path: Path, pixels: int, bottom: float, height: float, generator: random.Random) -> None:
    rows = max(1, math.isqrt(pixels))
    with open(path, "w") as file:
        file.write("x,y,z\n")
        for row in range(rows):
            count = pixels * (row + 1) // rows - pixels * row // rows
            for x in sorted(generator.random() for _ in range(count)):
                file.write(f"{x:.5f},{bottom + height * (row + generator.random()) / rows:.5f},0\n")


def write_song(folder: Path, seconds: int) -> Path:
    """A song of whole seconds, a dying tone on every beat, higher on the downbeat; its beats and sections."""
    song = folder / f"song-{seconds}.wav"
    bar = array("h", _bar())
    with wave.open(str(song), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(SAMPLE_RATE)
        for start in range(0, seconds, 2):
            file.writeframes(bar[: min(2, seconds - start) * SAMPLE_RATE].tobytes())
    beats = range(seconds * BEATS_PER_MINUTE // 60)
    song.with_suffix(".beats").write_text("".join(f"{i * 60 / BEATS_PER_MINUTE}\t{i % 4 + 1}\n" for i in beats))
    song.with_suffix(".sections").write_text(f"0.0\t{float(seconds)}\tall\n")
    return song


def _bar():
    """Samples of one bar of four beats, two seconds."""
    for i in range(2 * SAMPLE_RATE):
        beat, t = divmod(i / SAMPLE_RATE, 0.5)
        pitch = 220 if beat else 440
        yield int(20_000 * math.exp(-8 * t) * math.sin(2 * math.pi * pitch * t))


def write_show(folder: Path, song: Path) -> Path:
    """A show of the six cues of the stack, the first at the bottom, all of them for the whole song."""
    text = f'title = "Six cues"\nsong = "{song.name}"\n'
    for cue in CUES:
        (folder / f"{cue}.toml").write_text((EFFECTS / f"{cue}.toml").read_text())
        text += f'\n[[cue]]\nname = "{cue}"\neffect = "{cue}.toml"\n'
    show = folder / f"{song.stem}.show.toml"
    show.write_text(text)
    return show
