"""Who sends: the component identifier (CID) of this installation, kept for its life (ANSI E1.31-2018, 5.6)."""

from __future__ import annotations

import uuid
from pathlib import Path

from eavesong.errors import OutputError


def cid_file() -> Path:
    """Where the CID is kept: the user's data folder for eavesong (platformdirs; XDG_DATA_HOME on Linux)."""
    from platformdirs import user_data_path

    return user_data_path("eavesong", appauthor=False) / "cid"


def installation_cid(path: Path | None = None) -> uuid.UUID:
    """The CID of this installation: a random UUID (RFC 4122, version 4), made once and read ever after.

    Where it cannot be kept, one is made from this computer's name and network card, which is the same each time too.
    """
    from eavesong.files import write_whole

    path = path or cid_file()
    if kept := _read(path):
        return kept
    made = uuid.uuid4()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, f"{made}\n")
    except (OSError, OutputError):
        return _of_this_computer()
    return _read(path) or made


def companion_cid(cid: uuid.UUID, purpose: str) -> uuid.UUID:
    """Another CID of the same installation, for a command that may run beside a show: ``identify``.

    Two senders with one CID would upset each other's sequence numbers.
    """
    return uuid.uuid5(cid, purpose)


def _read(path: Path) -> uuid.UUID | None:
    try:
        found = uuid.UUID(path.read_text().strip())
    except (OSError, ValueError):
        return None
    return found if found.int else None


def _of_this_computer() -> uuid.UUID:
    import platform

    return uuid.uuid5(uuid.NAMESPACE_OID, f"eavesong {platform.node()} {uuid.getnode()}")
