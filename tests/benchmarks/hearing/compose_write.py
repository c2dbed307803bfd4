"""Notes at exact times to a folder of sounds and truths, in the layout all makers of songs share.

``OUT_DIR/audio/NAME.wav``, ``truth/NAME.beats.txt`` and ``.downbeats.txt`` (seconds, one a line), ``.sections.lab``
(start, end, label), and ``manifest.json``: what each song is.
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
    """Seconds of beats and downbeats, and sections as (start, end, label), if known."""

    beats: np.ndarray
    downbeats: np.ndarray
    sections: list[tuple[float, float, str]] = field(default_factory=list)


def write_song(out: Path, name: str, sounds: list[Sound], programmes: dict[int, int], truth: Truth, tail: float,
               rng: np.random.Generator, clean: bool = False, font: Path | None = None) -> dict:  # fmt: skip
    """Render one song and write it with its truth; what the manifest says of its sound."""
    font = font or FONTS[int(rng.integers(len(FONTS)))]
    table = delays(font, out / "delays")
    for one in sounds:
        late = delay_of(table, one.channel, programmes.get(one.channel, 0), one.pitch)
        one.on = max(one.on - late, 0.0)
    with tempfile.TemporaryDirectory() as folder:
        midi = Path(folder) / "song.mid"
        pitched = {channel: programme for channel, programme in programmes.items() if channel != DRUM_CHANNEL}
        write_midi(midi, sounds, pitched)
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
    for folder in ("audio", "truth"):
        (out / folder).mkdir(parents=True, exist_ok=True)
    soundfile.write(out / "audio" / f"{name}.wav", wave, RATE, subtype="PCM_16")
    for kind, times in (("beats", truth.beats), ("downbeats", truth.downbeats)):
        (out / "truth" / f"{name}.{kind}.txt").write_text("".join(f"{time:.4f}\n" for time in times))
    if truth.sections:
        rows = (f"{start:.4f}\t{end:.4f}\t{label}\n" for start, end, label in truth.sections)
        (out / "truth" / f"{name}.sections.lab").write_text("".join(rows))


def write_manifest(out: Path, command: str, songs: list[dict]) -> None:
    """The list of songs, a line each."""
    rows = ",\n".join(json.dumps(song) for song in sorted(songs, key=lambda song: song["name"]))
    (out / "manifest.json").write_text(f'{{"made_by": {json.dumps(command)}, "songs": [\n{rows}\n]}}\n')
