"""Compose songs in which hits, stops, builds and arrivals are placed by hand, to judge what light answers to.

    python stage.py OUT_DIR --songs 20 --seed 1 [--jobs 2] [--truth]

Songs of ``compose.py`` with a drummer, and in each: two or three bars in which the whole band is silent for half a beat
to two beats before the next bar (a stop, and the arrival after it); two or three places where everybody strikes at
once, louder than before, and mostly rests for a moment (a hit); and one or two stretches of four or eight bars that
grow in loudness and in strokes (a build) to the downbeat after (an arrival). What the band itself leaves silent for
half a beat or more, by its notes, is told too (a rest): to call that a stop is no fault. ``--truth`` writes the truth
alone, the same as with the sounds.
"""

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path
from zlib import crc32

import numpy as np
from compose import by_the_clock, genres_for, sensible, truth_of
from compose_band import Band, perform
from compose_genres import GENRES, Genre
from compose_plan import Bar, Note, Plan, plan_song
from compose_render import FONTS, Sound, delays
from compose_write import lead_of, strokes_of, write_manifest, write_song, write_truth

STOP_BEATS = (0.5, 1.0, 1.0, 1.5, 2.0)
LEAST_REST = 0.45
"""Beats without a note that are a rest: half a beat, played by people."""
HIT_KEYS = {"kick": 36, "snare": 38, "crash": 49}


def stage(out: Path, name: str, genre: Genre, seed: int, silent: bool = False) -> dict:
    """Compose, change, render and write one song, or only its truth; its line of the manifest."""
    rng = np.random.default_rng([seed, crc32(name.encode()), 5])
    while True:
        plan = plan_song(genre, rng)
        band = perform(plan, rng)
        if not {"kick", "snare"} <= {note.part for note in band.notes} or len(plan.bars) < 24:
            genre = GENRES[str(rng.choice(["rock", "pop", "funk", "disco"]))]
            continue
        placed = place(plan, band, rng)
        sounds, programmes, channels = by_the_clock(plan, band, rng)
        truth = truth_of(plan, band, False)
        if sensible(sounds, truth):
            break
    truth.events = [(float(plan.seconds(beat)), label) for beat, label in placed] + strokes_of(sounds)
    truth.events += rests(sounds, LEAST_REST * float(np.median(np.diff(truth.beats))))
    truth.lead = lead_of(sounds, channels.get("lead"))
    if silent:
        write_truth(out, name, truth)
        return {}
    made = write_song(out, name, sounds, programmes, truth, plan.tail, rng, rng.random() < 0.5)
    return {"name": name, "genre": genre.name, "metre": genre.metre, "placed": len(placed)} | made


def rests(sounds: list[Sound], least: float) -> list[tuple[float, str]]:
    """Beginning and end of every stretch inside the music of ``least`` seconds or more in which no note lasts."""
    events: list[tuple[float, str]] = []
    end = np.inf
    for one in sorted(sounds, key=lambda each: each.on):
        if one.on - end >= least:
            events += [(end, "rest"), (one.on, "rest-end")]
        end = max(end, one.off) if np.isfinite(end) else one.off
    return events


def place(plan: Plan, band: Band, rng: np.random.Generator) -> list[tuple[float, str]]:
    """Change the notes of ``band`` so that something happens; what and at which beat."""
    events: list[tuple[float, str]] = []
    taken: set[int] = set()

    def free(first: int, count: int) -> bool:
        return (
            first >= 2 and first + count + 2 < len(plan.bars) and not taken & set(range(first - 2, first + count + 2))
        )

    starts = [at for at, bar in enumerate(plan.bars) if bar.number == 0 and at]
    rng.shuffle(starts)
    for start in starts[: int(rng.integers(1, 3))]:
        length = int(rng.choice([4, 8]))
        if free(start - length, length):
            taken |= set(range(start - length, start + 1))
            events += build(plan, band, start - length, start, rng)
    for kind, count in (("stop", int(rng.integers(2, 4))), ("hit", int(rng.integers(2, 4)))):
        for _ in range(60):
            at = int(rng.integers(4, len(plan.bars) - 4))
            if count and plan.bars[at].section.energy >= 1 and free(at, 1):
                taken.add(at)
                count -= 1
                events += (stop if kind == "stop" else hit)(plan, band, at, rng)
    return sorted(events)


def stop(plan: Plan, band: Band, at: int, rng: np.random.Generator) -> list[tuple[float, str]]:
    """Silence at the end of a bar; everybody is back on the next downbeat."""
    end = plan.bars[at].start + plan.bars[at].beats
    begin = end - min(float(rng.choice(STOP_BEATS)), plan.bars[at].beats - 1)
    while not any(begin - 0.52 < note.beat < begin - 0.02 for note in band.notes) and begin > plan.bars[at].start:
        begin -= 0.5  # silence begins where the music ends
    hush(band, begin, end)
    strike(band, plan.bars[at + 1], end, 1.1)
    return [(begin, "stop"), (end, "stop-end"), (end, "arrival")]


def hit(plan: Plan, band: Band, at: int, rng: np.random.Generator) -> list[tuple[float, str]]:
    """Everybody strikes at once; two times in three they rest for a moment."""
    bar = plan.bars[at]
    beat = bar.start + float(rng.choice([0, 0, max(0, bar.beats - 2), max(0, bar.beats - 1)]))
    if rng.random() < 0.67:
        hush(band, beat, beat + 0.9)
    else:
        hush(band, beat - 0.01, beat + 0.1)
    strike(band, bar, beat, 1.4)
    return [(beat, "hit")]


def build(plan: Plan, band: Band, first: int, last: int, rng: np.random.Generator) -> list[tuple[float, str]]:
    """Bars that grow: softer at first, more and more strokes, everybody on the downbeat after them."""
    begin, end = plan.bars[first].start, plan.bars[last].start
    for note in band.notes:
        if begin <= note.beat < end:
            note.velocity *= 0.4 + 0.65 * (note.beat - begin) / (end - begin)
    place, length = float(begin), end - begin
    while place < end - 1e-6:
        share = (place - begin) / length
        band.notes.append(Note(place, 0.1, 38, 45 + 70 * share, "snare"))
        place += (1.0, 0.5, 0.5, 0.25)[min(3, int(4 * share))]
    strike(band, plan.bars[last], end, 1.25)
    return [(begin, "build"), (end, "build-end"), (end, "arrival")]


def hush(band: Band, begin: float, end: float) -> None:
    """Nobody sounds from one beat to another."""
    kept = [note for note in band.notes if not begin - 0.02 <= note.beat < end - 0.02]
    for note in kept:
        if note.beat < begin < note.beat + note.length:
            note.length = begin - note.beat - 0.05
    band.notes[:] = [note for note in kept if note.length > 0.02]


def strike(band: Band, bar: Bar, beat: float, gain: float) -> None:
    """A stroke of the whole band on a beat."""
    chord = bar.section.chords[0]
    drums = [Note(beat, 0.1, key, 95 * gain, part) for part, key in HIT_KEYS.items()]
    tones = [Note(beat, 0.4, pitch + octave, 85 * gain, "comp") for pitch in chord.tones(60) for octave in (0, 12)]
    bass = [Note(beat, 0.4, chord.degree("1", 28), 90 * gain, "bass")]
    known = set(band.programmes)
    band.notes += drums + [replace(note) for note in tones + bass if note.part in known]


def drummed(seed: int) -> list[tuple[str, Genre]]:
    """Names and genres of songs with a drummer, some ninety."""
    names = [name for name, genre in genres_for(200, seed) if genre.part("kick") and genre.part("snare")]
    return [(name, GENRES[name.split("_", 1)[1]]) for name in names if name.split("_", 1)[1] in GENRES]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("out", type=Path)
    parser.add_argument("--songs", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--truth", action="store_true", help="write only what is true, no sounds")
    asked = parser.parse_args()
    for font in () if asked.truth else FONTS:
        delays(font, asked.out / "delays")
    wanted = drummed(asked.seed)[: asked.songs]
    with ProcessPoolExecutor(asked.jobs) as pool:
        jobs = [pool.submit(stage, asked.out, *each, asked.seed, asked.truth) for each in wanted]
        songs = [job.result() for job in jobs]
    if not asked.truth:
        write_manifest(asked.out, f"stage.py --songs {asked.songs} --seed {asked.seed}", songs)
    print(f"{len(songs)} songs")
    return 0


if __name__ == "__main__":
    sys.exit(main())
