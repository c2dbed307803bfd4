"""Who sends: the component identifier (CID) of each source that runs on this computer (ANSI E1.31-2018, 5.6)."""

from __future__ import annotations

import uuid
from pathlib import Path

from eavesong.errors import OutputError


def data_folder() -> Path:
    """The user's data folder for eavesong (platformdirs; XDG_DATA_HOME on Linux)."""
    from platformdirs import user_data_path

    return user_data_path("eavesong", appauthor=False)


def cid_file() -> Path:
    """Where the CID of this installation is kept."""
    return data_folder() / "cid"


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


def cid_of(role: str, number: int) -> uuid.UUID:
    """The CID of the ``number``-th sender in a ``role`` (``play``, ``identify``) that runs on this computer.

    A CID belongs to one running source: two that share one would upset each other's sequence numbers, and the first to
    end would end the other's streams. The computer's name is part of it, where homes are shared over a network.
    """
    import platform

    return uuid.uuid5(installation_cid(), f"{platform.node()} {role} {number}")


def _read(path: Path) -> uuid.UUID | None:
    try:
        found = uuid.UUID(path.read_text(encoding="utf-8").strip())
    except (OSError, ValueError):
        return None
    return found if found.int else None


def _of_this_computer() -> uuid.UUID:
    import platform

    return uuid.uuid5(uuid.NAMESPACE_OID, f"eavesong {platform.node()} {uuid.getnode()}")
