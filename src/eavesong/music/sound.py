"""Reading songs as sound, block by block, so that a long one needs no more memory than a short one.

libsndfile reads WAV, AIFF, FLAC, Ogg, Opus, MP3 and more; what it refuses (M4A and other AAC) goes through the
FFmpeg libraries that PyAV brings along. A damaged file often decodes without any error and comes out short, which
would put every light after the gap out of step: so what was decoded is compared with what the file says it holds.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import shlex
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from io import BufferedReader
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from eavesong.errors import AudioError, Problem, advise
from eavesong.music.hush import quiet

if TYPE_CHECKING:
    from numpy.typing import NDArray

BLOCK = 1 << 17
"""Samples read at once, all channels together."""
NO_SOUND = (".h5", ".toml", ".html", ".json", ".beats", ".sections", ".events", ".png", ".jpg", ".zip", ".pack")
"""Ends of names of files that lie beside songs, and are not meant where a song is."""

LONGEST = 4 * 3600
"""Seconds of the longest recording that is read."""
SLOWEST, FASTEST = 1_000, 768_000
"""Sample rates in Hz between which a file is believed."""
MOST_CHANNELS = 64
LOUDEST = 1e6
"""Samples beyond this are cut: full scale is 1, and squares must stay finite in float32."""
MISSING = 0.1
"""Seconds by which the decoded may fall short of the declared elsewhere: an encoder's delay and padding are less."""
EXACT = ("WAV", "AIFF", "FLAC")
"""libsndfile's formats that know their length to the sample: a hole of 25 ms shifts all that follows it."""
WHOLE = 1.0
"""Seconds by which an Ogg stream whose pages are all there may fall short of what they count: some encoders count what
they never wrote. Nothing is missing between its sounds then."""

WORTH_A_WORD = 0.01
"""Seconds by which sound that is taken falls short, and which people are told of."""

CONTAINERS = "mov,mp4,m4a,3gp,3g2,mj2,aac,matroska,webm,asf,caf,ac3,eac3,mpeg,mpegts,wv,tta,ape,dsf,avi"
"""Names of FFmpeg's readers that may be used: none of them follows links to other files, as playlists would."""
BARE = ("aac", "ac3", "eac3", "mpeg", "mpegts")
"""Readers whose length FFmpeg estimates from the bit rate."""

NAMED = {
    ".wav": ("WAV", "RF64", "W64"), ".flac": ("FLAC",), ".mp3": ("MP3", "mp3"), ".ogg": ("OGG", "ogg"),
    ".oga": ("OGG", "ogg"), ".opus": ("OGG", "ogg"), ".m4a": ("m4a",), ".aac": ("aac",), ".aif": ("AIFF",),
    ".aiff": ("AIFF",),
}  # fmt: skip
"""Ends of names, and what libsndfile and FFmpeg call the files that they promise."""

AGAIN = "Fetch or copy the file again; if this is all there is of the song, convert it to FLAC."


@dataclass(frozen=True)
class Sound:
    """A song opened for reading."""

    path: str
    rate: int
    """Samples a second, in Hz."""
    channels: int
    read: Callable[[], Iterator[NDArray[np.float32]]]
    """Gives the blocks (n, channels) in order, full scale 1; may be called once."""

    def blocks(self) -> Iterator[NDArray[np.float32]]:
        """The sound in order, in blocks float32 (n, channels) of finite samples.

        Raises AudioError when the file is damaged, ends early, holds nothing or is longer than four hours.
        """
        total = 0
        for block in self.read():
            total += len(block)
            if total > LONGEST * self.rate:
                raise _error(self.path, "is longer than four hours", "Cut it into songs.")
            yield np.clip(np.nan_to_num(block, nan=0.0), -LOUDEST, LOUDEST)
        if not total:
            raise _error(self.path, "holds no sound")


@contextlib.contextmanager
def open_sound(path: str | Path) -> Iterator[Sound]:
    """Open the song at ``path`` for reading. Raises AudioError when it is missing, empty or not sound."""
    import soundfile

    name = str(path)
    with _open_file(path) as file:
        _refuse_cut(name, file)
        try:
            with quiet():
                reader = soundfile.SoundFile(file)
        except (soundfile.LibsndfileError, TypeError):  # TypeError: a name that ends in .raw
            file.seek(0)
            with _open_container(name, file) as sound:
                yield _believable(sound)
        else:
            _tell_kind(name, reader.format)
            with reader:
                yield _believable(Sound(name, reader.samplerate, reader.channels, lambda: _decode(name, reader)))


SETTLED = 2e9
"""Nanoseconds for which a file has to be as it is before its times are taken to tell whether it changes: file systems
write them down in steps of up to two seconds."""

MOST_KNOWN = 1000

_known: dict[tuple[int, ...], str] = {}
"""The hashes of songs by where their files lie, how large they are, and when they were changed."""


def sound_hash(path: str | Path) -> str:
    """The song's identity: SHA-256 (FIPS 180-4) of the file, as 64 hex digits. Raises AudioError as open_sound.

    A process reads a file once for it, until that changes.
    """
    with _open_file(path) as file:
        told = os.fstat(file.fileno())
        mark = (told.st_dev, told.st_ino, told.st_size, told.st_mtime_ns, told.st_ctime_ns)
        if found := _known.get(mark):
            return found
        try:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
        except OSError as fault:
            raise _error(str(path), f"cannot be read: {fault.strerror or fault}") from None
    if time.time_ns() - max(told.st_mtime_ns, told.st_ctime_ns) > SETTLED and len(_known) < MOST_KNOWN:
        _known[mark] = digest
    return digest


def _open_file(path: str | Path) -> BufferedReader:
    name = str(path)
    try:
        if os.path.exists(path) and not os.path.isfile(path):
            raise _error(name, "is not a file")
        if os.path.isfile(path) and not os.path.getsize(path):
            raise _error(name, "is empty")
        return open(path, "rb")
    except FileNotFoundError:
        beside = Path(path).parent
        there = [entry.name for entry in beside.iterdir()] if beside.is_dir() else []
        others = [name for name in there if not name.lower().endswith(NO_SOUND)]
        raise _error(name, "there is no such file", advise(Path(path).name, others, "file")) from None
    except (OSError, ValueError) as fault:
        raise _error(name, f"cannot be read: {getattr(fault, 'strerror', None) or fault}") from None


def _decode(name: str, reader: Any) -> Iterator[NDArray[np.float32]]:
    """The blocks of a libsndfile reader."""
    import soundfile

    size = max(1, BLOCK // reader.channels)
    decoded, declared = 0, reader.frames
    try:
        while len(block := _read(reader, size)):
            decoded += len(block)
            yield block
    except soundfile.LibsndfileError as fault:
        raise _damaged(name, decoded / reader.samplerate, fault) from None
    # A stream of unknown length declares the largest number there is.
    if declared < 1 << 62:
        missing = 0.0 if reader.format in EXACT else WHOLE if reader.format == "OGG" else MISSING
        _refuse_short(name, decoded / reader.samplerate, declared / reader.samplerate, missing)


def _read(reader: Any, size: int) -> NDArray[np.float32]:
    with quiet() if reader.format == "MP3" else contextlib.nullcontext():
        return np.asarray(reader.read(size, dtype="float32", always_2d=True))


@contextlib.contextmanager
def _open_container(name: str, file: BufferedReader) -> Iterator[Sound]:
    """Open with FFmpeg what libsndfile refused. Raises AudioError when it holds no sound either."""
    import av

    try:
        # An open file instead of a name, and no other readers: nothing but this file can be reached.
        container = av.open(file, options={"format_whitelist": CONTAINERS})
    except (av.error.FFmpegError, ValueError):
        raise _error(name, "is not sound that can be read", "Use a WAV, FLAC, Ogg, MP3 or M4A file.") from None
    with container:
        if not container.streams.audio:
            raise _error(name, "holds no sound", "Use a WAV, FLAC, Ogg, MP3 or M4A file.")
        stream = container.streams.audio[0]
        _tell_kind(name, container.format.name)
        yield Sound(name, stream.rate or 0, stream.channels or 0, lambda: _demux(name, container, stream))


@lru_cache
def _tell_kind(name: str, kind: str) -> None:
    """Say, once, that a file is of another kind than its name says.

    kind: in the words of libsndfile or FFmpeg.
    """
    named = Path(name).suffix.lower()
    if named in NAMED and not any(each in kind for each in NAMED[named]):
        import logging

        told = "%s is no %s file, but %s: it is read as what it is. Give it a name that says so."
        what = next((end for end, kinds in NAMED.items() if any(each in kind for each in kinds)), kind)
        logging.getLogger("eavesong").warning(told, Path(name).name, named[1:].upper(), what.strip(".").upper())


def _demux(name: str, container: Any, stream: Any) -> Iterator[NDArray[np.float32]]:
    """The blocks of an FFmpeg stream."""
    import av

    decoded = 0
    floats = av.AudioResampler(format="fltp", layout=stream.layout, rate=stream.rate)
    try:
        for frame in container.decode(stream):
            for part in floats.resample(frame):
                decoded += part.samples
                yield np.ascontiguousarray(part.to_ndarray().T)
    except (av.error.FFmpegError, ValueError) as fault:
        raise _damaged(name, decoded / stream.rate, fault) from None
    if declared := _declared(container, stream):
        _refuse_short(name, decoded / stream.rate, declared)


def _declared(container: Any, stream: Any) -> float:
    """The seconds an FFmpeg stream says it lasts, or 0 where it does not say: bare streams' are only guessed."""
    if container.format.name in BARE:
        return 0.0
    if stream.duration:
        return float(stream.duration * stream.time_base)
    # The whole file's length is this stream's only when nothing else is in it, such as a picture.
    alone = len(container.streams) == 1 and container.duration
    return container.duration / 1e6 if alone else 0.0


def _believable(sound: Sound) -> Sound:
    if not SLOWEST <= sound.rate <= FASTEST:
        raise _error(sound.path, f"a sample rate of {sound.rate} Hz cannot be right")
    if not 1 <= sound.channels <= MOST_CHANNELS:
        raise _error(sound.path, f"has {sound.channels} channels", "Use a stereo recording.")
    return sound


def _refuse_cut(name: str, file: BufferedReader) -> None:
    """Raise AudioError for a file whose own frame says that its end is missing, which libsndfile takes silently.

    WAV and AIFF give their size in bytes 4 to 8 (unknown when recorded from a pipe: then near the largest number
    there is); the last page of an Ogg stream bears the flag 4 (RFC 3533, section 6).
    """
    size = os.fstat(file.fileno()).st_size
    head = file.read(8)
    declared = int.from_bytes(head[4:], "little" if head[:4] == b"RIFF" else "big") + 8
    if head[:4] in (b"RIFF", b"FORM") and size + 1 < declared < 0x7FFF0000:
        raise _error(name, f"ends after {size:,} of {declared:,} bytes", AGAIN)
    if head[:4] == b"OggS":
        file.seek(max(0, size - 0x20000))
        if not _ends_well(file.read()):
            raise _error(name, "its end is missing", AGAIN)
        if (place := _first_hole(file, size)) is not None:
            raise _error(name, f"cannot be read after {place:,} of {size:,} bytes: a piece of it is damaged", AGAIN)
    file.seek(0)


def _first_hole(file: BufferedReader, size: int) -> int | None:
    """Where the pages of an Ogg file cease to follow each other, in bytes; None where none is missing.

    A page is a header of 27 bytes, a table of the lengths of its segments, and these (RFC 3533, section 6); the pages
    of each stream are numbered. What comes after the last page of the last stream does not matter.
    """
    place, numbers, ended = 0, dict[bytes, int](), False
    while place + 27 <= size:
        file.seek(place)
        head = file.read(27)
        if head[:4] != b"OggS":
            return None if ended else place
        serial, number = head[14:18], int.from_bytes(head[18:22], "little")
        if number != numbers.get(serial, number - 1) + 1:
            return place
        numbers[serial] = number
        ended = bool(head[5] & 4)
        place += 27 + head[26] + sum(file.read(head[26]))
    return None


def _ends_well(ogg: bytes) -> bool:
    """Whether the last Ogg page in these bytes is whole and says that it is the last one."""
    page = ogg[max(ogg.rfind(b"OggS"), 0) :]
    if len(page) < 27 or not page[5] & 4:
        return False
    lengths = page[27 : 27 + page[26]]
    return len(page) >= 27 + page[26] + sum(lengths)


def _refuse_short(name: str, decoded: float, declared: float, missing: float = MISSING) -> None:
    if decoded < declared - missing:
        raise _error(name, f"only {decoded:.2f} s of its {declared:.2f} s can be read", _salvage(name))
    if decoded < declared - WORTH_A_WORD:
        import logging

        told = "%s holds %.2f s of sound and counts %.2f s; it is taken as it is."
        logging.getLogger("eavesong").warning(told, Path(name).name, decoded, declared)


def _damaged(name: str, decoded: float, fault: Exception) -> AudioError:
    reason = getattr(fault, "strerror", None) or str(fault) or type(fault).__name__
    reason = reason.strip().removeprefix("Error :").strip(" .")
    return _error(name, f"cannot be read after {decoded:.1f} s: {reason:.120}", _salvage(name) if decoded else AGAIN)


def _salvage(name: str) -> str:
    """What to do about a song of which only the beginning can be read."""
    new = Path(name).with_name(f"{Path(name).stem}-whole.flac")
    line = shlex.join(["eavesong", "beats", name, "--salvage", str(new)])
    return f"Fetch or copy the file again; if this is all there is of the song, make a whole file of it: {line}"


def _error(name: str, found: str, instead: str = "") -> AudioError:
    return AudioError(Problem(name, "", found, instead))
