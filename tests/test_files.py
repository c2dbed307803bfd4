"""Reading with places, writing whole files."""

import errno
import hashlib
import os
import signal
import stat
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from eavesong.errors import LayoutError, OutputError, ShowError
from eavesong.files import (
    LARGEST_TEXT,
    content_hash,
    parse_toml,
    plain_text,
    read_text,
    shipped,
    user_cache,
    whole_file,
    write_whole,
)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("a = 1\na = 2", r"t, line 2, end of file: is not TOML: cannot overwrite a value"),
        ("a = 1\na = 2\nb = 3", r"t, line 2, column 6: is not TOML: cannot overwrite a value"),
        ("a = \n\n", r"t, line 1, column 5: is not TOML: invalid value"),
        ("a = " + "[" * 20_000, r"t, line 1: more than 64 arrays or tables stand inside each other"),
        ("a = " + "9" * 5000, r"is not TOML that can be read"),
    ],
)
def test_what_is_not_toml_is_told_with_its_place(text, told):
    with pytest.raises(ShowError, match=told):
        parse_toml(text, "t", ShowError)


def test_text_is_read_without_its_byte_order_mark(tmp_path):
    (tmp_path / "a.txt").write_bytes(b"\xef\xbb\xbfgr\xc3\xbcn")
    assert read_text(tmp_path / "a.txt", ShowError) == "grün"


def test_what_cannot_be_read_is_told(tmp_path):
    (tmp_path / "latin.txt").write_bytes(b"gr\xfcn")
    with pytest.raises(LayoutError, match=r"latin\.txt, byte 2: is not UTF-8 text\n    Save the file as UTF-8\."):
        read_text(tmp_path / "latin.txt", LayoutError)
    with pytest.raises(LayoutError, match=r"there is no such file\n    Did you mean 'latin\.txt'\?"):
        read_text(tmp_path / "latn.txt", LayoutError)
    with pytest.raises(LayoutError, match=r"there is no such file$"):
        read_text(tmp_path / "no" / "folder.txt", LayoutError)
    with pytest.raises(LayoutError, match="is not a file"):
        read_text(tmp_path, LayoutError)
    with pytest.raises(LayoutError, match="is no path"):
        read_text("a\0b", LayoutError)
    with open(tmp_path / "large.txt", "wb") as large:
        large.truncate(LARGEST_TEXT + 1)
    with pytest.raises(LayoutError, match="is larger than 8 MiB"):
        read_text(tmp_path / "large.txt", LayoutError)


def test_a_pipe_is_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(LayoutError, match="is not a file"):
        read_text(tmp_path / "pipe", LayoutError)


def test_hashes_are_sha_256_over_lengths_and_parts():
    # FIPS 180-4 by way of hashlib.
    assert (
        content_hash("ab", b"c")
        == hashlib.sha256((2).to_bytes(8, "little") + b"ab" + b"\1" + bytes(7) + b"c").hexdigest()
    )
    assert content_hash("ab", "c") != content_hash("a", "bc")


def test_a_file_is_replaced_in_one_step(tmp_path):
    path = tmp_path / "out.txt"
    write_whole(path, "old")
    with whole_file(path) as draft:
        draft.write_text("new")
        assert path.read_text() == "old", "readers see the old file until the new one is whole"
    assert path.read_text() == "new"
    assert [entry.name for entry in tmp_path.iterdir()] == ["out.txt"]
    assert path.stat().st_mode & 0o777 == 0o666 & ~_mask(), "the permissions of any new file"
    path.chmod(0o600)
    write_whole(path, "private")
    assert path.stat().st_mode & 0o777 == 0o600, "those of the file that it replaces"


def _mask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def write_half(path: Path) -> None:
    with whole_file(path) as draft:
        draft.write_text("half of the n")
        raise KeyboardInterrupt


def test_a_failed_write_leaves_the_old_file_and_nothing_else(tmp_path):
    path = tmp_path / "out.txt"
    write_whole(path, "old")
    with pytest.raises(KeyboardInterrupt):
        write_half(path)
    assert path.read_text() == "old"
    assert [entry.name for entry in tmp_path.iterdir()] == ["out.txt"]


def test_a_killed_write_leaves_the_old_file(tmp_path):
    path = tmp_path / "out.txt"
    write_whole(path, "old")
    program = f"""
        import os, signal
        from eavesong.files import whole_file
        with whole_file({str(path)!r}) as draft:
            draft.write_text("half of the n")
            os.kill(os.getpid(), signal.SIGKILL)
    """
    ended = subprocess.run([sys.executable, "-c", textwrap.dedent(program)], check=False)
    assert ended.returncode == -signal.SIGKILL
    assert path.read_text() == "old"


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("no/out.txt", r"cannot be written: No such file or directory\n    Make the folder first"),
        ("", "is not a file that could be written anew\n    Choose another name"),
    ],
)
def test_places_that_cannot_be_written_are_told(tmp_path, name, told):
    with pytest.raises(OutputError, match=told):
        write_whole(tmp_path / name, "x")


def test_a_pipe_is_not_taken_for_a_file(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(OutputError, match="is not a file that could be written anew"):
        write_whole(tmp_path / "pipe", "x")
    assert stat.S_ISFIFO((tmp_path / "pipe").stat().st_mode)


def test_a_link_is_followed(tmp_path):
    (tmp_path / "real.txt").write_text("old")
    (tmp_path / "link.txt").symlink_to("real.txt")
    write_whole(tmp_path / "link.txt", "new")
    assert (tmp_path / "link.txt").is_symlink()
    assert (tmp_path / "real.txt").read_text() == "new"


@pytest.mark.parametrize("text", ["\x1b[31mred", "bell\a", "\x00", "\x9b1m"])
def test_text_that_could_command_a_terminal_is_refused(text):
    with pytest.raises(ValueError, match="control characters"):
        plain_text(text)
    assert plain_text("Grüße, ☃,\n two lines") == "Grüße, ☃,\n two lines"


def test_the_cache_is_where_the_environment_says(tmp_path, monkeypatch):
    monkeypatch.setenv("EAVESONG_CACHE", str(tmp_path / "a" / "b"))
    assert user_cache() == tmp_path / "a" / "b"
    assert user_cache().is_dir()


def test_layouts_and_effects_are_shipped():
    assert (shipped("layouts") / "bungalow.toml").is_file()
    assert shipped("effects").is_dir()


def test_a_full_cache_is_done_without_and_that_is_said_once(tmp_path, monkeypatch, caplog):
    def refuse(*_, **__):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setenv("EAVESONG_CACHE", str(tmp_path / "full"))
    with monkeypatch.context() as patch:
        patch.setattr("tempfile.TemporaryFile", refuse)
        instead = user_cache()
    assert instead.is_dir()
    assert instead != tmp_path / "full"
    assert user_cache() == instead
    assert [record.getMessage() for record in caplog.records] == [
        f"The cache is of no use; going on without it, only slower. ({tmp_path / 'full'}: No space left on device)"
    ]
