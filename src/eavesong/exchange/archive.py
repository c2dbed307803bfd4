"""The pack as a file: a plain ZIP of plain texts, the same bytes for the same contents, read as from a stranger."""

from __future__ import annotations

import io
import re
import stat
import zipfile
import zlib
from pathlib import Path, PurePosixPath

from eavesong.errors import PackError, Problem

LARGEST = 32 << 20
"""Bytes of a pack, and of all that is in it together: a trace of four hours has 15 MB."""
LARGEST_ENTRY = 16 << 20
MOST_ENTRIES = 300
DEEPEST = 4
"""Folders above an entry."""
ENDINGS = (".toml", ".txt", ".beats", ".sections", ".events", ".trace", ".webp", ".png")
LONGEST_NAME = 120
_PART = re.compile(r"[^\x00-\x1f\x7f\\/:*?\"<>|]+")
_RESERVED = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?", re.IGNORECASE)
EARLIEST = (1980, 1, 1, 0, 0, 0)
"""The date of every entry: the first that ZIP knows."""


def zipped(entries: dict[str, bytes]) -> bytes:
    """A ZIP of ``entries`` in their order; nothing in it tells when or where it was made."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, data in entries.items():
            info = zipfile.ZipInfo(name, EARLIEST)
            info.compress_type, info.create_system, info.external_attr = zipfile.ZIP_DEFLATED, 3, 0o644 << 16
            archive.writestr(info, data, compresslevel=9)
    return out.getvalue()


def read_entries(path: str | Path) -> dict[str, bytes]:
    """What is in the pack at ``path``, by name. Nothing is written anywhere.

    Raises PackError, with every entry that cannot be used, for a file that is no ZIP or is damaged, for names that
    lead elsewhere, links, secrets, archives in it and other kinds of files, and for more than the bounds above.
    """
    name = str(path)
    try:
        if not Path(path).is_file():
            raise PackError(Problem(name, "", "there is no such file" if not Path(path).exists() else "is not a file"))
        if Path(path).stat().st_size > LARGEST:
            raise PackError(
                Problem(name, "", "is larger than 32 MiB", "A pack has less than one; name the right file.")
            )
        with zipfile.ZipFile(path) as archive:
            return _entries(name, archive)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, UnicodeDecodeError) as fault:
        if name.endswith(".toml"):
            advice = "'eavesong pack' makes a pack of a show."
            raise PackError(Problem(name, "", "is a text, where a pack belongs", advice)) from None
        found = f"is no pack that can be read: {str(fault)[:120] or type(fault).__name__}"
        raise PackError(Problem(name, "", found, "Fetch it again.")) from None
    except (OSError, ValueError) as fault:
        raise PackError(Problem(name, "", f"cannot be read: {getattr(fault, 'strerror', None) or fault}")) from None


def _entries(name: str, archive: zipfile.ZipFile) -> dict[str, bytes]:
    infos = [info for info in archive.infolist() if not info.is_dir()]
    if len(infos) > MOST_ENTRIES:
        found = f"holds {len(infos):,} files"
        raise PackError(Problem(name, "", found, f"A pack holds {MOST_ENTRIES} at most; name the right file."))
    seen: set[str] = set()
    problems = []
    for info in infos:
        if why := _refused(info, seen):
            problems.append(Problem(name, f"{info.filename!r:.90}", why))
        seen.add(info.filename.casefold())
    if sum(info.file_size for info in infos) > LARGEST:
        problems.append(Problem(name, "", "holds more than 32 MiB when unpacked", "Do not use it."))
    if problems:
        raise PackError(problems)
    return {info.filename: _bounded(name, archive, info) for info in infos}


def _refused(info: zipfile.ZipInfo, seen: set[str]) -> str:
    """Why an entry is not taken; empty where it is."""
    parts = info.filename.split("/")
    kind = stat.S_IFMT(info.external_attr >> 16)
    if info.filename.casefold() in seen:
        return "is in it twice"
    if info.flag_bits & 1:
        return "is encrypted"
    if kind not in (0, stat.S_IFREG):
        return "is a link or a device"
    if len(info.filename) > LONGEST_NAME or len(parts) > DEEPEST or not all(map(_plain, parts)):
        return "its name leads elsewhere, or is none that every system takes"
    if PurePosixPath(info.filename).suffix.lower() not in ENDINGS:
        return "is of a kind that no pack holds"
    if info.file_size > LARGEST_ENTRY:
        return "is larger than 16 MiB"
    return ""


def _plain(part: str) -> bool:
    return bool(_PART.fullmatch(part)) and part.strip(" .") == part.strip() != "" and not _RESERVED.fullmatch(part)


def _bounded(name: str, archive: zipfile.ZipFile, info: zipfile.ZipInfo) -> bytes:
    """What an entry holds, never more than it says: what it says was looked at before."""
    with archive.open(info) as entry:
        data = entry.read(info.file_size + 1)
    if len(data) != info.file_size:
        raise PackError(Problem(name, f"{info.filename!r:.90}", "holds other than it says", "Do not use it."))
    return data
