"""Compose songs whose beats, downbeats and sections are known, to judge and to train a beat tracker by.

    python tests/benchmarks/hearing/compose.py OUT_DIR --songs 120 --seed 1 [--jobs 2]

The songs are ours: some ninety genres of groove, each song with its own chords, tune, form, tempo, players and
recording. The same command writes the same songs. Needs mido and soundfile, and Debian's ``fluidsynth`` with one or
more of the soundfonts in ``compose_render``.
"""

import argparse
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from zlib import crc32

import numpy as np
from compose_band import DRUM_CHANNEL as ON_DRUMS
from compose_band import Band, perform
from compose_clicks import clicks
from compose_genres import CLICK_GENRES, GENRES, ODD_GENRES, Genre
from compose_plan import Plan, plan_song
from compose_render import DRUM_CHANNEL, FONTS, Sound, delays
from compose_write import Truth, lead_of, strokes_of, write_manifest, write_song

CLICK_EVERY = 10
TRIES = 20


def genres_for(count: int, seed: int, odd: bool = False) -> Iterator[tuple[str, Genre]]:
    """Names and genres of a set: every genre in turn, in an order of the seed, and each tenth song a click track;
    with ``odd`` those in five and seven alone."""
    rng = np.random.default_rng([seed, 77])
    decks: dict[bool, list[str]] = {True: [], False: []}
    for at in range(count):
        click = at % CLICK_EVERY == CLICK_EVERY - 1 and not odd
        table = ODD_GENRES if odd else CLICK_GENRES if click else GENRES
        decks[click] = decks[click] or list(rng.permutation(sorted(table)))
        genre = table[str(decks[click].pop())]
        yield f"{at:03d}_{genre.name}", genre


def compose(out: Path, name: str, genre: Genre, seed: int) -> dict:
    """Compose, render and write one song; its line of the manifest."""
    rng = np.random.default_rng([seed, crc32(name.encode())])
    is_click = genre.word("kind") == "click"
    for _ in range(TRIES):
        plan = plan_song(genre, rng)
        band = clicks(plan, rng) if is_click else perform(plan, rng)
        if not band.notes:
            continue
        sounds, programmes, channels = by_the_clock(plan, band, rng)
        truth = truth_of(plan, band, is_click)
        truth.events, truth.lead = strokes_of(sounds), lead_of(sounds, channels.get("lead"))
        if sensible(sounds, truth):
            break
    clean = is_click and rng.random() < 0.5
    made = write_song(out, name, sounds, programmes, truth, plan.tail, rng, clean)
    tempo = round(float(60 / np.median(np.diff(truth.beats))), 2)
    about = {"name": name, "genre": genre.name, "tempo": tempo, "metre": genre.metre, "flags": plan.flags}
    parts = sorted({note.part for note in band.notes})
    return about | made | {"programmes": {part: band.programmes[part] for part in parts}}


def sensible(sounds: list[Sound], truth: Truth) -> bool:
    """Whether a song can be followed: 48-122 s, 38-225 beats a minute, no hole over 6 s, half its beats played."""
    begins = np.unique([one.on for one in sounds])
    played = np.abs(truth.beats[:, None] - begins).min(axis=1) < 0.05
    tempo = 60 / np.median(np.diff(truth.beats))
    return bool(48 < begins[-1] < 122 and 38 < tempo < 225 and np.diff(begins).max() < 6 and played.mean() > 0.45)


def by_the_clock(
    plan: Plan, band: Band, rng: np.random.Generator
) -> tuple[list[Sound], dict[int, int], dict[str, int]]:
    """Notes in seconds, with the small errors of players, and a programme and a MIDI channel for each pitched part."""
    human = int(plan.genre.word("human", "0")) if plan.genre.word("kind") != "click" else 0
    spread = rng.uniform(0.003, 0.009) * min(human, 2) if human else rng.choice([0.0, 0.0005])
    names = sorted({note.part for note in band.notes})
    lean = {name: rng.normal(0, 0.004) * bool(human) for name in names}
    pitched = [name for name in names if band.programmes[name] != ON_DRUMS]
    channels = {name: at + (at >= DRUM_CHANNEL) for at, name in enumerate(pitched)}
    touch = rng.uniform(0.03, 0.12)
    sounds = []
    for note in band.notes:
        on, off = plan.seconds(np.array([note.beat, note.beat + note.length]))
        on += note.late + lean[note.part] + np.clip(rng.normal(0, spread), -0.025, 0.025)
        level = int(np.clip(note.velocity * (1 + rng.normal(0, touch) * bool(human)), 20, 127))
        sounds.append(Sound(float(on), float(off), channels.get(note.part, DRUM_CHANNEL), int(note.pitch), level))
    return sounds, {channels[name]: band.programmes[name] for name in pitched}, channels


def truth_of(plan: Plan, band: Band, is_click: bool) -> Truth:
    """Beats from the first note to the last; downbeats among them; sections over all of it."""
    places = [note.beat for note in band.notes]
    edges = plan.edges
    first, last = int(np.ceil(min(places) - 0.02)), min(int(np.floor(max(places) + 0.02)), len(edges) - 1)
    downs = [0] * bool(plan.count_in) + [bar.start for bar in plan.bars] + [len(plan.beats)]
    sections = []
    starts = [bar.start for bar in plan.bars if bar.number == 0] + [len(plan.beats)]
    if not is_click:
        labels = [bar.section.label for bar in plan.bars if bar.number == 0]
        opening = [(0.0, edges[starts[0]], "silence")] if edges[starts[0]] > 0 else []
        rows = zip(starts[:-1], starts[1:], labels, strict=True)
        sections = opening + [(edges[start], edges[end], label) for start, end, label in rows]
    return Truth(edges[first : last + 1], edges[[at for at in downs if first <= at <= last]], sections)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("out", type=Path)
    parser.add_argument("--songs", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--genre", help="only this genre")
    parser.add_argument("--odd", action="store_true", help="only genres in five and seven")
    asked = parser.parse_args()
    if not FONTS:
        print("no soundfont found: apt install fluid-soundfont-gm timgm6mb-soundfont", file=sys.stderr)
        return 2
    begun = time.perf_counter()
    for font in FONTS:
        delays(font, asked.out / "delays")
    wanted = list(genres_for(asked.songs, asked.seed, asked.odd))
    if asked.genre:
        genre = (GENRES | CLICK_GENRES | ODD_GENRES)[asked.genre]
        wanted = [(f"{at:03d}_{genre.name}", genre) for at in range(asked.songs)]
    with ProcessPoolExecutor(asked.jobs) as pool:
        jobs = [pool.submit(compose, asked.out, name, genre, asked.seed) for name, genre in wanted]
        songs = [job.result() for job in jobs]
    write_manifest(asked.out, f"compose.py --songs {asked.songs} --seed {asked.seed}", songs)
    seconds = sum(song["seconds"] for song in songs)
    print(f"{len(songs)} songs, {seconds:.0f} s of sound, made in {time.perf_counter() - begun:.0f} s")
    return 0


if __name__ == "__main__":
    sys.exit(main())
