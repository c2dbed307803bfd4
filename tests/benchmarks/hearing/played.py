"""Play MIDI music whose beats are known from its own tempi and bars, to judge what was trained on other music.

    python tests/benchmarks/hearing/played.py SOURCE OUT_DIR [--songs 60] [--from 0] [--seconds 120] [--marked]

``SOURCE`` is a folder of MIDI files, or a file that holds some, as the archives of games do: in Debian's packages
``openttd-openmsx`` (``/usr/share/games/openttd``) and ``freedoom`` (``/usr/share/games/doom/freedoom2.wad``). Where
``NAME.beats`` lies beside ``NAME.mid`` (seconds, two columns of marks, the second is 1 at downbeats), the beats
are those. Markers of sections in a file are told as the truth of sections, with ``--marked`` files without are left out
and none is for its beats. Needs mido, and Debian's ``fluidsynth`` with a soundfont of
``compose_render``: the second that is there. None of it may be trained on.
"""

import argparse
import io
import re
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import mido
import numpy as np
from compose_render import FONTS, RATE, play, write_midi
from compose_write import Truth, write_manifest, write_sound

KEPT_TO = 0.15
"""Share of the notes that begin within 3 % of a beat, from which the file's beats are the music's: of notes recorded
without regard to them 6 % do by chance."""
FEWEST = 60
"""Notes of a song."""
SHORTEST = 20.0
"""Seconds of one: shorter ones are jingles."""
MARKED = 5
"""Sections of a song in which they are marked: with fewer, markers may say who wrote it."""
SOUNDS = ("note_on", "note_off", "program_change", "control_change", "pitchwheel")


@dataclass
class Timed:
    """A MIDI file by the clock: its messages with their seconds, and its beats and downbeats."""

    messages: list[tuple[float, mido.Message]]
    beats: np.ndarray
    downbeats: np.ndarray
    markers: list[tuple[float, str]] = field(default_factory=list)
    """Seconds and names of the sections that whoever wrote the music marked."""

    @property
    def kept_to(self) -> float:
        """The share of the notes that begin on a beat."""
        struck = np.array(self.struck)
        beat = np.interp(struck, self.beats, np.arange(len(self.beats)))
        return float(np.mean(np.abs(beat - np.round(beat)) < 0.03))

    @property
    def struck(self) -> list[float]:
        """Seconds at which notes begin."""
        return [at for at, message in self.messages if message.type == "note_on" and message.velocity]


def files_in(source: Path) -> Iterator[tuple[str, bytes]]:
    """Names and contents of the MIDI files in a folder and below it, or one after the other in a larger file."""
    if source.is_dir():
        for path in sorted(source.rglob("*.mid")):
            yield path.stem, path.read_bytes()
        return
    archive = source.read_bytes()
    for number, found in enumerate(re.finditer(b"MThd\x00\x00\x00\x06", archive)):
        begin = end = found.start()
        end += 14
        for _ in range(int.from_bytes(archive[begin + 10 : begin + 12], "big")):
            if archive[end : end + 4] != b"MTrk":
                break
            end += 8 + int.from_bytes(archive[end + 4 : end + 8], "big")
        yield f"{source.stem}_{number:03d}", archive[begin:end]


def by_the_clock(content: bytes) -> Timed:
    """A file's messages and beats: quarters, or what the signature counts, three to a beat in six, nine and twelve."""
    file = mido.MidiFile(file=io.BytesIO(content), clip=True)
    tick, changes, signatures, others = 0, [(0, 500_000)], [(0, 4, 4)], []
    marks: list[tuple[int, str]] = []
    for message in mido.merge_tracks(file.tracks):
        tick += message.time
        if message.type == "set_tempo":
            changes.append((tick, message.tempo))
        elif message.type == "time_signature":
            signatures.append((tick, message.numerator, message.denominator))
        elif message.type == "marker":
            marks.append((tick, message.text.strip()))
        elif message.type in SOUNDS:
            others.append((tick, message))
    ticks = np.array([at for at, _ in changes], float)
    lengths = np.array([tempo for _, tempo in changes]) / 1e6 / file.ticks_per_beat
    reached = np.concatenate([[0.0], np.cumsum(np.diff(ticks) * lengths[:-1])])

    def seconds(at: np.ndarray | float) -> np.ndarray:
        last = np.maximum(np.searchsorted(ticks, at, side="right") - 1, 0)
        return reached[last] + (at - ticks[last]) * lengths[last]

    beats, downbeats, end = [], [], tick
    for number, (begin, count, unit) in enumerate(signatures):
        stop = signatures[number + 1][0] if number + 1 < len(signatures) else end
        compound = unit >= 8 and count > 3 and count % 3 == 0
        step = file.ticks_per_beat * 4 / unit * (3 if compound else 1)
        places = np.arange(begin, stop - 1e-6, step)
        beats.append(places)
        downbeats.append(places[:: count // 3 if compound else count])
    told = [(float(seconds(at)), message) for at, message in others]
    markers = [(float(seconds(at)), text) for at, text in marks]
    return Timed(told, seconds(np.concatenate(beats)), seconds(np.concatenate(downbeats)), markers)


def sections_of(timed: Timed, begin: float, end: float, lead: float) -> list[tuple[float, float, str]]:
    """The marked sections between two moments, ``lead`` seconds later; none where they are fewer than `MARKED`."""
    kept = [(max(at, begin) + lead, text) for at, text in timed.markers if at < end]
    edges = [*(at for at, _ in kept), end + lead]
    spans = zip(edges[:-1], edges[1:], (text for _, text in kept), strict=True)
    rows = [(start, stop, text) for start, stop, text in spans if stop > start]
    return rows if len(rows) >= MARKED else []


def write_played(out: Path, name: str, timed: Timed, length: float) -> dict:
    """Play a song's first ``length`` seconds and write it with its truth; its line of the manifest."""
    struck = np.array(timed.struck)
    begin, end = struck.min(), min(struck.max(), struck.min() + length)
    lead = 0.5 - begin
    kept = [(at + lead, message) for at, message in timed.messages if begin <= at <= end]
    before = [(0.0, message) for at, message in timed.messages if at < begin and "note" not in message.type]
    with tempfile.TemporaryDirectory() as folder:
        midi = Path(folder) / "song.mid"
        write_midi(midi, [], {}, before + kept + _silence(end + lead + 1))
        wave = play(midi, FONTS[min(1, len(FONTS) - 1)])[: int((end + lead + 1) * RATE)].astype(float)
    truth = [times[(times >= begin - 0.02) & (times <= end)] + lead for times in (timed.beats, timed.downbeats)]
    write_sound(
        out, name, 0.9 * wave / max(np.abs(wave).max(), 1e-6), Truth(*truth, sections_of(timed, begin, end, lead))
    )
    return {"name": name, "tempo": round(float(60 / np.median(np.diff(truth[0]))), 2)}


def _silence(at: float) -> list[tuple[float, mido.Message]]:
    """What ends every sound: fluidsynth plays on for as long as one note is held."""
    return [(at, mido.Message("control_change", channel=channel, control=120)) for channel in range(16)]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("source", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--songs", type=int, default=1000)
    parser.add_argument("--from", dest="first", type=int, default=0, help="songs in order of name that are passed over")
    parser.add_argument("--seconds", type=float, default=120.0)
    parser.add_argument("--marked", action="store_true", help="only files in which sections are marked")
    asked = parser.parse_args()
    songs, left_out, known = [], 0, set()
    for name, content in list(files_in(asked.source))[asked.first : asked.first + asked.songs]:
        timed = by_the_clock(content)
        marks = asked.source / f"{name}.beats"
        if marks.is_file():
            rows = np.loadtxt(marks)
            timed.beats, timed.downbeats = rows[:, 0], rows[rows[:, 2] > 0, 0]
        elif not sections_of(timed, 0.0, asked.seconds, 0.0) if asked.marked else timed.kept_to < KEPT_TO:
            left_out += 1
            continue
        struck = timed.struck
        if len(struck) < FEWEST or max(struck) - min(struck) < SHORTEST or content in known:
            left_out += 1
            continue
        known.add(content)
        songs.append(write_played(asked.out, name, timed, asked.seconds))
    write_manifest(asked.out, f"played.py {asked.source.name}", songs)
    print(f"{len(songs)} songs; {left_out} short, double or with notes that do not keep to their beats, left out")
    return 0


if __name__ == "__main__":
    sys.exit(main())
