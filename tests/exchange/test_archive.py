"""Packs from strangers: what is refused, and that nothing else is."""

import contextlib
import io
import stat
import zipfile

import pytest

from eavesong.errors import PackError
from eavesong.exchange.archive import LARGEST, LARGEST_ENTRY, MOST_ENTRIES, read_entries, zipped

GOOD = {"README.txt": b"Hello.\n", "effects/own.toml": b'title = "Own"\n', "song.trace": b"eavesong trace 1\n"}


def written(path, entries=(), **changes):
    """A ZIP with entries (name, data), each with the attributes in ``changes``."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in entries:
            info = zipfile.ZipInfo(name)
            info.compress_type = zipfile.ZIP_DEFLATED
            for key, value in changes.items():
                setattr(info, key, value)
            archive.writestr(info, data)
    return path


def test_what_was_put_in_comes_out(tmp_path):
    (tmp_path / "a.zip").write_bytes(zipped(GOOD))
    assert read_entries(tmp_path / "a.zip") == GOOD


def test_the_same_bytes_and_nothing_of_when_and_where():
    """Every date is 1980-01-01, the first that the format knows (APPNOTE 4.4.6)."""
    assert zipped(GOOD) == zipped(dict(GOOD))
    with zipfile.ZipFile(io.BytesIO(zipped(GOOD))) as archive:
        assert {info.date_time for info in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert archive.namelist() == list(GOOD)


@pytest.mark.parametrize(
    "name",
    [
        "../a.txt", "/etc/a.txt", "a/../../b.txt", "C:/a.txt", "a\\b.txt", "a//b.txt", "./a.txt", ".txt/..", "con.txt",
        "a/b/c/d/e.txt", "x" * 130 + ".txt", "a\x01.txt", "a:b.txt", " .txt/a.txt ",
    ],
)  # fmt: skip
def test_names_that_lead_elsewhere(tmp_path, name):
    with pytest.raises(PackError, match=r"leads elsewhere|of a kind"):
        read_entries(written(tmp_path / "a.zip", [(name, b"x")]))


@pytest.mark.parametrize("name", ["a.zip", "a.py", "a.sh", "a", "a.exe", "a.tar.gz", "show.h5", "song.mp3"])
def test_kinds_that_no_pack_holds(tmp_path, name):
    with pytest.raises(PackError, match="of a kind that no pack holds"):
        read_entries(written(tmp_path / "a.zip", [(name, b"x")]))


def test_links_are_refused(tmp_path):
    link = {"create_system": 3, "external_attr": (stat.S_IFLNK | 0o777) << 16}
    path = written(tmp_path / "a.zip", [("a.txt", b"/etc/passwd")], **link)
    with pytest.raises(PackError, match="is a link"):
        read_entries(path)


def test_the_same_name_twice(tmp_path):
    with pytest.raises(PackError, match="is in it twice"):
        read_entries(written(tmp_path / "a.zip", [("a.txt", b"1"), ("A.txt", b"2")]))


def test_bombs_are_refused_before_they_are_unpacked(tmp_path):
    """17 MB of zeros deflate to 17 kB; so do many of them."""
    with pytest.raises(PackError, match="larger than 16 MiB"):
        read_entries(written(tmp_path / "a.zip", [("a.txt", bytes(LARGEST_ENTRY + 1))]))
    several = [(f"{number}.txt", bytes(12 << 20)) for number in range(3)]
    with pytest.raises(PackError, match="more than 32 MiB"):
        read_entries(written(tmp_path / "b.zip", several))
    many = [(f"{number}.txt", b"") for number in range(MOST_ENTRIES + 1)]
    with pytest.raises(PackError, match="holds 301 files"):
        read_entries(written(tmp_path / "c.zip", many))


def test_an_entry_that_lies_about_its_size(tmp_path):
    """The sizes in the directory (APPNOTE 4.3.12: uncompressed size 24 bytes into a header) made smaller."""
    path = written(tmp_path / "a.zip", [("a.txt", bytes(5000))])
    data = bytearray(path.read_bytes())
    at = data.index(b"PK\x01\x02")
    data[at + 24 : at + 28] = (10).to_bytes(4, "little")
    path.write_bytes(bytes(data))
    with pytest.raises(PackError):
        read_entries(path)


@pytest.mark.parametrize("cut", [0, 10, 100, -30, -4])
def test_damaged_ones(tmp_path, cut):
    (tmp_path / "a.zip").write_bytes(zipped(GOOD)[:cut])
    with pytest.raises(PackError, match="no pack that can be read"):
        read_entries(tmp_path / "a.zip")


def test_every_byte_may_be_wrong(tmp_path):
    """Whatever is changed, what comes out is an error of ours or entries, never a traceback."""
    data = zipped(GOOD)
    for at in range(0, len(data), 3):
        changed = bytearray(data)
        changed[at] ^= 0x55
        (tmp_path / "a.zip").write_bytes(bytes(changed))
        with contextlib.suppress(PackError):
            read_entries(tmp_path / "a.zip")


def test_what_is_no_file(tmp_path):
    with pytest.raises(PackError, match="no such file"):
        read_entries(tmp_path / "a.zip")
    with pytest.raises(PackError, match="not a file"):
        read_entries(tmp_path)
    with open(tmp_path / "large.zip", "wb") as large:
        large.truncate(LARGEST + 1)
    with pytest.raises(PackError, match="larger than 32 MiB"):
        read_entries(tmp_path / "large.zip")
