"""How long one kind of section lasts unbroken in real songs: any folders of music, looked through to the bottom.

    python kinds.py FOLDER... --kept FOLDER [--from 150] [--to 600] [--songs 40] [--each] [--jobs 2]

Songs of so many seconds, no two with the same name, in order of a checksum of it: so any folder gives a mixture that
nobody chose. What is heard in each is kept but for its kinds, which are found anew every time.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import astuple
from itertools import groupby, pairwise
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import soundfile

from eavesong.music.grid import Section
from eavesong.music.kinds import ORDER, SHARES, kinds_of

ENDINGS = (".ogg", ".flac", ".mp3", ".wav", ".opus")
BAR = 60.0
HEARD = 10 ** (0.03 * 3)
"""Factor of strength of 3 dB, by Stevens's law."""


def heard(song: Path, kept: Path) -> tuple[list[Section], SimpleNamespace]:
    """A song's sections without kinds, and those of its signals that kinds follow from."""
    path = kept / f"kinds-{hashlib.sha256(str(song.resolve()).encode()).hexdigest()[:16]}.npz"
    if not path.exists():
        from eavesong.music.bands import gather, powers_meter
        from eavesong.music.ear import Ear, ear_meters
        from eavesong.music.signals import signals_of
        from eavesong.music.sound import open_sound
        from eavesong.music.track import track

        with open_sound(song) as sound:
            powers, fine, chroma = gather(sound, [powers_meter(sound.rate), *ear_meters(sound.rate)])
        grid = track(powers, Ear(fine, chroma, powers.duration))[0].grid
        signals = signals_of(powers)
        kept.mkdir(parents=True, exist_ok=True)
        np.savez(path, sections=json.dumps([astuple(each) for each in grid.sections]), rate=signals.frame_rate,
                 **{name: getattr(signals, name) for name in SHARES})  # fmt: skip
    with np.load(path) as entries:
        sections = [Section(*each) for each in json.loads(str(entries["sections"]))]
        return sections, SimpleNamespace(frame_rate=float(entries["rate"]), **{name: entries[name] for name in SHARES})


def spans(song: Path, kept: Path) -> list[tuple[str, float]]:
    """Each stretch of one kind, and how many seconds it lasts."""
    sections, signals = heard(song, kept)
    kinds = kinds_of(sections, signals)
    together = groupby(zip(kinds, sections, strict=True), key=lambda each: each[0])
    return [(kind, sum(part.end - part.start for _, part in run)) for kind, run in together]


def turned(song: Path, kept: Path) -> int:
    """How many neighbours tell the wrong way round which of them is the stronger, by 3 dB and more."""
    sections, signals = heard(song, kept)
    strength = sum(share * np.asarray(getattr(signals, name), np.float64) for name, share in SHARES.items())
    edges = [(round(part.start * signals.frame_rate), round(part.end * signals.frame_rate)) for part in sections]
    means = [strength[begin:end].mean() if end > begin else 0.0 for begin, end in edges]
    kinds = [ORDER.get(kind, -1) for kind in kinds_of(sections, signals)]
    both = pairwise(zip(kinds, means, strict=True))
    return sum(min(a, b) >= 0 and (a - b) * (x - y) < 0 and max(x, y) >= HEARD * min(x, y) for (a, x), (b, y) in both)


def songs_in(folders: list[Path], least: float, most: float, count: int) -> list[Path]:
    """So many songs of these folders whose length lies between."""
    found: dict[str, Path] = {}
    for folder in folders:
        for path in sorted(folder.rglob("*")):
            if path.suffix.lower() in ENDINGS and path.is_file() and least <= soundfile.info(path).duration <= most:
                found.setdefault(f"{path.parent.name}/{path.stem}", path)
    return [found[name] for name in sorted(found, key=lambda name: hashlib.sha256(name.encode()).digest())][:count]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folders", type=Path, nargs="+")
    parser.add_argument("--kept", type=Path, required=True)
    parser.add_argument("--from", dest="least", type=float, default=150.0)
    parser.add_argument("--to", dest="most", type=float, default=600.0)
    parser.add_argument("--songs", type=int, default=40)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--each", action="store_true", help="every song")
    asked = parser.parse_args()
    songs = songs_in(asked.folders, asked.least, asked.most, asked.songs)
    with ProcessPoolExecutor(asked.jobs) as pool:
        found = list(pool.map(spans, songs, [asked.kept] * len(songs)))
        wrong = list(pool.map(turned, songs, [asked.kept] * len(songs)))
    longest = np.array([max(seconds for _, seconds in each) for each in found])
    whole = np.array([sum(seconds for _, seconds in each) for each in found])
    most = []
    for song, each, length in zip(songs, found, whole, strict=True):
        shares = {kind: sum(s for k, s in each if k == kind) / length for kind in {kind for kind, _ in each}}
        most.append(max(shares.values()))
        if asked.each:
            print(f"{song.parent.name[:14]:14} {song.stem[:22]:22} {length:4.0f} s  "
                  + "  ".join(f"{kind} {seconds:.0f}" for kind, seconds in each))  # fmt: skip
    print(f"{len(songs)} songs of {whole.min():.0f} to {whole.max():.0f} s, {np.median(whole):.0f} in the middle")
    short, tall = (longest <= BAR).mean(), np.percentile(longest, 90)
    print(f"longest unbroken kind: at most {BAR:.0f} s in {short:.3f}, median {np.median(longest):.0f}, "
          f"nine in ten below {tall:.0f}, longest {longest.max():.0f}")  # fmt: skip
    print(f"songs in which the stronger of two neighbours is the lower kind, by 3 dB: {sum(map(bool, wrong))}")
    print(f"one kind all through: {sum(len(each) == 1 for each in found)} songs; most of one kind {max(most):.2f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
