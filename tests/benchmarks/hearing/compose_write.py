"""Notes at exact times to a folder of sounds and truths, in the layout all makers of songs share.

``OUT_DIR/audio/NAME.wav``, ``truth/NAME.beats.txt`` and ``.downbeats.txt`` (seconds, one a line), ``.sections.lab``
(start, end, label), ``.events.txt`` (seconds, label), ``.lead.txt`` (begin, end, MIDI pitch), and ``manifest.json``:
what each song is.
"""

import json
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import soundfile
from compose_effects import treat
from compose_render import DRUM_CHANNEL, FONTS, RATE, Sound, delay_of, delays, play, write_midi


@dataclass
class Truth:
    """Seconds of beats and downbeats; sections as (start, end, label), events as (seconds, label) and the notes of the
    lead as (begin, end, MIDI pitch), where they are known."""

    beats: np.ndarray
    downbeats: np.ndarray
    sections: list[tuple[float, float, str]] = field(default_factory=list)
    events: list[tuple[float, str]] = field(default_factory=list)
    lead: list[tuple[float, float, int]] = field(default_factory=list)


def write_song(out: Path, name: str, sounds: list[Sound], programmes: dict[int, int], truth: Truth, tail: float,
               rng: np.random.Generator, clean: bool = False, font: Path | None = None,
               kit: int | None = None) -> dict:  # fmt: skip
    """Render one song and write it with its truth; what the manifest says of its sound. ``kit``: another drum kit."""
    font = font or FONTS[int(rng.integers(len(FONTS)))]
    table = delays(font, out / "delays")
    for one in sounds:
        late = delay_of(table, one.channel, programmes.get(one.channel, 0), one.pitch)
        one.on = max(one.on - late, 0.0)
    with tempfile.TemporaryDirectory() as folder:
        midi = Path(folder) / "song.mid"
        pitched = {channel: programme for channel, programme in programmes.items() if channel != DRUM_CHANNEL}
        write_midi(midi, sounds, pitched if kit is None else pitched | {DRUM_CHANNEL: kit})
        wave = play(midi, font, reverb=not clean and rng.random() < 0.5)
    wave, effects = _cut(wave, max(one.off for one in sounds) + tail, rng), []
    if clean:
        wave = wave / max(np.abs(wave).max(), 1e-6) * 0.9
    else:
        wave, effects = treat(wave, rng)
    if rng.random() < 0.2:
        wave = wave.mean(axis=1)
    write_sound(out, name, wave, truth)
    return {"font": font.stem, "effects": effects, "seconds": round(len(wave) / RATE, 2)}


def _cut(wave: np.ndarray, seconds: float, rng: np.random.Generator) -> np.ndarray:
    count = int(seconds * RATE)
    wave = np.pad(wave, ((0, max(count - len(wave), 0)), (0, 0)))[:count].astype(float)
    wave[-2000:] *= np.linspace(1, 0, min(2000, count))[:, None]
    return wave


def write_sound(out: Path, name: str, wave: np.ndarray, truth: Truth) -> None:
    """Write samples (n,) or (n, 2) and their truth to the folder of a set."""
    (out / "audio").mkdir(parents=True, exist_ok=True)
    soundfile.write(out / "audio" / f"{name}.wav", wave, RATE, subtype="PCM_16")
    write_truth(out, name, truth)


def write_truth(out: Path, name: str, truth: Truth) -> None:
    """Write the truth of a song to the folder of a set."""
    (out / "truth").mkdir(parents=True, exist_ok=True)
    for kind, times in (("beats", truth.beats), ("downbeats", truth.downbeats)):
        (out / "truth" / f"{name}.{kind}.txt").write_text("".join(f"{time:.4f}\n" for time in times))
    tables = {
        "sections.lab": [f"{start:.4f}\t{end:.4f}\t{label}" for start, end, label in truth.sections],
        "events.txt": [f"{time:.4f}\t{label}" for time, label in sorted(truth.events)],
        "lead.txt": [f"{begin:.4f}\t{end:.4f}\t{pitch}" for begin, end, pitch in sorted(truth.lead)],
    }
    for ending, rows in tables.items():
        if rows:
            (out / "truth" / f"{name}.{ending}").write_text("\n".join(rows) + "\n")


STRUCK = {"low": (35, 36), "middle": (37, 38, 39, 40, 41, 43, 45, 47, 48, 50),
          "high": (42, 44, 46, 49, 51, 52, 53, 54, 55, 57, 59, 69, 70, 82)}  # fmt: skip
"""General MIDI percussion keys that are low, middle and high strokes: bass drums; snares, rims, claps and toms;
hi-hats, cymbals, tambourines and shakers. All other keys are none."""


def strokes_of(sounds: list[Sound]) -> list[tuple[float, str]]:
    """The drum strokes among sounds, as events."""
    names = {key: name for name, keys in STRUCK.items() for key in keys}
    struck = (one for one in sounds if one.channel == DRUM_CHANNEL and one.pitch in names)
    return sorted({(round(one.on, 4), names[one.pitch]) for one in struck})


def lead_of(sounds: list[Sound], channel: int | None) -> list[tuple[float, float, int]]:
    """The notes of the channel that leads."""
    return [(one.on, one.off, one.pitch) for one in sounds if one.channel == channel]


def write_manifest(out: Path, command: str, songs: list[dict]) -> None:
    """The list of songs, a line each."""
    rows = ",\n".join(json.dumps(song) for song in sorted(songs, key=lambda song: song["name"]))
    (out / "manifest.json").write_text(f'{{"made_by": {json.dumps(command)}, "songs": [\n{rows}\n]}}\n')
