"""Other players on this computer: who they are, and which universes they send too."""

from __future__ import annotations

import contextlib
import json
import os
import threading
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

from eavesong.playback.identity import cid_of, data_folder
from eavesong.playback.packets import universes_told

if TYPE_CHECKING:
    from eavesong.playback.source import Source
    from eavesong.playback.status import Status
    from eavesong.playback.wiring import Wiring

MOST = 64
"""Players of one role on one computer that are told apart by name; more get a new identifier each."""
LOCKED_AT = 1 << 30
"""The octet of a note that is locked: far behind its text, which others are to read."""
LONGEST_NOTE = 1 << 20
MISREAD = (ValueError, KeyError, TypeError, AttributeError)
"""What reading a note raises that no player wrote, or only half."""
LEAVING = 0.5
"""Seconds that the end waits for word to be left."""


@dataclass(frozen=True)
class Meeting:
    """Another player on this computer."""

    process: int
    title: str
    priority: int
    universes: tuple[int, ...]
    """Those that both send, ascending."""

    def told(self, priority: int) -> str:
        """In words, to the one that sends at ``priority``."""
        who = f"another eavesong runs on this computer (process {self.process}, {self.title or 'untitled'})"
        if not self.universes:
            return f"{who}; no universe is sent by both"
        both = f"{who}, and both send {universes_told(self.universes)}"
        if priority == self.priority:
            return f"{both} at priority {priority}: receivers mix the two until one ends or has another --priority"
        ahead = "that one" if self.priority > priority else "this one"
        return f"{both}: receivers follow {ahead}, at priority {max(priority, self.priority)}"


class Place:
    """A running player's place among those of this computer: its identifier, and a note for the others.

    The place is a small file, locked while the player runs, so that it is free again whatever ends it. The first player
    of a role (``play``, ``identify``) on a computer always has the same identifier, so has the second, and so on:
    receivers take two sources that share one for a single source (ANSI E1.31-2018, 5.6), its packets out of order.
    """

    def __init__(self, role: str, folder: Path | None = None) -> None:
        self.role = role
        self._note: IO[bytes] | None = None
        self.number = 0
        """From 1; 0 where no place can be kept."""
        for each in [folder] if folder else _folders():
            self._folder = each
            with contextlib.suppress(OSError):
                each.mkdir(parents=True, exist_ok=True)
                self._take()
                break
        self.cid = cid_of(role, self.number) if self.number else uuid.uuid4()
        """The identifier to send under."""

    def write(self, title: str, priority: int, wiring: Wiring) -> None:
        """Leave word of what is sent from now on."""
        streams = {
            str(universe): list(addresses)
            for universe, addresses in zip(wiring.universes.tolist(), wiring.addresses, strict=True)
        }
        note = {"process": os.getpid(), "title": title, "priority": priority, "streams": streams}
        if self._note is not None:
            with contextlib.suppress(OSError, ValueError):
                self._note.seek(0)
                self._note.truncate()
                self._note.write(json.dumps(note).encode())
                self._note.flush()

    def clear(self) -> None:
        """Leave word of nothing: whoever keeps a place and sends nothing is met by nobody."""
        if self._note is not None:
            with contextlib.suppress(OSError, ValueError):
                self._note.truncate(0)

    def meetings(self, wiring: Wiring) -> list[Meeting]:
        """The other players that run, with the universes they send to the same address as ``wiring`` does."""
        mine = {
            (universe, address)
            for universe, addresses in zip(wiring.universes.tolist(), wiring.addresses, strict=True)
            for address in addresses
        }
        found = []
        for note in self._others():
            shared = {number for number, address in note.pop("streams") if (number, address) in mine}
            found.append(Meeting(**note, universes=tuple(sorted(shared))))
        return found

    def close(self) -> None:
        """Leave the place to the next."""
        if self._note is not None:
            with contextlib.suppress(OSError):
                self._note.truncate(0)
            self._note.close()
            self._note = None

    def _take(self) -> None:
        """The first place of this role that nobody holds."""
        for number in range(1, MOST + 1):
            with contextlib.ExitStack() as undo:
                note = undo.enter_context(open(self._folder / f"{self.role}-{number}", "a+b"))
                if lock(note):
                    undo.pop_all()
                    note.truncate(0)
                    self._note, self.number = note, number
                    return

    def _others(self) -> Iterator[dict[str, Any]]:
        """What the notes of the other players that run say."""
        for path in sorted(self._folder.glob("*-*")):
            if self._note is not None and path.name == f"{self.role}-{self.number}":
                continue
            with (
                contextlib.suppress(OSError, *MISREAD),
                open(path, "r+b") as note,
            ):
                if lock(note):
                    continue  # its player is gone
                told = json.loads(note.read(LONGEST_NOTE))
                streams = [(int(number), str(each)) for number, to in told["streams"].items() for each in to]
                yield {
                    "process": int(told["process"]), "title": str(told["title"]), "priority": int(told["priority"]),
                    "streams": streams,
                }  # fmt: skip


class Announcer:
    """Leaves word of what is sent and tells people whom it meets, in a thread of its own, since that needs the disk."""

    def __init__(self, place: Place, status: Status, priority: int, to: str = "") -> None:
        """``to``: the address of a rehearsal, that everything is sent to."""
        self._to = to
        self._place = place
        self._status = status
        self._priority = priority
        self._last: tuple[object, ...] = ()
        self._thread: threading.Thread | None = None

    def taken(self, source: Source | None) -> None:
        """``source`` is played from now on; None: nothing is."""
        if source is None:
            self._last = ()
            self.settle()
            self._thread = threading.Thread(target=self._place.clear, daemon=True)
            self._thread.start()
            return
        wiring = source.wiring.sent_to(self._to) if self._to else source.wiring
        streams = (wiring.universes.tolist(), wiring.addresses)
        if (*streams, source.title) != self._last:
            new = streams != self._last[:2]
            self._last = (*streams, source.title)
            self.settle()
            self._thread = threading.Thread(target=self._announce, args=(source.title, wiring, new), daemon=True)
            self._thread.start()

    def settle(self) -> None:
        """Wait for what is being told, within reason."""
        if self._thread is not None:
            self._thread.join(LEAVING)

    def _announce(self, title: str, wiring: Wiring, new: bool) -> None:
        """Leave word of what is played; whom it meets is told where ``new`` universes are sent."""
        self._place.write(title, self._priority, wiring)
        for meeting in self._place.meetings(wiring) if new else ():
            self._status.event("neighbour", meeting.told(self._priority), universes=meeting.universes)


def _folders() -> list[Path]:
    """Where places may be kept: with the user's data, else where the login keeps what does not last."""
    runtime = os.environ.get("XDG_RUNTIME_DIR")
    return [data_folder() / "players", *([Path(runtime) / "eavesong" / "players"] if runtime else [])]


def lock(file: IO[bytes]) -> bool:
    """Lock an open file for as long as it stays open; False while somebody else has.

    Raises OSError where the system, or the disk, knows no locks.
    """
    try:
        import fcntl
    except ImportError:
        return _lock_octet(file)
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def _lock_octet(file: IO[bytes]) -> bool:
    """The same on Windows, where others cannot read what is locked: an octet behind the text."""
    try:
        import msvcrt
    except ImportError:
        raise OSError("this system locks no files") from None
    try:
        file.seek(LOCKED_AT)
        msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined]
    except OSError:
        return False
    finally:
        file.seek(0)
    return True
