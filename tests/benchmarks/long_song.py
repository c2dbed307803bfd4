"""A song of three hours through ``eavesong beats``: time and memory of hearing, drawing and clicking.

``python tests/benchmarks/long_song.py [HOURS]`` writes a song of clicks and noise at 8 kHz into a temporary folder and
runs the whole command on it twice: with its beats known (signals, picture, clicks) and with nothing known.
"""

from __future__ import annotations

import os
import resource
import sys
import tempfile
import time
from pathlib import Path

RATE = 8_000
MOST = 8 << 30
"""Bytes that a command may reserve: one that wants more fails, and the machine lives."""


def write_song(folder: Path, hours: float) -> Path:
    """120 beats a minute in noise, and the texts that say so."""
    import numpy as np
    import soundfile

    beats = round(hours * 7200)
    chance, t = np.random.default_rng(0), np.arange(800) / RATE
    with soundfile.SoundFile(folder / "song.flac", "w", RATE, 1, "PCM_16") as file:
        for beat in range(beats):
            part = 0.02 * chance.standard_normal(RATE // 2)
            low = beat % 4 == 0
            part[:800] += (0.6 if low else 0.3) * np.sin(2 * np.pi * (100 if low else 900) * t) * np.exp(-t / 0.03)
            file.write(part)
    (folder / "song.beats").write_text("".join(f"{beat / 2}\t{beat % 4 + 1}\n" for beat in range(beats)))
    (folder / "song.sections").write_text(f"0.0\t{beats / 2}\tsong\n")
    return folder / "song.flac"


def run(*words: object) -> tuple[float, float]:
    """Seconds and peak megabytes of a command."""
    begun = time.perf_counter()
    child = os.spawnv(os.P_NOWAIT, sys.executable, [sys.executable, "-m", "eavesong", *map(str, words)])
    _, status, used = os.wait4(child, 0)
    if status:
        sys.exit(f"eavesong {' '.join(map(str, words))} failed")
    return time.perf_counter() - begun, used.ru_maxrss / 1024


def main(hours: float = 3.0) -> None:
    """Write the song, run the commands, print a line for each."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        resource.setrlimit(resource.RLIMIT_AS, (MOST, MOST))
        os.environ["EAVESONG_CACHE"] = str(folder / "cache")
        song = write_song(folder, hours)
        table = [("known beats: signals", run("beats", song))]
        table += [("picture", run("beats", song, "--picture", folder / "a.png"))]
        table += [("clicks", run("beats", song, "--click", folder / "a.flac"))]
        for text in ("song.beats", "song.sections"):
            (folder / text).unlink()
        table += [("nothing known", run("beats", song))]
        for what, (seconds, megabytes) in table:
            print(f"{what:<24} {seconds:8.1f} s {megabytes:8.0f} MB")


if __name__ == "__main__":
    main(*map(float, sys.argv[1:]))
