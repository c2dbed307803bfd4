"""How long hearing takes: ``eavesong beats`` of a song never heard before, whole process, kernels compiled.

    python tests/benchmarks/hearing/speed.py [MINUTES ...]      3 and 60 minutes if none are given

The songs are the demo's inventions, 44.1 kHz stereo. Ends with 1 when three minutes take more than 6 s or 600 MB, or an
hour more than 2 minutes.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import soundfile

from eavesong.demo.songs import invent, make_songs

BARS = {3.0: 6.0, 60.0: 120.0}
"""Seconds that so many minutes may take."""
MOST = 600.0
"""Megabytes that three minutes may take."""


def write_song(folder: Path, minutes: float) -> Path:
    """A song of that length: an invention, played again and again, and cut."""
    made = make_songs(folder, (invent(1),))[0].path
    samples, rate = soundfile.read(made, dtype="int16", always_2d=True)
    stereo = np.repeat(samples[:, :1], 2, axis=1) if samples.shape[1] == 1 else samples
    wanted = round(minutes * 60 * rate)
    path = folder / "bare" / f"{minutes:g}.flac"
    path.parent.mkdir(exist_ok=True)
    soundfile.write(path, np.tile(stereo, (-(-wanted // len(stereo)), 1))[:wanted], rate)
    return path


def run(song: Path) -> tuple[float, float, float]:
    """Seconds by the clock, seconds of the processor and peak megabytes of hearing a song."""
    begun = time.perf_counter()
    command = 'exec "$0" -m eavesong beats "$1" > /dev/null'
    # Not subprocess: where that uses vfork, a child's peak memory begins with its parent's.
    child = os.spawnv(os.P_NOWAIT, "/bin/sh", ["sh", "-c", command, sys.executable, str(song)])
    _, status, used = os.wait4(child, 0)
    if status:
        sys.exit(f"eavesong beats {song} failed")
    return time.perf_counter() - begun, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def main(arguments: list[str]) -> int:
    """Hear a short song to compile, then each length; 1 when a bar is missed."""
    options = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    options.add_argument("minutes", nargs="*", type=float, default=[3.0, 60.0])
    minutes = options.parse_args(arguments).minutes
    missed = False
    with tempfile.TemporaryDirectory() as name:
        os.environ["EAVESONG_CACHE"] = str(Path(name) / "cache")
        run(write_song(Path(name), 0.5))
        for length in minutes:
            seconds, processor, megabytes = run(write_song(Path(name), length))
            print(
                f"{length:g} minutes: {seconds:.1f} s, {processor:.1f} s of the processor, {megabytes:.0f} MB",
                flush=True,
            )
            missed |= seconds > BARS.get(length, np.inf) or (length == 3 and megabytes > MOST)
    return int(missed)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
