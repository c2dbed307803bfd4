"""Measure how songs are found in other copies: python tests/benchmarks/exchange.py [--songs 4] [--only NAME …]

Songs are invented and played by eavesong (`eavesong.demo.songs.invent`), or WAVs of a folder (--folder) with beats
texts beside them; what is done to them, ffmpeg and numpy do. Prints one line for each bar that is kept.
"""

import argparse
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.append(str(Path(__file__).parents[1]))

import numpy as np
import soundfile

from eavesong.demo.songs import invent, make_songs
from eavesong.errors import PackError
from eavesong.exchange import Trace, align, find, pack, read_pack, sureness, trace_of, unpack
from eavesong.music import BeatGrid, read_grid

Told = tuple[str, str]
NEAR = 0.05
"""Seconds within which a bar is placed rightly; MIR's usual tolerance for beats is 0.07."""


@dataclass(frozen=True)
class Known:
    """A song and its beats."""

    path: Path
    grid: BeatGrid

    @property
    def bar(self) -> float:
        """Seconds of a usual bar."""
        return float(np.median(np.diff(self.grid.downbeats)))


def songs(folder: Path, count: int, seconds: float = 150.0) -> list[Known]:
    """Invented songs, or those that lie in the folder of --folder."""
    if FOLDER is not None:
        found = [path for path in sorted(FOLDER.glob("*.wav")) if path.with_suffix(".beats").exists()][:count]
        return [
            Known(path, read_grid(path.with_suffix(".beats"), None, soundfile.info(path).duration)) for path in found
        ]
    made = [make_songs(folder / str(seed), (invent(seed, seconds, beats_per_bar=3 if seed % 5 == 4 else 4),))[0]
            for seed in range(FIRST, FIRST + count)]  # fmt: skip
    return [Known(song.path, song.grid) for song in made]


FOLDER: Path | None = None
FIRST = 1


def ffmpeg(source: Path, target: Path, *arguments: str, before: tuple[str, ...] = ()) -> Path:
    """What ffmpeg makes of a file."""
    subprocess.run(["ffmpeg", "-v", "error", "-y", *before, "-i", source, *arguments, target], check=True)
    return target


def off(song: Known, copy: Path, where: Callable[[np.ndarray], np.ndarray]) -> tuple[float, str]:
    """The largest error of a beat in milliseconds, and how sure it was; infinite where a beat lacks or is refused."""
    try:
        found = find(trace_of(song.path), song.grid, copy)
    except PackError:
        return np.inf, "unsure"
    wanted = where(np.array(song.grid.times))
    wanted = wanted[(wanted > 0.1) & (wanted < soundfile_seconds(copy) - 0.1)]
    placed = np.array(found.grid.times)
    return float(1000 * np.abs(wanted[:, None] - placed[None]).min(axis=1).max()), found.sure


def soundfile_seconds(path: Path) -> float:
    """Seconds of sound, counted by decoding."""
    return trace_of(path).seconds


CODECS = (
    (".mp3", ("-b:a", "64k", "-ar", "22050")), (".mp3", ("-b:a", "128k")), (".mp3", ("-b:a", "320k", "-ar", "48000")),
    (".mp3", ("-q:a", "4", "-ar", "32000")), (".m4a", ("-b:a", "64k",)), (".m4a", ("-b:a", "256k", "-ar", "48000")),
    (".ogg", ("-c:a", "libvorbis", "-b:a", "64k", "-ar", "32000")), (".ogg", ("-c:a", "libvorbis", "-b:a", "192k")),
    (".opus", ("-c:a", "libopus", "-b:a", "64k")), (".opus", ("-c:a", "libopus", "-b:a", "160k")),
)  # fmt: skip
TRIMS = (0.0, 2.37, -3.21, 9.9, -9.9)
"""Seconds trimmed from the beginning, or padded where negative."""


def codecs(folder: Path, count: int) -> Iterator[Told]:
    """Other encoders, rates and beginnings."""
    worst, unsure, tried, rng = [], 0, 0, np.random.default_rng(5)
    for song in songs(folder, max(count, 4)):
        for number, (ending, arguments) in enumerate(CODECS):
            trim = TRIMS[int(rng.integers(len(TRIMS)))]
            pad = ("-af", f"adelay={round(-1000 * trim)}:all=1") if trim < 0 else ()
            cut = ("-ss", str(trim)) if trim > 0 else ()
            copy = ffmpeg(song.path, folder / f"copy{number}{ending}", *arguments, *pad, before=cut)
            milliseconds, sure = off(song, copy, lambda times, trim=trim: times - trim)
            worst.append(milliseconds)
            unsure += sure != "sure"
            tried += 1
    yield "other encoders, trimmed or padded: worst beat", _milliseconds(worst, 5, unsure)


def speed(folder: Path, count: int) -> Iterator[Told]:
    """Played up to 2 % faster or slower."""
    worst, unsure, rng = [], 0, np.random.default_rng(6)
    for song in songs(folder, max(count, 4)):
        rate = soundfile.info(song.path).samplerate
        for _ in range(5):
            other = round(rate * (1 + rng.uniform(-0.02, 0.02)))
            faster = other / rate
            copy = ffmpeg(song.path, folder / "fast.mp3", "-af", f"asetrate={other},aresample=44100", "-b:a", "128k")
            milliseconds, sure = off(song, copy, lambda times, faster=faster: times / faster)
            worst.append(milliseconds)
            unsure += sure != "sure"
    yield "up to 2 % faster or slower: worst beat", _milliseconds(worst, 10, unsure)


WORN = {
    "louder and clipped": "volume=9dB,alimiter=limit=0.9",
    "compressed": "acompressor=threshold=-30dB:ratio=8:attack=5:release=80:makeup=6",
    "equalised": "equalizer=f=90:t=q:w=1:g=9,equalizer=f=3000:t=q:w=1:g=-9,equalizer=f=9000:t=q:w=1:g=7",
    "thin": "highpass=f=300,lowpass=f=3400",
    "echoing": "aecho=0.8:0.7:60:0.3",
}


def worn(folder: Path, count: int) -> Iterator[Told]:
    """Louder, compressed, equalised, noisy, spoken over."""
    rng, worst, unsure = np.random.default_rng(7), [], 0
    for song in songs(folder, max(count, 4)):
        for recipe in WORN.values():
            milliseconds, sure = off(song, ffmpeg(song.path, folder / "worn.mp3", "-af", recipe), lambda times: times)
            worst.append(milliseconds)
            unsure += sure != "sure"
        sound, rate = soundfile.read(song.path)
        noisy = sound + rng.normal(0, 0.1 * sound.std() * 3, sound.shape)
        spoken = sound.copy()
        spoken[: 6 * rate] = 0.35 * spoken[: 6 * rate] + speech(6.0, rate, rng)[:, None]
        for changed in (noisy, spoken):
            soundfile.write(folder / "worn.wav", np.clip(changed, -1, 1), rate)
            milliseconds, sure = off(song, folder / "worn.wav", lambda times: times)
            worst.append(milliseconds)
            unsure += sure != "sure"
    yield "louder, compressed, equalised, noisy, spoken over: worst beat", _milliseconds(worst, 15, unsure)


def speech(seconds: float, rate: int, rng: np.random.Generator) -> np.ndarray:
    """Something like a voice: buzz and hiss in syllables, three to five a second."""
    t = np.arange(round(seconds * rate)) / rate
    buzz = np.sign(np.sin(2 * np.pi * np.cumsum(120 + 25 * np.sin(2 * np.pi * 0.7 * t)) / rate))
    loud, at = np.zeros(len(t)), 0.0
    while at < seconds:
        long = rng.uniform(0.1, 0.25)
        loud += np.exp(-(((t - at - long / 2) / (long / 2)) ** 4)) * rng.uniform(0.4, 1)
        at += long + rng.uniform(0.03, 0.12)
    return 0.3 * loud * (0.5 * buzz + 0.5 * rng.normal(0, 0.5, len(t)))


def edits(folder: Path, count: int) -> Iterator[Told]:
    """A verse cut, a chorus doubled, the beginning taken away, all three."""
    right = wanted = refused = 0
    for song in songs(folder, max(count, 4)):
        bars = song.grid.bar_count
        middle = (bars // 3, bars // 3 + 8)
        twice = (2 * bars // 3, 2 * bars // 3 + 8)
        for plan in (
            [(0, middle[0]), (middle[1], bars)], [(0, twice[1]), (twice[0], bars)], [(9, bars)],
            [(9, middle[0]), (middle[1], twice[1]), (twice[0], bars)],
        ):  # fmt: skip
            truth = edited(song, plan, folder / "edit.wav")
            copy = ffmpeg(folder / "edit.wav", folder / "edit.mp3", "-b:a", "128k")
            try:
                found = find(trace_of(song.path), song.grid, copy)
            except PackError:
                refused += 1
                wanted += len(truth)
                continue
            placed = np.array(found.grid.downbeats)
            right += sum(bool(np.abs(placed - time).min() < NEAR) for time in truth)
            extra = sum(bool(np.abs(np.array(truth) - time).min() > NEAR) for time in placed)
            right -= extra
            wanted += len(truth)
    yield (
        "edits: bars placed rightly, less those that are none",
        f"{100 * right / wanted:.1f} % (95); refused {refused}",
    )


def edited(song: Known, plan: list[tuple[int, int]], out: Path) -> list[float]:
    """Write the bars of ``plan`` (from and to, from 0) after each other, faded over in 5 ms; where bars begin there."""
    sound, rate = soundfile.read(song.path)
    fade = round(0.005 * rate)
    parts, truth, at = [], [], 0
    for begin, end in plan:
        first = 0 if begin == 0 else round(song.grid.time_of_bar(begin) * rate)
        last = len(sound) if end >= song.grid.bar_count else round(song.grid.time_of_bar(end) * rate)
        part = sound[first:last].copy()
        part[:fade] *= np.linspace(0, 1, fade)[:, None]
        part[-fade:] *= np.linspace(1, 0, fade)[:, None]
        truth += [song.grid.downbeats[bar] + (at - first) / rate for bar in range(begin, min(end, song.grid.bar_count))]
        parts.append(part)
        at += len(part)
    soundfile.write(out, np.concatenate(parts), rate)
    return truth


def again(folder: Path, count: int) -> Iterator[Told]:
    """The same score in another tempo and key, with other players: refused as unsure; placed when asked for anyway."""
    unsure = right = wanted = tried = 0
    for seed in range(FIRST, FIRST + max(count, 4)):
        score = invent(seed, 120.0)
        song = make_songs(folder / "one", (score,))[0]
        passages = tuple(replace(each, voice="lead" if each.voice == "bells" else "bells",
                                 layers=each.layers.replace("pluck", "pad")) for each in score.passages)  # fmt: skip
        other = replace(score, tempo=score.tempo * (0.9 + 0.2 * (seed % 2)), key=score.key + 3, passages=passages)
        copy = make_songs(folder / "other", (other,))[0]
        known = Known(song.path, song.grid)
        tried += 1
        try:
            found = find(trace_of(song.path), known.grid, copy.path)
            taken = found.sure == "sure"
        except PackError:
            taken = False
            found = find(trace_of(song.path), known.grid, copy.path, anyway=True)
        unsure += not taken
        placed = np.array(found.grid.downbeats)
        right += sum(bool(np.abs(placed - time).min() < 2 * NEAR) for time in copy.grid.downbeats)
        wanted += copy.grid.bar_count
    share = 100 * right / wanted
    told = f"unsure of {unsure} of {tried}; with --anyway {share:.0f} % of bars within 0.1 s"
    yield "another recording of the same song", told


def others(folder: Path, count: int) -> Iterator[Told]:
    """Pairs of different songs."""
    known = songs(folder, 21, 120.0)
    traces = [(trace_of(song.path), song.bar) for song in known]
    taken = pairs = 0
    most = 0.0
    for one, (trace, bar) in enumerate(traces):
        for other, (copy, _) in enumerate(traces):
            if one != other and pairs < 100 * count:
                found = align(trace, Trace(copy.moments), bar)
                taken += sureness(found) != "unsure"
                most = max(most, found.margin)
                pairs += 1
    yield f"another song taken for it, {pairs} pairs", f"{taken} (0); the largest margin {most:.3f}"


def timing(folder: Path, count: int) -> Iterator[Told]:
    """Seconds for a song of three minutes."""
    song = songs(folder, 1, 180.0)[0]
    copy = ffmpeg(song.path, folder / "copy.mp3", "-b:a", "192k", before=("-ss", "1.3"))
    beats = folder / "song.beats"
    from eavesong.music import write_beats

    write_beats(beats, song.grid)
    command = [sys.executable, "-m", "eavesong", "align", str(beats), "--from", str(song.path), "--to", str(copy),
               "--overwrite"]  # fmt: skip
    took = []
    for _ in range(3):
        began = time.perf_counter()
        subprocess.run(command, check=True, capture_output=True)
        took.append(time.perf_counter() - began)
    yield "three minutes, the whole process of align", f"{min(took):.2f} s (4)"


def same(folder: Path, count: int) -> Iterator[Told]:
    """Pack, unpack to the same copy, render: the same frames."""
    import h5py

    from eavesong.files import shipped
    from eavesong.render import Order, render

    song = make_songs(folder, (invent(3, 40.0),))[0]
    show, house = folder / "a.show.toml", shipped("layouts") / "bungalow.toml"
    text = (Path(sys.modules["eavesong.demo"].__file__ or "").parent / "street.show.toml").read_text()
    show.write_text(text.replace("lantern-walk.wav", song.path.name))
    first, second = pack(show, folder / "a.zip", picture=False), pack(show, folder / "b.zip", picture=False)
    alike = first.path.read_bytes() == second.path.read_bytes()
    done = unpack(read_pack(first.path), song.path, folder / "to")
    frames = []
    for number, (name, where) in enumerate(((show, song.path), (done.show, None))):
        render(Order.of(name, house, where, stop=20.0), folder / f"{number}.h5")
        with h5py.File(folder / f"{number}.h5") as file:
            frames.append(file["frames"][:])
    same_bytes = np.array_equal(*frames)
    yield "pack, unpack to the same copy, render", "the same bytes" if same_bytes and alike else "OTHER BYTES"


def _milliseconds(worst: list[float], bar: float, unsure: int) -> str:
    good = sum(value <= bar for value in worst)
    figures = np.array([value for value in worst if np.isfinite(value)])
    told = f"median {np.median(figures):.1f} ms, worst {figures.max():.1f} ms" if len(figures) else "none"
    return f"{good} of {len(worst)} within {bar:g} ms; {told}; not sure of {unsure}"


PARTS: dict[str, Callable[[Path, int], Iterator[Told]]] = {
    "codecs": codecs, "speed": speed, "worn": worn, "edits": edits, "again": again, "others": others, "timing": timing,
    "same": same,
}  # fmt: skip


def main() -> None:
    global FOLDER, FIRST
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--songs", type=int, default=4)
    parser.add_argument("--first", type=int, default=1, help="Number of the first invented song.")
    parser.add_argument("--folder", type=Path, help="WAVs with beats texts beside them, instead of invented songs.")
    parser.add_argument("--only", nargs="*", choices=PARTS, default=list(PARTS))
    asked = parser.parse_args()
    FOLDER, FIRST = asked.folder, asked.first
    for name in asked.only:
        with tempfile.TemporaryDirectory() as scratch:
            for about, found in PARTS[name](Path(scratch), asked.songs):
                print(f"{about:<62} {found}", flush=True)


if __name__ == "__main__":
    main()
