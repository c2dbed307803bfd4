"""What can be read of a song that is damaged or ends early, as a whole file of its own."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from eavesong.errors import AudioError, OutputError, Problem
from eavesong.files import whole_file


@dataclass(frozen=True)
class Salvaged:
    """What was written."""

    seconds: float
    found: str
    """Why there was no more; empty where the song is whole."""


def salvage(song: str | Path, out: str | Path) -> Salvaged:
    """Write all of ``song`` up to where it is damaged or ends to ``out``, a .flac of 16 bits. Whole or not at all.

    Raises AudioError where nothing of it can be read, OutputError where ``out`` is no .flac, is the song itself or
    cannot be written.
    """
    import soundfile

    from eavesong.music.sound import open_sound

    target = Path(out)
    if target.suffix.lower() != ".flac":
        raise OutputError(Problem(str(out), "", "is no FLAC", "Let the name end with .flac."))
    if target.exists() and Path(song).exists() and target.samefile(song):
        raise OutputError(Problem(str(out), "", "is the song itself", "Choose another name."))
    written, found = 0, ""
    with open_sound(song) as sound, whole_file(out) as draft:
        try:
            with soundfile.SoundFile(draft, "w", sound.rate, sound.channels, "PCM_16", format="FLAC") as file:
                try:
                    for block in sound.blocks():
                        file.write(block)
                        written += len(block)
                except AudioError as fault:
                    if not written:
                        raise
                    found = fault.problems[0].found
        except soundfile.LibsndfileError as fault:
            reason = str(fault).strip().removeprefix("Error :").strip(" .")
            raise OutputError(Problem(str(out), "", f"cannot be written: {reason}")) from None
        return Salvaged(written / sound.rate, found)
