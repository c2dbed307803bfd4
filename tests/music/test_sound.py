"""Reading songs: many formats, the same sound; damaged files are refused, not played short."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from eavesong.errors import AudioError
from eavesong.music.sound import BLOCK, LOUDEST, Sound, open_sound, sound_hash
from eavesong.season.space import seconds_of

from .conftest import RATE, clicks

CLICKS = np.arange(1.0, 6.0)


def read(path: Path) -> tuple[NDArray[np.float32], int]:
    with open_sound(path) as sound:
        return np.concatenate(list(sound.blocks())), sound.rate


def stereo() -> NDArray[np.float64]:
    sound = clicks(CLICKS, 6.5) + np.random.default_rng(3).uniform(-0.01, 0.01, round(6.5 * RATE))
    return np.stack([sound, 0.5 * sound], axis=1)


def write_aac(
    path: Path,
    samples: NDArray[np.float64],
    rate: int = RATE,
    layout: str = "stereo",
    cover: bool = False,
    **options: str,
) -> Path:
    """Encode with FFmpeg's own AAC encoder, as libsndfile has none; perhaps with a title and a picture."""
    import av

    with av.open(str(path), "w", options=options) as container:
        stream = container.add_stream("aac", rate=rate, layout=layout)
        if cover:
            container.metadata["title"] = "Söng"
            picture = container.add_stream("mjpeg", rate=1, width=64, height=64, pix_fmt="yuvj420p")
            red = av.VideoFrame.from_ndarray(np.full((64, 64, 3), (200, 0, 0), np.uint8), format="rgb24")
            container.mux([*picture.encode(red), *picture.encode(None)])
        for begin in range(0, len(samples), 1024):
            planes = np.ascontiguousarray(samples[begin : begin + 1024].T, dtype=np.float32)
            frame = av.AudioFrame.from_ndarray(planes, format="fltp", layout=layout)
            frame.sample_rate, frame.pts = rate, begin
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


def onsets(samples: NDArray[np.float32], rate: int) -> NDArray[np.float64]:
    """The second of the first loud sample near each click."""
    found = []
    for click in CLICKS:
        begin = round((click - 0.2) * rate)
        loud = np.abs(samples[begin : begin + round(0.4 * rate), 0]) > 0.1
        found.append((begin + int(np.argmax(loud))) / rate)
    return np.array(found)


@pytest.mark.parametrize(
    ("name", "how"),
    [
        ("song.wav", {}),
        ("song.wav", {"subtype": "FLOAT"}),
        ("song.aiff", {}),
        ("song.flac", {}),
        ("song.ogg", {}),
        ("song.mp3", {}),
        ("song.m4a", {}),
        ("song.mkv", {}),
    ],
)
def test_every_format_gives_the_same_sound_at_the_same_time(
    write: Callable[..., Path], tmp_path: Path, name: str, how: dict[str, str]
) -> None:
    if name.endswith(("m4a", "mkv")):
        path = write_aac(tmp_path / name, stereo())
    else:
        path = write(name, stereo(), **how)
    samples, rate = read(path)
    assert rate == RATE
    assert samples.dtype == np.float32
    assert samples.shape[1] == 2
    assert len(samples) / rate == pytest.approx(6.5, abs=0.05)
    # No encoder's delay (AAC's is 23 or 48 ms) may shift the beats; a click's pre-echo is 2 ms.
    assert onsets(samples, rate) == pytest.approx(CLICKS, abs=0.0025)


OPUS = {"format": "OGG", "subtype": "OPUS"}


@pytest.mark.parametrize(
    ("name", "rate", "channels", "how"),
    [
        ("song.wav", 8_000, 1, {}),
        ("song.wav", 192_000, 2, {"subtype": "PCM_24"}),
        ("song.wav", 48_000, 6, {}),
        ("song.aiff", 96_000, 6, {}),
        ("song.flac", 192_000, 6, {}),
        ("song.flac", 11_025, 1, {}),
        ("song.ogg", 48_000, 6, {}),
        ("song.ogg", 8_000, 1, {}),
        ("song.opus", 48_000, 2, OPUS),
        ("song.opus", 48_000, 6, OPUS),
        ("song.opus", 16_000, 1, OPUS),
        ("song.mp3", 48_000, 1, {}),
        ("song.mp3", 8_000, 2, {}),
        ("song.m4a", 48_000, 6, {}),
        ("song.m4a", 8_000, 1, {}),
        ("song.m4a", 96_000, 2, {}),
    ],
)
def test_any_rate_and_number_of_channels_gives_the_clicks_in_their_places(
    write: Callable[..., Path], tmp_path: Path, name: str, rate: int, channels: int, how: dict[str, str]
) -> None:
    samples = np.stack([clicks(CLICKS, 6.5, rate)] * channels, axis=1)
    if name.endswith("m4a"):
        path = write_aac(tmp_path / name, samples, rate, {1: "mono", 2: "stereo", 6: "5.1"}[channels])
    else:
        path = write(name, samples, rate, **how)
    heard, own = read(path)
    assert heard.shape[1] == channels
    assert len(heard) / own == pytest.approx(6.5, abs=0.05)
    for channel in range(min(channels, 3)):  # the fourth of 5.1 holds the lowest pitches alone
        # A coder at 8 kHz has blocks of 64 ms and spreads a click over a few of its samples.
        assert onsets(heard[:, channel:], own) == pytest.approx(CLICKS, abs=0.0025 if rate > 8000 else 0.01)


def id3(data: bytes) -> bytes:
    """An MP3 with a title and a cover picture before it (ID3v2.3, sections 3.1, 4.2.1, 4.15; from memory)."""
    title = b"\1" + "Söng".encode("utf-16")
    picture = b"\0image/jpeg\0\3\0" + b"\xff\xd8\xff\xfb" * 5000  # holds what looks like MP3 frames
    frames = b"".join(
        name + len(body).to_bytes(4, "big") + b"\0\0" + body for name, body in ((b"TIT2", title), (b"APIC", picture))
    )
    size = bytes(len(frames) >> shift & 127 for shift in (21, 14, 7, 0))
    return b"ID3\3\0\0" + size + frames + data


def flac_picture(data: bytes) -> bytes:
    """A FLAC with a picture of its own (RFC 9639, section 8.8) after its first block of 38 bytes."""
    picture = b"\xff\xd8\xff" * 5000
    words = (3, 10, b"image/jpeg", 0, 64, 64, 24, 0, len(picture), picture)
    body = b"".join(word.to_bytes(4, "big") if isinstance(word, int) else word for word in words)
    return data[:42] + b"\6" + len(body).to_bytes(3, "big") + body + data[42:]


def wav_list(data: bytes) -> bytes:
    """A WAV with a title in a LIST chunk before the sound (Microsoft RIFF; from memory)."""
    chunk = b"LIST" + (20).to_bytes(4, "little") + b"INFOINAM" + (8).to_bytes(4, "little") + b"Winter\0\0"
    return data[:4] + (len(data) - 8 + len(chunk)).to_bytes(4, "little") + data[8:12] + chunk + data[12:]


@pytest.mark.parametrize(("name", "tagged"), [("song.mp3", id3), ("song.flac", flac_picture), ("song.wav", wav_list)])
def test_tags_and_cover_pictures_change_nothing(
    write: Callable[..., Path], name: str, tagged: Callable[[bytes], bytes]
) -> None:
    path = write(name, stereo())
    plain, _ = read(path)
    path.write_bytes(tagged(path.read_bytes()))
    assert np.array_equal(read(path)[0], plain)


def test_an_mp4_with_title_and_picture_is_heard_as_without(tmp_path: Path) -> None:
    plain, _ = read(write_aac(tmp_path / "plain.mp4", stereo()))
    covered, _ = read(write_aac(tmp_path / "covered.mp4", stereo(), cover=True))
    assert np.array_equal(plain, covered)


@pytest.mark.parametrize("name", ["song.wav", "song.aiff", "song.flac", "song.ogg", "song.mp3", "song.m4a", "song.mkv"])
@pytest.mark.parametrize("kept", [0.6, 0.97])
def test_a_song_that_was_cut_off_is_refused(write: Callable[..., Path], tmp_path: Path, name: str, kept: float) -> None:
    if name.endswith(("m4a", "mkv")):
        path = write_aac(tmp_path / name, stereo(), movflags="faststart")
    else:
        path = write(name, stereo())
    whole = path.read_bytes()
    path.write_bytes(whole[: int(len(whole) * kept)])
    with pytest.raises(AudioError, match=r"ends after|end is missing|can be read|cannot be read after"):
        read(path)


@pytest.mark.parametrize("name", ["song.flac", "song.ogg", "song.m4a"])
def test_a_song_with_a_hole_in_it_is_refused(write: Callable[..., Path], tmp_path: Path, name: str) -> None:
    path = write_aac(tmp_path / name, stereo()) if name.endswith("m4a") else write(name, stereo())
    data = bytearray(path.read_bytes())
    hole = slice(len(data) // 2, len(data) // 2 + len(data) // 5)
    data[hole] = bytes(len(data[hole]))
    path.write_bytes(data)
    with pytest.raises(AudioError, match=r"only .* s of its .* s can be read|cannot be read after"):
        read(path)


@pytest.mark.parametrize(
    ("name", "data", "message"),
    [
        ("song.wav", b"", "song.wav: is empty"),
        ("song.wav", b"not a sound at all " * 99, "song.wav: is not sound that can be read"),
        ("song.raw", b"\0\1" * 4096, "song.raw: is not sound that can be read"),
        ("song.mp3", bytes(5000), "song.mp3: is not sound that can be read"),
        ("song.m3u8", b"#EXTM3U\n#EXTINF:5,\nother.wav\n", "song.m3u8: is not sound that can be read"),
    ],
)
def test_what_is_no_sound_says_so(tmp_path: Path, name: str, data: bytes, message: str) -> None:
    (tmp_path / name).write_bytes(data)
    with pytest.raises(AudioError, match=message):
        read(tmp_path / name)


def test_a_file_without_a_single_sample_holds_no_sound(write: Callable[..., Path]) -> None:
    with pytest.raises(AudioError, match="holds no sound"):
        read(write("song.wav", np.zeros((0, 2))))


def test_a_missing_song_names_the_one_beside_it(write: Callable[..., Path]) -> None:
    path = write("song.wav", np.zeros(10))
    with pytest.raises(AudioError, match=r"there is no such file\n    Did you mean 'song.wav'"):
        read(path.with_name("sonk.wav"))
    with pytest.raises(AudioError, match="there is no such file"):
        sound_hash(path.with_name("sonk.wav"))


def test_frames_beside_a_song_are_not_offered_for_it(write: Callable[..., Path]) -> None:
    path = write("midnight snow.wav", np.zeros(10))
    path.with_name("Midnight Snow.h5").touch()
    with pytest.raises(AudioError, match=r"Did you mean 'midnight snow.wav'"):
        read(path.with_name("Midnight Snow"))


def test_a_folder_is_no_song(tmp_path: Path) -> None:
    with pytest.raises(AudioError, match="is not a file"):
        read(tmp_path)


def test_samples_that_are_no_numbers_become_silence_and_huge_ones_finite(write: Callable[..., Path]) -> None:
    samples, _ = read(write("song.wav", np.array([0.5, np.nan, np.inf, -np.inf, 1e30]), subtype="FLOAT"))
    assert samples[:, 0].tolist() == [0.5, 0.0, LOUDEST, -LOUDEST, LOUDEST]


def test_a_sample_rate_nobody_records_at_is_refused(write: Callable[..., Path]) -> None:
    with pytest.raises(AudioError, match="a sample rate of 100 Hz cannot be right"):
        read(write("song.wav", np.zeros(1000), rate=100))


def test_sound_comes_in_blocks_so_that_a_long_song_needs_no_more_memory(write: Callable[..., Path]) -> None:
    with open_sound(write("song.wav", stereo())) as sound:
        sizes = [block.size for block in sound.blocks()]
    assert max(sizes) <= BLOCK
    assert sum(sizes) == 2 * round(6.5 * RATE)


def test_five_hours_are_no_song() -> None:
    hour = np.zeros((3600 * 1000, 1), np.float32)
    endless = Sound("song.wav", 1000, 1, lambda: (hour for _ in range(5)))
    with pytest.raises(AudioError, match="longer than four hours"):
        for _ in endless.blocks():
            pass


def test_the_hash_is_that_of_the_file(write: Callable[..., Path]) -> None:
    import hashlib

    path = write("song.wav", stereo())
    assert sound_hash(path) == hashlib.sha256(path.read_bytes()).hexdigest()


@pytest.mark.parametrize("name", ["song.ogg", "song.opus"])
def test_an_ogg_file_that_counts_more_than_it_holds_is_read_with_a_word(
    write: Callable[..., Path], name: str, caplog: pytest.LogCaptureFixture
) -> None:
    # RFC 3533, section 6: bytes 6 to 14 of a page are its granule position, bytes 22 to 26 its checksum.
    path = write(name, stereo()[: 48_000 * 2], 48_000, **(OPUS if name.endswith("opus") else {}))
    data = bytearray(path.read_bytes())
    last = data.rfind(b"OggS")
    counted = int.from_bytes(data[last + 6 : last + 14], "little") + 6_000  # an eighth of a second
    data[last + 6 : last + 14] = counted.to_bytes(8, "little")
    data[last + 22 : last + 26] = bytes(4)
    data[last + 22 : last + 26] = ogg_crc(bytes(data[last:])).to_bytes(4, "little")
    assert abs(len(read(path)[0]) - 96_000) < 7_000
    assert caplog.messages == []
    path.write_bytes(data)
    assert abs(len(read(path)[0]) - 96_000) < 7_000
    assert caplog.messages == [f"{name} holds 2.00 s of sound and counts 2.12 s; it is taken as it is."]


def ogg_crc(page: bytes) -> int:
    """The checksum of an Ogg page: polynomial 0x04c11db7, from 0, unreflected (RFC 3533, section 6)."""
    value = 0
    for byte in page:
        value ^= byte << 24
        for _ in range(8):
            value = ((value << 1) ^ (0x04C11DB7 if value & 0x80000000 else 0)) & 0xFFFFFFFF
    return value


def test_overwritten_opus_is_refused(write: Callable[..., Path]) -> None:
    path = write("song.opus", np.tile(stereo(), (3, 1)), 48_000, **OPUS)
    data = bytearray(path.read_bytes())
    hole = slice(len(data) * 4 // 10, len(data) * 52 // 100)
    data[hole] = np.random.default_rng(1).bytes(hole.stop - hole.start)
    path.write_bytes(data)
    with pytest.raises(AudioError, match="a piece of it is damaged"):
        read(path)


def test_decoders_do_not_chatter(write: Callable[..., Path], capfd: pytest.CaptureFixture[str]) -> None:
    path = write("song.mp3", stereo())
    data = bytearray(path.read_bytes())
    middle = len(data) // 2
    data[middle : middle + 600] = np.random.default_rng(2).bytes(600)
    path.write_bytes(data)
    with contextlib.suppress(AudioError):
        read(path)
    assert capfd.readouterr().err == ""


def test_a_name_that_promises_another_kind_is_told(
    write: Callable[..., Path], tmp_path: Path, caplog: pytest.LogCaptureFixture, capfd: pytest.CaptureFixture[str]
) -> None:
    """The sound of an M4A file under the name of an MP3, as a download that was renamed."""
    path = write_aac(tmp_path / "song.m4a", stereo()).rename(tmp_path / "song.mp3")
    read(path)
    assert caplog.messages == [
        "song.mp3 is no MP3 file, but M4A: it is read as what it is. Give it a name that says so."
    ]
    assert seconds_of(str(path)) == 0.0
    assert "mpg123" not in capfd.readouterr().err
    caplog.clear()
    for name in ("song.flac", "song.ogg", "song.wav", "song.aiff"):
        read(write(name, stereo()))
    read(write_aac(tmp_path / "song.m4a", stereo()))
    assert caplog.messages == []
