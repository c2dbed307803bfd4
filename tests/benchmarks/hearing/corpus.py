"""Render public scores with exactly known beats: music of other people, to judge and to train a beat tracker by.

    pip install music21
    python tests/benchmarks/hearing/corpus.py OUT_DIR --songs 60 --seed 1 [--jobs 2]

Fiddle tunes, folk songs, chorales, motets, quartets and more from the corpus of music21, through Debian's
``fluidsynth`` and the soundfonts ``compose_render`` finds, with a player's freedom in time. Pieces whose bars do not
add up are left out. The same command writes the same songs. music21 is no dependency of the project. Some of its
scores may be used for study only: keep what is made here out of anything handed on. ``--free`` leaves those out.
"""

import argparse
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from zlib import crc32

import numpy as np
from compose_render import FONTS, delays
from compose_scores import FAMILIES, Family, Tune, candidates, read_tune
from compose_tunes import play_tune
from compose_write import write_manifest, write_song


def families_for(count: int, seed: int, free: bool) -> list[tuple[int, Family, int]]:
    """Number, family, and how many of that family came before, each family by its share."""
    rng = np.random.default_rng([seed, 78])
    families = [family for family in FAMILIES if family.free or not free]
    total = sum(family.share for family in families)
    row = [family for family in families for _ in range(int(np.ceil(family.share * count / total)))]
    chosen = [row[at] for at in rng.permutation(len(row))[:count]]
    return [(at, family, chosen[:at].count(family)) for at, family in enumerate(chosen)]


def find_tune(family: Family, seed: int, turn: int) -> tuple[Tune, str]:
    """The tune of a family whose turn it is, in an order of the seed; those that cannot be used are stepped over."""
    places = candidates(family)
    order = np.random.default_rng([seed, crc32(family.name.encode())]).permutation(len(places))
    usable = []
    for path, number in (places[at] for at in order):
        try:
            usable.append((read_tune(path, number), path.stem + (f" no. {number}" if number else "")))
        except Exception:  # music21 raises many kinds of errors for scores it cannot read; another is tried
            continue
        if len(usable) > turn:
            break
    return usable[turn % len(usable)]


def render(out: Path, at: int, family: Family, turn: int, seed: int) -> dict:
    """Find, play, render and write one tune; its line of the manifest."""
    name = f"{at:03d}_{family.name}"
    rng = np.random.default_rng([seed, crc32(name.encode())])
    tune, title = find_tune(family, seed, turn)
    played = play_tune(tune, family, rng)
    made = write_song(out, name, played.sounds, played.programmes, played.truth, rng.uniform(0.5, 3.0), rng)
    tempo = round(float(60 / np.median(np.diff(played.truth.beats))), 2)
    about = {"name": name, "genre": family.name, "tempo": tempo, "metre": tune.metre, "flags": played.flags}
    return about | made | {"score": title, "programmes": sorted(set(played.programmes.values()))}


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("out", type=Path)
    parser.add_argument("--songs", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--free", action="store_true", help="only scores that are free for more than study")
    asked = parser.parse_args()
    try:
        import music21  # noqa: F401
    except ImportError:
        print("the scores come with music21: pip install music21", file=sys.stderr)
        return 2
    if not FONTS:
        print("no soundfont found: apt install fluid-soundfont-gm timgm6mb-soundfont", file=sys.stderr)
        return 2
    begun = time.perf_counter()
    for font in FONTS:
        delays(font, asked.out / "delays")
    with ProcessPoolExecutor(asked.jobs) as pool:
        wanted = families_for(asked.songs, asked.seed, asked.free)
        jobs = [pool.submit(render, asked.out, *song, asked.seed) for song in wanted]
        songs = [job.result() for job in jobs]
    write_manifest(asked.out, f"corpus.py --songs {asked.songs} --seed {asked.seed}{' --free' * asked.free}", songs)
    seconds = sum(song["seconds"] for song in songs)
    print(f"{len(songs)} songs, {seconds:.0f} s of sound, made in {time.perf_counter() - begun:.0f} s")
    return 0


if __name__ == "__main__":
    sys.exit(main())
