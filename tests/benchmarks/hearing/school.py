"""Make songs to learn from by the thousand, on many cores, and keep what is heard of each, not its sound.

    python tests/benchmarks/hearing/school.py tunes FILE --songs 300 --seed 11
    python tests/benchmarks/hearing/school.py make OUT --kept FOLDER --midi MIDI_DIR [--tunes FILE] [--grooves FILE] …

`make` goes through songs of every kind in turn until the time is up: our composer's, the same with stops, hits and
builds placed (`stage.py`), those in five and seven, performed piano songs arranged for a band or pianos alone
(`arrange.py`), music of machines, plain loops, songs that ``grooves.py`` wrote before, and public tunes that `tunes`
has read before (music21 is needed for that alone). Each song belongs to one of three shares,
by its name: the pulse learns from the first, the nets that judge beats from the second, the ranking from the third,
so that each step sees what the one before says of music that it does not know.
"""

import argparse
import pickle
import re
import sys
import time
from collections.abc import Iterator
from concurrent.futures import FIRST_COMPLETED, ProcessPoolExecutor, wait
from functools import cache
from itertools import count
from multiprocessing import get_context
from pathlib import Path
from typing import NamedTuple
from zlib import crc32

import arrange
import loops
import machines
import numpy as np
from compose import compose, genres_for
from compose_genres import CLICK_GENRES, GENRES, ODD_GENRES
from compose_render import FONTS, as_needed, delays
from compose_tunes import play_tune
from compose_write import write_song
from grooves import sounds_of
from known import Known, ear_of
from stage import drummed, stage
from struck import hear
from train_sections import keep_bars

KINDS = {"arr": 0.28, "grooves": 0.28, "own": 0.14, "stage": 0.08, "tunes": 0.10, "odd": 0.06, "machines": 0.03,
         "loops": 0.03}  # fmt: skip
"""Kinds of songs, and the share of each."""
WRITTEN = ("tunes", "grooves")
"""Kinds that are written by another step, and only played here."""
SHARES = (("pulse", 0.6), ("nets", 0.24), ("ranking", 0.16))
MOST = 236
"""Performed songs, in order of name, that are learned from: those after them judge."""
BLOCK = 50
"""Songs of a kind with one seed."""
SEED = 100
"""The first of the seeds, one for each block: smaller ones are of sets that are kept apart."""


class Task(NamedTuple):
    """A song to be made: its set and kind, its seed and number there, and what it is made of."""

    set: str
    kind: str
    seed: int
    number: int
    source: str = ""


def share_of(folder: str, name: str) -> str:
    """What learns from a song; all arrangements of one song, and all rounds of one tune, are of one share."""
    same = re.sub(r"_[sv]\d+$", "", name if folder.startswith(("arr", "tunes", "grooves")) else f"{folder}/{name}")
    place = crc32(same.encode()) % 1000 / 1000
    for share, size in SHARES:
        if place < size:
            return share
        place -= size
    return SHARES[-1][0]


def tasks(midi: list[str], written: dict[str, int]) -> Iterator[Task]:
    """Songs without end, kinds mixed by their shares; of those that are ``written`` so many are there of each kind."""
    rng, there = np.random.default_rng(SEED), {"arr": len(midi)} | written
    kinds = [kind for kind in KINDS if there.get(kind, 1)]
    odds = np.array([KINDS[kind] for kind in kinds])
    numbers = {kind: count() for kind in kinds}
    decks: dict[str, list[int]] = {kind: [] for kind in there}
    while True:
        kind = kinds[int(rng.choice(len(kinds), p=odds / odds.sum()))]
        number = next(numbers[kind])
        if kind in decks:
            decks[kind] = decks[kind] or [int(one) for one in rng.permutation(there[kind])]
            one, seed = decks[kind].pop(), SEED + number // there[kind]
            yield Task(f"{kind}{seed}", kind, seed, one, midi[one] if kind == "arr" else "")
        else:
            seed = SEED + number // BLOCK
            yield Task(f"{kind}{seed}", kind, seed, number % BLOCK)


@cache
def written_songs(path: Path) -> list[tuple]:
    """What was written before."""
    return pickle.loads(path.read_bytes())


def make(task: Task, out: Path, kept: Path, midi: Path, written: dict[str, Path], little: bool = False) -> str:
    """Make a song, keep what is heard of it, and leave an empty file in place of its sound; its name. ``little``: keep
    no more than the nets for bars and sections need."""
    folder, as_needed.switched_on = out / task.set, True
    (folder / "delays").mkdir(parents=True, exist_ok=True)
    for font in FONTS:  # measured once, for all sets
        name = f"delays-{font.stem}.json"
        if not (folder / "delays" / name).exists():
            whole = (out / "delays" / name).read_text()
            (folder / "delays" / f"{name}.{task.number}").write_text(whole)
            (folder / "delays" / f"{name}.{task.number}").replace(folder / "delays" / name)
    if task.kind == "arr":
        name = arrange.arrange(midi, folder, task.source, task.seed, wild=True)["name"]
    elif task.kind in ("own", "odd"):
        name, genre = list(genres_for(BLOCK, task.seed, task.kind == "odd"))[task.number]
        compose(folder, name, genre, task.seed)
    elif task.kind == "stage":
        name, genre = drummed(task.seed)[task.number]
        stage(folder, name, genre, task.seed)
    elif task.kind == "tunes":
        family, tune, title = written_songs(written["tunes"])[task.number]
        name = f"{crc32(title.encode()) % 10**6:06d}_{family.name}"
        rng = np.random.default_rng([task.seed, crc32(name.encode())])
        played = play_tune(tune, family, rng)
        write_song(folder, name, played.sounds, played.programmes, played.truth, rng.uniform(0.5, 3.0), rng)
    elif task.kind == "grooves":
        title, notes, programmes, truth = written_songs(written["grooves"])[task.number]
        rng, name = np.random.default_rng([task.seed, task.number]), f"{title}_v{task.number}"
        write_song(folder, name, sounds_of(notes), programmes, truth, rng.uniform(0.5, 3.0), rng, rng.random() < 0.3)
    else:
        maker = {"machines": machines, "loops": loops}[task.kind]
        name = maker.write_one(folder, task.number, task.seed)["name"]
    audio = folder / "audio" / f"{name}.wav"
    if little:
        ear_of(Known(folder, audio), kept)
    else:
        hear(Known(folder, audio), kept)
    keep_bars(Known(folder, audio), out / "bars")
    audio.write_bytes(b"")
    return f"{task.set}/{name}"


def make_all(
    out: Path, kept: Path, midi: Path, written: dict[str, Path], seconds: float, jobs: int, most: int, little: bool
) -> int:
    """Make songs for so many seconds, or so many; how many were made."""
    begun, made, failed = time.monotonic(), 0, 0
    for font in FONTS:
        delays(font, out / "delays")
    names = [path.stem for path in sorted(midi.glob("*.mid"))][:MOST]
    wanted = tasks(names, {kind: len(written_songs(written[kind])) if kind in written else 0 for kind in WRITTEN})
    with ProcessPoolExecutor(jobs, get_context("spawn")) as pool:
        asked = {pool.submit(make, next(wanted), out, kept, midi, written, little) for _ in range(2 * jobs)}
        while asked:
            done, asked = wait(asked, return_when=FIRST_COMPLETED)
            for one in done:
                if one.exception():
                    failed += 1
                    print(f"failed: {one.exception()!r}", flush=True)
                else:
                    made += 1
                if time.monotonic() - begun < seconds and made + len(asked) < most:
                    asked.add(pool.submit(make, next(wanted), out, kept, midi, written, little))
            if made % 100 < len(done):
                print(f"{made} songs made, {failed} not, {time.monotonic() - begun:.0f} s", flush=True)
    return made


def read_tunes(path: Path, songs: int, seed: int) -> int:
    """Read public tunes that are free for more than study, and keep them in a file; how many."""
    from compose_scores import FAMILIES, candidates, read_tune

    rng, found = np.random.default_rng(seed), []
    families = [family for family in FAMILIES if family.free]
    total = sum(family.share for family in families)
    for family in families:
        places, wanted = candidates(family), round(songs * family.share / total)
        for score, number in (places[at] for at in rng.permutation(len(places))):
            if not wanted:
                break
            try:
                tune = read_tune(score, number)
            except Exception:  # music21 raises many kinds of errors for scores it cannot read; another is tried
                continue
            found.append((family, tune, f"{score.stem} {number}"))
            wanted -= 1
    path.write_bytes(pickle.dumps(found))
    return len(found)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("step", choices=("tunes", "make"))
    parser.add_argument("out", type=Path)
    parser.add_argument("--kept", type=Path)
    parser.add_argument("--midi", type=Path, help="a folder as arrange.py takes; its first 236 songs are used")
    for kind in WRITTEN:
        parser.add_argument(f"--{kind}", type=Path)
    parser.add_argument("--songs", type=int, default=10**6)
    parser.add_argument("--seed", type=int, default=11)
    parser.add_argument("--seconds", type=float, default=480.0)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument(
        "--little", action="store_true", help="keep no more than train_bars.py and train_sections.py need"
    )
    asked = parser.parse_args()
    if asked.step == "tunes":
        print(f"{read_tunes(asked.out, asked.songs, asked.seed)} tunes")
        return 0
    written = {kind: vars(asked)[kind] for kind in WRITTEN if vars(asked)[kind]}
    made = make_all(asked.out, asked.kept, asked.midi, written, asked.seconds, asked.jobs, asked.songs, asked.little)
    print(f"{made} songs; {len(GENRES)} genres, {len(CLICK_GENRES)} of clicks, {len(ODD_GENRES)} in five and seven")
    return 0


if __name__ == "__main__":
    sys.exit(main())
