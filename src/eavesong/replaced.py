"""The one rule of what may be replaced: what eavesong wrote, and nobody has changed since.

What is written is noted by its content in the cache. A file with other content is somebody's own, or somebody has
changed it, and its place is taken only where ``--overwrite`` says so. Pages and reports, which nobody writes by hand,
say themselves that eavesong made them, so that a season goes on where the cache is gone. Frames files do so as well;
see `eavesong.frames.guard`.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections.abc import Iterator, Sequence
from pathlib import Path

from eavesong.errors import OutputError, Problem
from eavesong.files import tell_no_cache, user_cache, write_whole

LARGEST_LIST = 1 << 20
"""Bytes of the list of what was written, beyond which its older half is forgotten: some eight thousand files."""

MADE = (b'<meta name="generator" content="eavesong">', b'{\n  "written_by": "eavesong')
"""How a page says that eavesong made it, and how a report begins."""

HEAD = 1024
"""Bytes at whose beginning they do."""

OTHER = "Choose another name."


@contextlib.contextmanager
def replacing(
    *targets: str | Path | None, overwrite: bool = False, read: Sequence[str | Path | None] = (), advice: str = ""
) -> Iterator[None]:
    """Within, the ``targets`` may be written; afterwards it is noted that eavesong wrote them.

    None stands for what is not asked for. read: what the writer reads, which is never replaced. advice: what to do
    where a file is there, for texts that are somebody's from the moment they are written: even those that eavesong
    wrote stay without ``overwrite``. A link is followed. Raises OutputError, with every problem, where a target would
    take the place of what eavesong did not write (unless ``overwrite``), of what is read or of another target, or
    where it cannot be written.
    """
    paths = [Path(target) for target in targets if target is not None]
    inputs = [Path(each) for each in read if each is not None]
    problems = [
        Problem(str(path), "", *found) for path in paths if (found := _in_the_way(path, overwrite, inputs, advice))
    ]
    places = [os.path.realpath(path) for path in paths]
    twice = dict.fromkeys(str(path) for path, place in zip(paths, places, strict=True) if places.count(place) > 1)
    problems += [Problem(path, "", "would be written twice", "Give each a name of its own.") for path in twice]
    if problems:
        raise OutputError(dict.fromkeys(problems))
    yield
    note_written(*paths)


def _in_the_way(path: Path, overwrite: bool, read: Sequence[Path], advice: str) -> tuple[str, str] | None:
    """Why ``path`` may not be written, and what to do; None where it may."""
    if os.path.isdir(path):
        return "is a folder", "Name a file in it, or choose another name."
    folder = Path(os.path.realpath(path)).parent
    if not folder.is_dir():
        there = "is a file, not a folder" if folder.exists() else "is not there"
        return f"cannot be written: the folder '{folder}' {there}", "Make it first, or write elsewhere."
    if not os.path.exists(path):
        return None
    if any(os.path.exists(each) and os.path.samefile(each, path) for each in read):
        return "is read here", OTHER
    if not os.path.isfile(path):
        return "is not a file that could be written anew", OTHER
    if overwrite or (not advice and is_ours(path)):
        return None
    if advice:
        return "is there already", advice
    found = "is there already, and is not, or no longer, as eavesong wrote it"
    return found, "Choose another name, delete it, or say --overwrite."


def refuse_read(target: str | Path, read: Sequence[str | Path | None]) -> None:
    """Raise OutputError where ``target`` would take the place of something that is ``read``; a link is followed."""
    if os.path.exists(target) and any(
        each is not None and os.path.exists(each) and os.path.samefile(each, target) for each in read
    ):
        raise OutputError(Problem(str(target), "", "is read here", OTHER))


def is_ours(path: str | Path) -> bool:
    """Whether a file is empty, a page or report that says so, or holds what eavesong wrote, byte for byte."""
    try:
        with open(path, "rb") as file:
            head = file.read(HEAD)
        if not head or MADE[0] in head or head.startswith(MADE[1]):
            return True
        digest = _digest(path)
        return digest in _list().read_text(encoding="ascii").split()
    except (OSError, ValueError):  # unreadable, or nothing was ever noted
        return False


def note_written(*paths: str | Path) -> None:
    """Note, by their content, that eavesong wrote the files; those that are not there are left out."""
    lines = ""
    for path in paths:
        with contextlib.suppress(OSError):
            lines += f"{_digest(path)}\n"
    if not lines:
        return
    try:
        with open(_list(), "a", encoding="ascii") as file:  # appending is one step for lines as short as these
            file.write(lines)
        if _list().stat().st_size > LARGEST_LIST:
            known = _list().read_text(encoding="ascii").split()
            write_whole(_list(), "\n".join(known[len(known) // 2 :]) + "\n")
    except (OSError, OutputError, ValueError) as fault:
        tell_no_cache(str(fault))


def _list() -> Path:
    return user_cache() / "written.txt"


def _digest(path: str | Path) -> str:
    with open(path, "rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
