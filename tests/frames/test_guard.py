"""What stands before the reader: files that are none, cut short, unfinished, or full of what they should not hold."""

import h5py
import numpy as np
import pytest

from eavesong.errors import FramesError
from eavesong.frames.guard import dataset, look_at, readable


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"", "is empty"),
        (b"nothing of the kind", "is not an HDF5 file"),
        (b"\x89HDF\r\n\x1a\n", "is cut short after 8"),
    ],
)
def test_what_is_no_file_of_frames(tmp_path, data, told):
    path = tmp_path / "a.h5"
    path.write_bytes(data)
    with pytest.raises(FramesError, match=told):
        look_at(path)


def test_a_missing_file_names_the_nearest(tmp_path):
    (tmp_path / "frost.h5").write_bytes(b"")
    with pytest.raises(FramesError, match=r"Did you mean 'frost\.h5'"):
        look_at(tmp_path / "forst.h5")


def test_of_a_folder_the_frames_in_it_are_named(tmp_path):
    with pytest.raises(FramesError, match=r"is not a file\n    Name a frames file, NAME\.h5\."):
        look_at(tmp_path)
    for name in ("frost.h5", "bells.h5", "frost.wav"):
        (tmp_path / name).touch()
    with pytest.raises(FramesError, match=r"is not a file\n    Name a file in it: bells\.h5, frost\.h5\."):
        look_at(tmp_path)


@pytest.fixture
def latest(tmp_path):
    """A file with a superblock of version 3."""
    path = tmp_path / "a.h5"
    with h5py.File(path, "w", libver="latest") as file:
        file["table"] = np.arange(1000)
    look_at(path)
    return path


def test_a_file_cut_short_says_how_much_is_there(latest):
    whole = latest.read_bytes()
    latest.write_bytes(whole[:-100])
    with pytest.raises(FramesError, match=f"{len(whole) - 100:,} of {len(whole):,} bytes"):
        look_at(latest)


def test_a_file_that_is_being_written_is_not_read(latest):
    """HDF5 File Format Specification 3.0, II.A: bit 0 of the consistency flags, octet 11, marks an open writer."""
    whole = bytearray(latest.read_bytes())
    whole[11] |= 1
    latest.write_bytes(whole)
    with pytest.raises(FramesError, match="was not finished"):
        look_at(latest)


def test_faults_of_the_library_become_words():
    with pytest.raises(FramesError, match="is damaged"), readable("a.h5", "/frames"):
        raise OSError("can't decompress")


def test_links_to_elsewhere_foreign_filters_and_giants_are_refused(tmp_path):
    with h5py.File(tmp_path / "other.h5", "w") as other:
        other["table"] = [1, 2, 3]
    with h5py.File(tmp_path / "a.h5", "w") as file:
        file["plain"] = np.arange(100, dtype=np.uint8)
        file["away"] = h5py.ExternalLink("other.h5", "/table")
        file["soft"] = h5py.SoftLink("/plain")
        file.create_dataset("lzf", data=np.arange(100), chunks=(10,), compression="lzf")
        file.create_group("group")
        assert dataset("a.h5", file, "plain", 100)[()].tolist() == list(range(100))
        for name, told in (("away", "a link"), ("soft", "a link"), ("none", "missing"), ("lzf", "filter"),
                           ("group", "not a table"), ("plain", "at once")):  # fmt: skip
            with pytest.raises(FramesError, match=told):
                dataset("a.h5", file, name, 99 if name == "plain" else 1000)
