"""Files made to have more opened, read or kept in memory than their reader asked for."""

import hashlib
import os
import shutil
import zlib

import h5py
import numpy as np
import pytest

from eavesong.errors import FramesError
from eavesong.files import LARGEST_TEXT
from eavesong.frames import guard, open_frames
from eavesong.frames.summary import lines, summarise
from eavesong.kernels.checksum import fletcher32

NAMES = ["frames", "places", "metres", "props", "patch", "texts", "texts/show", "a thing of a later version"]


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("kind", [h5py.SoftLink, h5py.ExternalLink])
def test_a_link_is_told_when_the_file_is_opened_wherever_it_leads(written, name, kind):
    """It leads to just what should lie there, so that following it would show in nothing else."""
    path, _, _ = written
    other = shutil.copy(path, path.with_name("other.h5"))
    with h5py.File(path, "r+") as file:
        if name in file:
            file.move(name, "elsewhere")
        file[name] = kind("/elsewhere") if kind is h5py.SoftLink else kind(other, f"/{name}")
    with pytest.raises(FramesError, match=f"/{name}: is missing, or a link to somewhere else"):
        open_frames(path)


@pytest.mark.parametrize("name", ["frames", "metres", "patch", "texts/show"])
def test_a_table_composed_of_other_files_is_told_when_the_file_is_opened(written, name):
    path, _, _ = written
    other = shutil.copy(path, path.with_name("other.h5"))
    with h5py.File(path, "r+") as file:
        shape, kind = file[name].shape, file[name].dtype
        del file[name]
        layout = h5py.VirtualLayout(shape, kind)
        layout[...] = h5py.VirtualSource(other, name, shape)
        file.create_virtual_dataset(name, layout)
    with pytest.raises(FramesError, match=f"/{name}: is not a table inside this file"):
        open_frames(path)


@pytest.mark.parametrize("name", ["frames", "metres", "texts/show"])
def test_bytes_kept_outside_are_told_when_the_file_is_opened(written, name):
    path, _, _ = written
    with h5py.File(path, "r+") as file:
        shape, kind = file[name].shape, file[name].dtype
        del file[name]
        file.create_dataset(name, shape, kind, external=[(os.fspath(path.with_name("secret")), 0, 1 << 20)])
    with pytest.raises(FramesError, match=f"/{name}: is not a table inside this file"):
        open_frames(path)


def test_a_text_of_a_gigabyte_is_told_when_the_file_is_opened(written):
    path, _, _ = written
    with h5py.File(path, "r+") as file:
        file.create_dataset("texts/beats", (1,), f"S{1 << 30}", chunks=(1,), compression="gzip")
    with pytest.raises(FramesError, match="/texts/beats: takes more than 8 MiB at once"):
        open_frames(path)


def test_texts_that_are_large_together_are_told(written):
    path, _, _ = written
    with h5py.File(path, "r+") as file:
        for number in range(8):
            file.create_dataset(f"texts/{number}", (1,), f"S{LARGEST_TEXT}", chunks=(1,), compression="gzip")
    with pytest.raises(FramesError, match="/texts: takes more than 64 MiB"):
        open_frames(path)


def test_a_chunk_larger_than_its_table_is_told(written):
    """HDF5 takes memory for a whole chunk, whatever part of it the table covers."""
    path, _, _ = written
    with h5py.File(path, "r+") as file:
        del file["metres"]
        file.create_dataset("metres", (50, 3), np.float32, chunks=(1 << 26, 3), maxshape=(None, 3))
    with pytest.raises(FramesError, match="/metres: takes more than 256 MiB at once"):
        open_frames(path)


def test_a_chunk_that_unpacks_to_more_than_it_holds_is_told_before_it_is_unpacked(written, monkeypatch):
    """HDF5 doubles its memory until DEFLATE ends (RFC 1951); here 8 MiB lie where a thousandth should."""
    path, _, _ = written
    bomb = zlib.compress(bytes(8 << 20), 1)
    with h5py.File(path, "r+") as file:
        for name, first in (("frames", (8, 0)), ("metres", (0, 0))):
            whole = bomb + fletcher32(np.frombuffer(bomb, np.uint8)).to_bytes(4, "little")
            file[name].id.write_direct_chunk(first, whole)
    monkeypatch.setattr(guard, "LARGEST_INFLATED", 1 << 20)
    with open_frames(path) as file:
        assert file.frames[0].size == 154
        with pytest.raises(FramesError, match="frames 8 to 15"):
            file.frames[9]
        with pytest.raises(FramesError, match="/metres: is damaged"):
            _ = file.metres


def test_deflate_twice_is_told(written):
    path, _, _ = written
    with h5py.File(path, "r+") as file:
        del file["metres"]
        plan = h5py.h5p.create(h5py.h5p.DATASET_CREATE)
        plan.set_chunk((50, 3))
        plan.set_deflate(1)
        plan.set_filter(h5py.h5z.FILTER_DEFLATE, h5py.h5z.FLAG_MANDATORY, (1,))
        h5py.h5d.create(file.id, b"metres", h5py.h5t.IEEE_F32LE, h5py.h5s.create_simple((50, 3)), plan)
    with pytest.raises(FramesError, match="/metres: needs a filter other than DEFLATE and Fletcher-32"):
        open_frames(path)


def test_a_table_of_texts_without_a_fixed_length_is_told(written):
    path, _, _ = written
    with h5py.File(path, "r+") as file:
        del file["texts/show"]
        file["texts/show"] = np.array(["x" * 100], h5py.string_dtype())
    with pytest.raises(FramesError, match="/texts/show: holds values without a fixed length"):
        open_frames(path)


@pytest.mark.parametrize("value", ["x" * 100, np.bytes_(b"x" * (1 << 17)), 3.0])
def test_a_title_without_a_fixed_length_of_a_hundred_kilobytes_or_a_number_is_told(written, value):
    path, _, _ = written
    with h5py.File(path, "r+") as file:
        file.attrs["title"] = value
    with pytest.raises(FramesError, match="is damaged where it describes itself"):
        open_frames(path)


def with_frames(path, shape, chunk, filled):
    """Frames that are announced, of which some chunks are written."""
    with h5py.File(path, "r+") as file:
        del file["frames"], file.attrs["frame_count"]
        frames = file.create_dataset("frames", shape, np.uint8, chunks=chunk, fletcher32=True)
        for first in filled:
            frames[first] = 1


@pytest.mark.parametrize(("count", "chunk"), [(40_000_000, 1), (10**9, 10**5)])
def test_frames_beyond_number_that_were_never_written_are_told_when_the_file_is_opened(written, count, chunk):
    """To look for each of them would take hours."""
    path, _, _ = written
    with_frames(path, (count, 154), (chunk, 154), [])
    with pytest.raises(FramesError, match=rf"/frames: cannot hold {count:,} frames of 154 channels in [\d,]+ bytes"):
        open_frames(path)


def test_chunks_that_were_never_written_are_found_without_reading_them(written, monkeypatch):
    path, _, _ = written
    with_frames(path, (1000, 154), (1, 154), [0, 500, 999])
    with open_frames(path) as file:
        looked = []
        monkeypatch.setattr(file.frames, "chunk_is_sound", lambda first, end: looked.append(first) or True)
        with pytest.raises(FramesError) as caught:
            file.verify()
    assert looked == [0, 500, 999]
    assert [problem.place.split(",")[0] for problem in caught.value.problems] == [
        "frames 1 to 499", "frames 501 to 998",
    ]  # fmt: skip


EVIL = "\x1b]0;owned\x07\x9b31m\u202e"


def test_nothing_that_a_file_says_of_itself_commands_a_terminal(written):
    path, _, _ = written
    with h5py.File(path, "r+") as file:
        for name in ("title", "song", "written_by", "law", "song_path"):
            file.attrs[name] = np.bytes_(EVIL.encode())
        file.attrs[f"{EVIL}_sha256"] = np.bytes_(EVIL.encode())
        text = file.create_dataset(f"texts/{EVIL}", data=np.array([b"x"]))
        text.attrs["sha256"] = np.bytes_(hashlib.sha256(b"x").hexdigest())
        rows = file["props"][()]
        rows["shape"][0] = EVIL.encode()[:4]
        file["props"][...] = rows
    with open_frames(path) as file:
        file.verify()
        said = [*lines(summarise(file)), file.title, file.song, file.written_by, file.law, file.song_path]
        said += [*file.texts, *file.hashes, *file.hashes.values(), *(row.shape for row in file.props)]
    assert all(letter.isprintable() for text in said for letter in text)
    assert r"\x1b]0;owned\x07\x9b31m\u202e" in said


def test_every_byte_that_says_how_the_file_is_made_has_a_checksum(written):
    """HDF5 File Format Specification 3.0, III.E: a global heap, where texts without a fixed length lie, has none."""
    path, _, _ = written
    assert b"GCOL" not in path.read_bytes()
