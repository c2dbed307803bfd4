"""What frames files say is kept for as long as every byte of them that is not frames stays as it was."""

import json
import os
import re
from collections.abc import Callable
from pathlib import Path

import h5py
import pytest

from eavesong.errors import FramesError
from eavesong.files import content_hash, user_cache
from eavesong.season import run_batch
from eavesong.season.said import damage, is_sound, mark_of, noted, said

Make = Callable[..., "Season"]  # noqa: F821

pytestmark = pytest.mark.usefixtures("in_process")


@pytest.fixture
def frames(season: Make) -> str:
    """A frames file that a batch has made."""
    made = season(1)
    run_batch(made.setlist, workers=1)
    return str(made.folder / "frames" / "song-0.h5")


def kept_for(path: str) -> Path:
    """The file in the cache that tells of ``path``."""
    return user_cache() / "said" / f"{content_hash(path)}.json"


def as_opened(path: str) -> tuple[str, dict[str, str], str | None]:
    """The same by opening the file."""
    from eavesong.frames import open_frames

    with open_frames(path) as file:
        return file.song, file.hashes, file.text("order")


def test_it_says_the_same_as_when_it_is_opened_and_need_not_be(frames: str, monkeypatch: pytest.MonkeyPatch) -> None:
    told = said(frames)
    assert (told.song, told.hashes, told.order) == as_opened(frames)
    assert 0 < told.share < 1.1
    os.utime(frames, (0, 0))
    monkeypatch.setattr("eavesong.frames.open_frames", None)
    assert said(frames) == told


@pytest.mark.parametrize("what", ["audio_sha256", "song"])
def test_a_word_changed_in_place_is_noticed_though_size_and_time_are_the_same(frames: str, what: str) -> None:
    told, before = said(frames), os.stat(frames)
    with h5py.File(frames, "r+") as file:
        word = bytes(file.attrs[what])
        file.attrs.modify(what, word[:-1] + (b"0" if word[-1:] != b"0" else b"1"))
    os.truncate(frames, before.st_size)
    os.utime(frames, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert mark_of(frames)[:3] == (before.st_ino, before.st_size, before.st_mtime_ns)
    assert said(frames) != told
    assert (said(frames).song, said(frames).hashes, said(frames).order) == as_opened(frames)


def test_a_file_that_was_cut_or_is_gone_says_nothing(frames: str) -> None:
    said(frames)
    os.truncate(frames, os.path.getsize(frames) - 1)
    with pytest.raises(FramesError, match="cut short"):
        said(frames)
    Path(frames).unlink()
    with pytest.raises(FramesError, match="no such file"):
        said(frames)


@pytest.mark.parametrize("rubbish", ["", "{}", '{"digest": 1, "ranges": [], "said": {}}', "[1]", '"x"'])
def test_a_damaged_cache_is_as_none(frames: str, rubbish: str) -> None:
    told = said(frames)
    kept_for(frames).write_text(rubbish)
    assert said(frames) == told
    assert json.loads(kept_for(frames).read_text())["said"]["song"] == told.song


def test_of_a_file_that_is_exchanged_while_it_is_read_nothing_is_kept(frames: str) -> None:
    from eavesong.frames import open_frames

    kept_for(frames).unlink()
    with open_frames(frames) as file:
        noted(file, ())
        assert not kept_for(frames).exists()
        noted(file, mark_of(frames))
    assert kept_for(frames).exists()


def test_frames_that_were_touched_are_held_against_their_checksums_and_rendered_again(season: Make) -> None:
    made = season(2)
    run_batch(made.setlist, workers=1)
    path = made.folder / "frames" / "song-0.h5"
    whole = path.read_bytes()
    begin, size = longest_chunk(str(path))
    with open(path, "r+b") as file:
        file.seek(begin + size // 2)
        file.write(bytes(255 - each for each in whole[begin + size // 2 : begin + size // 2 + 40]))
    assert said(str(path)), "what it says of itself is whole"
    assert not is_sound(str(path))
    assert re.search(r"frames \d+ to \d+, .* do not fit their checksum", damage(str(path)))
    first, second = run_batch(made.setlist, workers=1).outcomes
    assert (first.status, second.status) == ("rendered", "up to date")
    assert "do not fit their checksum" in first.reason
    assert path.read_bytes() == whole


def longest_chunk(path: str) -> tuple[int, int]:
    """Where the most bytes of frames lie in one piece, and how many."""
    with h5py.File(path) as file:
        of = file["frames"].id
        return max(
            ((at.byte_offset, at.size) for at in map(of.get_chunk_info, range(of.get_num_chunks()))),
            key=lambda found: found[1],
        )


def test_frames_that_were_only_touched_are_read_once_and_stay(frames: str, monkeypatch: pytest.MonkeyPatch) -> None:
    assert is_sound(frames)
    os.utime(frames, (0, 0))
    assert not is_sound(frames)
    assert damage(frames) == ""
    assert is_sound(frames)
    monkeypatch.setattr("eavesong.frames.open_frames", None)
    assert damage(frames) == ""
