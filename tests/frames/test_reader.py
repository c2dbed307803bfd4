"""Reading back what was written, and plain words for every file that is not what it should be."""

import hashlib
import os
import re
import shutil
import subprocess

import h5py
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavesong.errors import FramesError
from eavesong.frames import PropRow, open_frames

needs_h5dump = pytest.mark.skipif(shutil.which("h5dump") is None, reason="h5dump is not installed (package hdf5-tools)")


def h5dump(*arguments):
    return subprocess.run(["h5dump", *map(str, arguments)], capture_output=True, check=False)


def flip(path, at):
    data = bytearray(path.read_bytes())
    data[at] ^= 0x10
    path.write_bytes(data)


def chunk_at(path, index):
    """Where a chunk of /frames lies in the file, and its length (H5Dget_chunk_info)."""
    with h5py.File(path) as file:
        info = file["frames"].id.get_chunk_info(index)
    return info.byte_offset, info.size


def test_everything_comes_back(written):
    path, description, frames = written
    with open_frames(path) as file:
        np.testing.assert_array_equal(file.frames[:], frames)
        np.testing.assert_array_equal(file.places, description.places)
        np.testing.assert_array_equal(file.metres, description.metres)
        assert file.props == description.props
        assert file.patch == description.patch
        assert file.texts == description.texts
        assert file.hashes["layout"] == hashlib.sha256('title = "Gärten"\n'.encode()).hexdigest()
        assert file.hashes["audio"] == hashlib.sha256(b"song").hexdigest()
        assert (file.title, file.song, file.song_seconds) == ("Ribbon of frost", "Ribbon of frost", 30.0)
        assert (file.frame_rate, file.frame_count, file.channel_count) == (40.0, 60, 154)
        assert file.complete
        assert file.seconds(20) == 2.5  # 20 frames of 1/40 s after its start at 2 s
        file.verify()


def test_frames_are_indexed_as_numpy_indexes_them(written):
    path, _, frames = written
    with open_frames(path) as file:
        assert len(file.frames) == 60
        np.testing.assert_array_equal(file.frames[-1], frames[-1])
        np.testing.assert_array_equal(file.frames[7:33], frames[7:33])
        np.testing.assert_array_equal(file.frames[10:20:3, 5:8], frames[10:20:3, 5:8])
        assert file.frames[20:20].shape == (0, 154)


def test_colours_are_red_green_blue_whatever_the_order_on_the_wire(written):
    path, _, frames = written
    with open_frames(path) as file:
        rgb = file.rgb(3)
        many = file.colours(file.frames[2:5])
    assert rgb.shape == (50, 3)
    assert rgb.dtype == np.uint8
    assert rgb[5].tolist() == frames[3][[16, 15, 17]].tolist()  # GRB: green comes first
    red, green, blue, white = frames[3][138:142].astype(int)  # the first RGBW pixel, after 46 of three channels
    assert rgb[46].tolist() == [min(255, colour + white) for colour in (red, green, blue)]
    np.testing.assert_array_equal(many[1], rgb)


@needs_h5dump
def test_h5dump_reads_the_same_bytes(written, tmp_path):
    """HDF5's own tool, of whatever version is installed, writes them out as unsigned little-endian bytes."""
    path, _, frames = written
    dumped = h5dump("-d", "/frames", "-b", "LE", "-o", tmp_path / "raw", path)
    assert dumped.returncode == 0, dumped.stderr
    assert (tmp_path / "raw").read_bytes() == frames.tobytes()


@needs_h5dump
def test_h5dump_shows_the_texts_and_tables(written):
    path, _, _ = written
    shown = h5dump("-d", "/texts/show", "-d", "/patch", "-a", "/frame_rate", path).stdout.decode()
    assert "Ribbon of frost" in shown
    assert '"192.0.2.7"' in shown
    assert "(0): 40" in shown


def test_a_flipped_byte_is_found_with_its_frames_and_time(written):
    path, _, frames = written
    at, size = chunk_at(path, 2)
    flip(path, at + size // 2)
    with open_frames(path) as file:
        np.testing.assert_array_equal(file.frames[:16], frames[:16])
        with pytest.raises(FramesError, match=r"frames 16 to 23, 0:02\.40 to 0:02\.60: do not fit their checksum"):
            file.verify()
        with pytest.raises(FramesError, match=r"frames 16 to 23.*do not fit their checksum"):
            file.frames[20]
        with pytest.raises(FramesError, match="frames 16 to 23"):
            file.rgb(16)


def test_damaged_chunks_beside_each_other_are_told_as_one(written):
    path, _, _ = written
    for index in (1, 2, 7):
        flip(path, sum(chunk_at(path, index)) - 1)
    with open_frames(path) as file, pytest.raises(FramesError) as caught:
        file.verify()
    assert [problem.place.split(",")[0] for problem in caught.value.problems] == [
        "frames 8 to 23",
        "frames 56 to 59",
    ]


def test_hdf5_itself_sees_the_flipped_byte(written):
    path, _, _ = written
    flip(path, chunk_at(path, 2)[0])
    with h5py.File(path) as file, pytest.raises(OSError, match="filter returned failure"):
        file["frames"][16:24]
    if shutil.which("h5dump"):
        assert h5dump("-d", "/frames", path).returncode != 0


def test_a_chunk_that_was_never_written_is_found(written):
    """HDF5 reads such a chunk as zeros without a word."""
    path, _, _ = written
    with h5py.File(path, "r+") as file:
        del file["frames"]
        frames = file.create_dataset("frames", (60, 154), np.uint8, chunks=(8, 154), fletcher32=True)
        frames[:8] = 1
    with open_frames(path) as file, pytest.raises(FramesError, match=r"frames 8 to 59.*do not fit"):
        file.verify()


@settings(max_examples=60, deadline=None)
@given(share=st.floats(0, 0.999999))
def test_a_file_cut_anywhere_is_told_in_plain_words(tmp_path_factory, small_file, share):
    data = small_file.read_bytes()
    cut = tmp_path_factory.mktemp("cut") / "cut.h5"
    cut.write_bytes(data[: int(len(data) * share)])
    with pytest.raises(FramesError, match=r"cut\.h5: is (cut short|empty)"):
        open_frames(cut)


@pytest.mark.parametrize("length", [0, 1, 7, 8, 9, 47, 48, 49, 100, 500, 511, 512, 513, 2048, -2, -1])
def test_a_file_cut_at_a_border_of_the_format_is_told_in_plain_words(tmp_path, small_file, length):
    cut = tmp_path / "cut.h5"
    cut.write_bytes(small_file.read_bytes()[:length])
    with pytest.raises(FramesError, match=r"cut\.h5: is (cut short|empty)"):
        open_frames(cut)


@settings(max_examples=100, deadline=None)
@given(share=st.floats(0, 1, exclude_max=True), bit=st.integers(0, 7))
def test_a_flipped_bit_anywhere_is_told_or_changes_nothing(tmp_path_factory, small_file, share, bit):
    """Every part of the file has a checksum of HDF5's, but for gaps between the parts, which nobody reads."""
    assert everything_in(small_file) != "told"
    data = bytearray(small_file.read_bytes())
    data[int(len(data) * share)] ^= 1 << bit
    path = tmp_path_factory.mktemp("flip") / "flip.h5"
    path.write_bytes(data)
    assert everything_in(path) in (everything_in(small_file), "told")


STRUCTURES = re.compile(b"OHDR|OCHK|FRHP|FHDB|FSHD|BTHD|BTLF|FAHD|FADB")
"""HDF5 File Format Specification 3.0, III and IV: how the parts begin that say what the file is made of."""


def test_what_is_damaged_for_other_readers_is_told(tmp_path, small_file):
    """Of every part of the file that is no chunk, a byte in four: either ``verify`` says that it is damaged, or h5py,
    going through all of it, and h5dump read what they did."""
    data, flipped = small_file.read_bytes(), tmp_path / "flip.h5"
    begins = [found.start() for found in STRUCTURES.finditer(data)]
    assert {data[at : at + 4] for at in begins} >= {b"OHDR", b"FRHP", b"FSHD", b"BTLF", b"FADB"}
    sound, told = listed(small_file), 0
    for at in {*range(48), *(at + 4 * n for at in begins for n in range(12))}:
        damaged = bytearray(data)
        damaged[at] ^= 0x10
        flipped.write_bytes(damaged)
        try:
            with open_frames(flipped) as file:
                file.verify()
        except FramesError:
            told += 1
        else:
            assert listed(flipped) == sound, at
    assert told > 200


def listed(path):
    """Everything h5py finds in a file, in its own words, and what h5dump says of it."""
    held = []

    def note(name, thing):
        held.append((name, sorted((key, repr(value)) for key, value in thing.attrs.items())))
        if isinstance(thing, h5py.Dataset):
            held.append((str(thing.dtype), thing.shape, thing.chunks, thing[()].tobytes()))

    with h5py.File(path) as file:
        note("/", file)
        file.visititems(note)
    dumped = h5dump(path).stdout.split(b"\n", 1)[1] if shutil.which("h5dump") else b""
    return held, dumped


def everything_in(path):
    """All that a sound file says, or "told" where it is said to be damaged."""
    try:
        with open_frames(path) as file:
            file.verify()
            said = (file.title, file.song, file.start, file.song_seconds, file.frame_rate, file.written_by)
            tables = (file.props, file.patch, file.texts, file.hashes)
            return said, tables, file.frames[:].tobytes(), file.places.tobytes(), file.metres.tobytes()
    except FramesError:
        return "told"


def change(path, **attributes):
    with h5py.File(path, "r+") as file:
        for name, value in attributes.items():
            file.attrs[name] = np.bytes_(value) if isinstance(value, str) else value


def test_a_missing_file_is_told_with_the_nearest_name(written):
    path, _, _ = written
    with pytest.raises(FramesError, match=r"there is no such file\n    Did you mean 'frost.h5'\?"):
        open_frames(path.with_name("forst.h5"))


def test_a_folder_or_another_kind_of_file_is_told(tmp_path):
    with pytest.raises(FramesError, match="is not a file"):
        open_frames(tmp_path)
    text = tmp_path / "layout.toml"
    text.write_text("title = 'House'")
    with pytest.raises(FramesError, match=r"layout\.toml: is a text, where a frames file belongs"):
        open_frames(text)


def test_an_hdf5_file_of_something_else_is_told(tmp_path):
    path = tmp_path / "other.h5"
    with h5py.File(path, "w") as file:
        file["frames"] = np.zeros((3, 3), np.uint8)
    with pytest.raises(FramesError, match="is an HDF5 file without frames of eavesong"):
        open_frames(path)


def test_a_newer_format_is_told(written):
    path, _, _ = written
    change(path, format="eavesong frames 3")
    with pytest.raises(FramesError, match="is of format 3, and this eavesong reads up to 2\n    Install a newer"):
        open_frames(path)


def with_table(path, name, kinds, rows):
    with h5py.File(path, "r+") as file:
        del file[name]
        file[name] = np.array(rows, dtype=kinds)


def test_a_column_of_a_later_version_is_passed_over(written):
    path, _, _ = written
    kinds = [
        ("name", "S9"),
        ("first_pixel", "i8"),
        ("pixel_count", "i8"),
        ("tags", "S9"),
        ("shape", "S9"),
        ("glow", "f8"),
    ]
    with_table(path, "props", kinds, [(b"eaves", 0, 46, b"", b"line", 0.5), (b"lantern", 46, 4, b"", b"", 1.0)])
    with open_frames(path) as file:
        assert file.props == (PropRow("eaves", 0, 46, (), "line"), PropRow("lantern", 46, 4))


@pytest.mark.parametrize(
    ("kinds", "rows"),
    [
        ([("name", "S9")], [(b"eaves",)]),
        ([("name", "i8"), ("first_pixel", "i8"), ("pixel_count", "i8")], [(1, 2, 3)]),
        ("i8", [1, 2, 3]),
    ],
)
def test_a_table_of_other_columns_is_told(written, kinds, rows):
    path, _, _ = written
    with_table(path, "props", kinds, rows)
    with open_frames(path) as file, pytest.raises(FramesError, match="/props: is damaged"):
        _ = file.props


def test_an_unfinished_file_is_told(written):
    path, _, _ = written
    change(path, complete=np.uint8(0))
    with pytest.raises(FramesError, match="was not finished"):
        open_frames(path)


def test_a_file_whose_writer_is_at_it_is_told(written):
    path, _, _ = written
    with h5py.File(path, "r+", libver=("v110", "v110")), pytest.raises(FramesError, match="was not finished"):
        open_frames(path)


def test_a_changed_text_is_told(written):
    path, _, _ = written
    with h5py.File(path, "r+") as file:
        file["texts/show"][0] = b'title = "Ribbon of snow"'
    with (
        open_frames(path) as file,
        pytest.raises(FramesError, match="the text 'show': is not the one its SHA-256"),
    ):
        file.verify()


@pytest.mark.parametrize("name", ["frames", "places", "patch", "texts/layout"])
def test_a_link_into_another_file_is_not_followed(written, name):
    """HDF5 opens what an external link names; a file from a stranger must not choose what is read."""
    path, _, _ = written
    other = path.with_name("secret.h5")
    shutil.copy(path, other)
    with h5py.File(path, "r+") as file:
        del file[name]
        file[name] = h5py.ExternalLink(str(other), name)
    with (
        pytest.raises(FramesError, match=f"/{name}: is missing, or a link to somewhere else"),
        open_frames(path) as file,
    ):
        file.verify()


def test_bytes_kept_outside_the_file_are_not_read(written):
    path, _, _ = written
    with h5py.File(path, "r+") as file:
        del file["places"]
        outside = [(os.fspath(path.with_name("secret")), 0, 600)]
        file.create_dataset("places", (50, 3), np.float32, external=outside)
    with pytest.raises(FramesError, match="/places: is not a table inside this file"):
        open_frames(path)


def test_a_table_too_large_for_memory_is_not_read(written):
    path, _, _ = written
    with h5py.File(path, "r+") as file:
        del file["places"]
        file.create_dataset("places", (1 << 30, 3), np.float32, chunks=(1 << 16, 3), compression="gzip")
    with pytest.raises(FramesError, match="/places: takes more than 256 MiB at once"):
        open_frames(path)


def test_a_filter_that_needs_a_plug_in_is_refused(written):
    path, _, _ = written
    with h5py.File(path, "r+") as file:
        del file["places"]
        file.create_dataset("places", data=np.zeros((50, 3), np.float32), chunks=(50, 3), compression="lzf")
    with pytest.raises(FramesError, match="needs a filter other than DEFLATE"):
        open_frames(path)
