"""Plays notes through fluidsynth at exact times.

fluidsynth loses time where a MIDI file changes its tempo (some 140 ms in 92 s with a change every beat), so a file is
written at one tempo, ten ticks a millisecond, with each note's seconds turned into ticks. A sound's beginning is not
where its note is: every instrument of a soundfont is measured first, and played as much earlier as it is slow.
"""

import json
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace

import mido
import numpy as np
import soundfile

RATE = 44100
TICKS = 10_000  # a second: 0.1 ms each
SHELF = Path("/usr/share/sounds")
KNOWN = ("sf2/FluidR3_GM.sf2", "sf2/TimGM6mb.sf2", "sf3/MuseScore_General_Full.sf3", "sf3/MuseScore_General_Lite.sf3",
         "sf3/FluidR3Mono_GM.sf3", "sf2/sf_GMbank.sf2", "sf2/opl3.sf2", "sf2/MuseScore_General.sf2")  # fmt: skip
FONTS = [SHELF / name for name in KNOWN if (SHELF / name).exists()]
DRUM_CHANNEL = 9
as_needed = SimpleNamespace(switched_on=False)
"""Whether only the samples that are played are read from a soundfont: much faster for compressed ones, but a few notes
come out a little differently, so sets that are to be made again and again are made without it."""
REGISTERS = (40, 62, 79)
BEGUN = -10.0  # dB below its early peak: there a sound is taken to begin (ours)


@dataclass
class Sound:
    """A note by the clock: seconds on and off, MIDI channel 0-15, pitch, velocity 1-127."""

    on: float
    off: float
    channel: int
    pitch: int
    velocity: int


def write_midi(
    path: Path, sounds: list[Sound], programmes: dict[int, int], extra: list[tuple[float, mido.Message]] = ()
):
    """A MIDI file at one tempo. ``extra``: further messages with their seconds."""
    events: list[tuple[int, int, mido.Message]] = [(round(at * TICKS), 1, message) for at, message in extra]
    for channel, programme in programmes.items():
        events.append((0, 0, mido.Message("program_change", channel=channel, program=programme)))
    for one in sounds:
        on, off = round(one.on * TICKS), round(max(one.off, one.on + 0.02) * TICKS)
        words = {"channel": one.channel, "note": one.pitch}
        events.append((on, 3, mido.Message("note_on", velocity=one.velocity, **words)))
        events.append((off, 2, mido.Message("note_off", **words)))
    events.sort(key=lambda event: event[:2])
    track, now = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=500_000)]), 0
    for tick, _, message in events:
        track.append(message.copy(time=tick - now))
        now = tick
    file = mido.MidiFile(ticks_per_beat=TICKS // 2)
    file.tracks.append(track)
    file.save(path)


def play(midi: Path, font: Path, reverb: bool = False, rate: int = RATE) -> np.ndarray:
    """The sound of a MIDI file: (samples, 2), float32, peak as it comes."""
    with tempfile.TemporaryDirectory() as folder:
        wav = Path(folder) / "out.wav"
        switch = str(int(reverb))
        command = ["fluidsynth", "-ni", "-q", "-g", "0.4", "-R", switch, "-C", switch, "-r", str(rate), "-O", "float",
                   "-T", "wav", "-F", str(wav), str(font), str(midi)]  # fmt: skip
        if as_needed.switched_on:
            command[1:1] = ["-o", "synth.dynamic-sample-loading=1"]
        subprocess.run(command, check=True, capture_output=True)
        return soundfile.read(wav, dtype="float32")[0]


def delays(font: Path, folder: Path) -> dict[str, list[list[float]]]:
    """Seconds from a note to its sound: ``{"pitched": 128 x 3 registers, "drums": 128 keys}``; kept in the folder."""
    kept = folder / f"delays-{font.stem}.json"
    if not kept.exists():
        folder.mkdir(parents=True, exist_ok=True)
        kept.write_text(json.dumps(_measure(font)))
    return json.loads(kept.read_text())


def _measure(font: Path) -> dict[str, list]:
    gap, sounds, extra, starts = 1.0, [], [], []
    wanted = [(0, programme, pitch) for programme in range(128) for pitch in REGISTERS]
    wanted += [(DRUM_CHANNEL, 0, key) for key in range(31, 88)]
    for at, (channel, programme, pitch) in enumerate(wanted):
        start = 0.5 + gap * at
        extra.append((start - 0.02, mido.Message("control_change", channel=channel, control=120)))
        if channel != DRUM_CHANNEL:
            extra.append((start - 0.01, mido.Message("program_change", channel=channel, program=programme)))
        sounds.append(Sound(start, start + 0.6, channel, pitch, 90))
        starts.append(start)
    with tempfile.TemporaryDirectory() as temporary:
        midi = Path(temporary) / "all.mid"
        write_midi(midi, sounds, {}, extra)
        wave = np.abs(play(midi, font)).max(axis=1)
    found = [_begins(wave[int(start * RATE) : int((start + 0.3) * RATE)]) for start in starts]
    pitched = np.array(found[: 128 * len(REGISTERS)]).reshape(128, -1)
    return {"pitched": pitched.tolist(), "drums": [0.0] * 31 + found[128 * len(REGISTERS) :] + [0.0] * 40}


def _begins(wave: np.ndarray) -> float:
    """Seconds until a sound first comes within 10 dB of its peak of the first 0.3 s; 0 where there is none."""
    peak = wave.max(initial=0.0)
    return float(np.argmax(wave >= peak * 10 ** (BEGUN / 20)) / RATE) if peak > 1e-4 else 0.0


def delay_of(table: dict[str, list], channel: int, programme: int, pitch: int) -> float:
    """Seconds a note's sound comes late, at most 0.12 (drums: 0.03)."""
    if channel == DRUM_CHANNEL:
        return min(table["drums"][pitch], 0.03)
    return min(float(np.interp(pitch, REGISTERS, table["pitched"][programme])), 0.12)
