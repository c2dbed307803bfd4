"""How well beats are heard: F, CMLt, AMLt and downbeat F by mir_eval, beside librosa's tracker.

    python tests/benchmarks/hearing/beats.py SET... --kept FOLDER   sets of songs with known beats (see known.py)
    python tests/benchmarks/hearing/beats.py --clicks               bare clicks from 60 to 190 a minute: bias and spread
    ... --model FILE    another model than the one that ships      ... --worst N   also the N songs heard worst
    ... --jobs N        songs heard at once             ... --apart SET...  without songs from scores these sets have
    ... --turned MIDI_DIR    bars of performed songs begin where their chords and basses do (see labels.py; needs mido)

What is reported must not have been trained on: docs/hearing.md says which sets the shipped model knows.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
import soundfile
from known import Known, beat_scores, downbeat_f, songs_of
from numpy.typing import NDArray

from eavesong.music import listen
from eavesong.music import model as models
from eavesong.music.describe import SURE

Floats = NDArray[np.float64]
CLICK_TEMPI = range(60, 191, 10)
RATE = 44_100
RIGHT = 0.9
"""F from which a song is taken to be heard right."""


@dataclass(frozen=True)
class Result:
    """How one song was heard."""

    song: Known
    ours: tuple[float, float, float, float]
    """F, CMLt, AMLt, downbeat F."""
    librosa: tuple[float, float, float]
    confidence: float
    second: float
    """F of the best of all readings."""


def measure(song: Known, kept: Path, midi: Path | None = None) -> Result:
    """How a song is heard, by us and by librosa; its labels are set right by the notes in the folder ``midi``."""
    readings = listen(song.audio, cache=False).readings
    grid = readings[0].grid
    scores = beat_scores(song.beats, np.array(grid.times))
    best = max(beat_scores(song.beats, np.array(reading.grid.times))[0] for reading in readings)
    ours = (*scores, downbeat_f(downbeats_of(song, midi), np.array(grid.downbeats)))
    return Result(song, ours, beat_scores(song.beats, librosa_beats(song, kept)), readings[0].confidence, best)


def downbeats_of(song: Known, midi: Path | None) -> Floats:
    """The true downbeats of a song: as they are labelled, or as many beats later as the notes in ``midi`` say."""
    if midi is None or not (midi / f"{song.name}.beats").exists():
        return song.downbeats
    from labels import late

    at = np.searchsorted(song.beats, song.downbeats - 0.02) + late(midi / f"{song.name}.beats")
    return song.beats[at[at < len(song.beats)]]


def librosa_beats(song: Known, kept: Path) -> Floats:
    """What ``librosa.beat.beat_track`` finds as it comes, kept between runs."""
    path = kept / f"librosa-{song.set.name}-{song.name}.npy"
    if not path.exists():
        import librosa

        samples, rate = librosa.load(song.audio)
        kept.mkdir(parents=True, exist_ok=True)
        np.save(path, librosa.beat.beat_track(y=samples, sr=rate, units="time")[1])
    return np.load(path)


def print_table(results: list[Result]) -> None:
    """A line per set, then one per quartile of confidence."""
    print("set                songs |     F   CMLt   AMLt  downbeat F  best reading's F | librosa  F   CMLt   AMLt")
    names = sorted({result.song.set.name for result in results})
    for name in names:
        _row(name, [result for result in results if result.song.set.name == name])
    if len(names) > 1:
        _row("all", results)
    print("\nby confidence      songs |     F   from    to")
    order = sorted(results, key=lambda result: result.confidence)
    for number, quarter in enumerate(np.array_split(np.arange(len(order)), 4)):
        chosen = [order[index] for index in quarter]
        f = np.mean([result.ours[0] for result in chosen])
        ends = f"{chosen[0].confidence:5.2f} {chosen[-1].confidence:5.2f}"
        print(f"quarter {number + 1:<10} {len(chosen):>5} | {f:.3f}  {ends}")
    sure = [result.ours[0] >= RIGHT for result in results if result.confidence >= SURE]
    print(f"called sure        {len(sure):>5} | right (F from {RIGHT} on) {np.mean(sure or [0]):.3f}")


def _row(name: str, results: list[Result]) -> None:
    ours = np.mean([result.ours for result in results], axis=0)
    theirs = np.mean([result.librosa for result in results], axis=0)
    best = np.mean([result.second for result in results])
    figures = f"{ours[0]:.3f}  {ours[1]:.3f}  {ours[2]:.3f}       {ours[3]:.3f}             {best:.3f}"
    print(f"{name:<18} {len(results):>5} | {figures} |    {theirs[0]:.3f}  {theirs[1]:.3f}  {theirs[2]:.3f}")


def click_track(tempo: float, seconds: float) -> tuple[Floats, Floats]:
    """Bare clicks (n,) samples, and their times."""
    times = np.arange(0.5, seconds - 0.2, 60 / tempo)
    samples = np.zeros(int(seconds * RATE))
    click = np.sin(2 * np.pi * 1_500 * np.arange(int(0.03 * RATE)) / RATE) * np.exp(-np.arange(int(0.03 * RATE)) / 200)
    for time in times:
        begin = round(time * RATE)
        samples[begin : begin + len(click)] += 0.8 * click
    return samples, times


def print_clicks() -> None:
    """Bias and spread of beats against bare clicks, in milliseconds."""
    print("clicks a minute   heard   bias ms   spread ms")
    with tempfile.TemporaryDirectory() as folder:
        for tempo in CLICK_TEMPI:
            samples, times = click_track(tempo, 40)
            path = Path(folder) / f"{tempo}.wav"
            soundfile.write(path, samples, RATE)
            grid = listen(path, cache=False).grid
            beats = np.array(grid.times)
            away = beats[:, None] - times
            off = away[np.arange(len(beats)), np.abs(away).argmin(axis=1)]
            off = off[np.abs(off) < 0.07] * 1000
            print(f"{tempo:>15} {grid.tempo:>7.1f} {off.mean():>+9.2f} {off.std():>11.2f}")


def use_model(path: Path) -> None:
    """Hear with the model in this file."""
    models.FILE = path


def main(arguments: list[str]) -> None:
    options = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    options.add_argument("sets", nargs="*", type=Path)
    options.add_argument("--kept", type=Path, default=Path(tempfile.gettempdir()) / "eavesong-hearing")
    options.add_argument("--model", type=Path, default=models.FILE)
    options.add_argument("--worst", type=int, default=0)
    options.add_argument("--jobs", type=int, default=1)
    options.add_argument("--apart", nargs="+", type=Path, default=[])
    options.add_argument("--without", nargs="+", default=[], metavar="NAME", help="songs that are left out")
    options.add_argument("--turned", type=Path, metavar="MIDI_DIR")
    options.add_argument("--clicks", action="store_true")
    chosen = options.parse_args(arguments)
    use_model(chosen.model)
    if chosen.clicks:
        print_clicks()
    with ProcessPoolExecutor(chosen.jobs, initializer=use_model, initargs=(chosen.model,)) as workers:
        songs = [song for song in songs_of(chosen.sets, chosen.apart) if song.name not in chosen.without]
        results = list(workers.map(partial(measure, kept=chosen.kept, midi=chosen.turned), songs))
    if results:
        print_table(results)
    for result in sorted(results, key=lambda result: result.ours[0])[: chosen.worst]:
        print(f"{result.song.set.name}/{result.song.name}: F {result.ours[0]:.2f}, confidence {result.confidence:.2f}")


if __name__ == "__main__":
    main(sys.argv[1:])
