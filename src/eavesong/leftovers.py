"""What killed runs leave behind, and how the next one knows it: drafts, folders and locks that tell whose they are.

A draft or a temporary folder bears a mark in its name: the computer, the process, and when that was born, so that a
number that the system gives out again is not taken for the process that had it before. What belongs to no living
process is removed by whoever next writes to the same folder. What another computer left in a shared folder cannot be
known from here: it goes when nobody has touched it for a day.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import platform
import re
import shutil
import tempfile
import time
from collections.abc import Iterator
from functools import cache
from pathlib import Path

LOCK = ".eavesong-lock"
"""The ending of lock files; held by flock(2), so that one that nobody holds is left."""

ABANDONED = 86_400
"""Seconds untouched after which what another computer made is taken to be left; a living run writes all the time."""

LONGEST_NAME = 255
"""Bytes of a file's name that file systems take (Linux: NAME_MAX in limits.h)."""

_MARKED = re.compile(r"(?:^\..*|^eavesong-[a-z]+)[.-](?P<host>[0-9a-f]{8})-(?P<pid>\d+)-(?P<born>[0-9a-f]+)[._-]")


def mark() -> str:
    """This process in letters that no other process bears."""
    return f"{_host()}-{os.getpid()}-{_born(os.getpid()) or '0'}"


@contextlib.contextmanager
def marked_folder(kind: str) -> Iterator[Path]:
    """A temporary folder for as long as the block lasts; ``kind``: a word for its name."""
    clear_once(Path(tempfile.gettempdir()))
    with tempfile.TemporaryDirectory(prefix=f"eavesong-{kind}-{mark()}-") as folder:
        yield Path(folder)


def fitting_name(name: str, room: int = 0) -> str:
    """``name`` as a file system takes it with ``room`` bytes more: itself, or its beginning with a hash of the whole.

    What follows its last dot stays.
    """
    data = os.fsencode(name)
    if len(data) <= LONGEST_NAME - room:
        return name
    dot, ending = name.rpartition(".")[1:]
    tail = f"~{hashlib.sha256(data).hexdigest()[:12]}{dot}{ending if len(os.fsencode(ending)) <= 16 else ''}"
    return data[: LONGEST_NAME - room - len(os.fsencode(tail))].decode("utf-8", "ignore") + tail


def beside(path: Path, ending: str) -> Path:
    """The hidden companion of a file, such as its lock."""
    return path.with_name(f".{fitting_name(path.name, 1 + len(ending))}{ending}")


@cache
def clear_once(folder: Path) -> None:
    """`clear_left`, for each folder the first time a process asks."""
    clear_left(folder)


def clear_left(folder: Path) -> None:
    """Remove what runs that are no more have left in ``folder``; what cannot be removed stays."""
    with contextlib.suppress(OSError), os.scandir(folder) as entries:
        for entry in entries:
            with contextlib.suppress(OSError):
                if entry.name.endswith(LOCK):
                    _remove_lock(entry.path)
                elif (found := _MARKED.match(entry.name)) and not _belongs_to_the_living(entry, found):
                    _remove(entry, int(found["pid"]) if found["host"] == _host() else None)


def _belongs_to_the_living(entry: os.DirEntry[str], found: re.Match[str]) -> bool:
    if found["host"] != _host():
        return time.time() - entry.stat(follow_symlinks=False).st_mtime < ABANDONED
    born = _born(int(found["pid"]))
    return born is not None and found["born"] in (born, "0")


def _remove(entry: os.DirEntry[str], process: int | None) -> None:
    if entry.is_dir(follow_symlinks=False):
        shutil.rmtree(entry.path, ignore_errors=True)
        if process is not None:
            _remove_semaphores(process)
    else:
        os.unlink(entry.path)


def _remove_semaphores(process: int) -> None:
    """What the process pool of a batch has made and its own watcher, killed with it, could not remove."""
    for left in Path("/dev/shm").glob(f"sem.loky-{process}-*"):
        with contextlib.suppress(OSError):
            left.unlink()


def _remove_lock(path: str) -> None:
    """Remove a lock file that nobody holds; while it is held itself, as `eavesong.season.locks` does."""
    try:
        import fcntl
    except ImportError:  # Windows, where a lock's file is gone with its process
        return
    handle = os.open(path, os.O_RDWR | os.O_NOFOLLOW)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        os.unlink(path)
    finally:
        os.close(handle)


@cache
def _host() -> str:
    """This computer, and the space in which its process numbers count (pid_namespaces(7))."""
    with contextlib.suppress(OSError):
        return _short(platform.node() + os.readlink("/proc/self/ns/pid"))
    return _short(platform.node())


def _born(process: int) -> str | None:
    """When a living process was born, as 8 hex digits; None where there is no such process.

    proc_pid_stat(5), field 22, in ticks since the system started. Where a system does not tell, all that live were
    born at ``0``.
    """
    if os.path.exists("/proc/self/stat"):
        try:
            stat = Path(f"/proc/{process}/stat").read_text(encoding="utf-8", errors="replace")
        except OSError:
            return None
        fields = stat.rpartition(")")[2].split()
        return None if fields[0] in "ZX" else _short(_boot() + fields[19])  # dead, and only not asked after yet
    if os.name != "posix":  # os.kill() would end it
        return "0"
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return None
    except (OSError, OverflowError):  # another person's
        pass
    return "0"


@cache
def _boot() -> str:
    """Which start of the system this is."""
    with contextlib.suppress(OSError):
        return Path("/proc/sys/kernel/random/boot_id").read_text(encoding="utf-8")
    return ""


def _short(text: str) -> str:
    return hashlib.sha256(text.encode(errors="replace")).hexdigest()[:8]
