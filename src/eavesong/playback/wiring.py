"""Which byte of a frame goes into which slot of which universe, and to what address: the patch, made to be sent."""

from __future__ import annotations

import ipaddress
import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.errors import FramesError, Problem
from eavesong.playback.packets import LAST_UNIVERSE, SLOTS

if TYPE_CHECKING:
    from eavesong.frames import PatchRow
    from eavesong.layout import Layout

MULTICAST = "multicast"

SHORTEST_REFRESH = 22_676e-6
"""Seconds a universe takes on a DMX512 line at least: break 92 µs, mark after break 12 µs, 513 slots of 44 µs
(ANSI E1.11-2008, 8.11). E1.31-2018, 6.6.1: not faster than that unless the user says so."""


@dataclass(frozen=True, eq=False)
class Wiring:
    """The universes of a house, ascending, and where each goes; arrays of shape (universe,) or (patched byte,)."""

    universes: NDArray[np.int64]
    addresses: tuple[tuple[str, ...], ...]
    """For each universe, the addresses it is sent to: IP addresses, host names, ``multicast``."""
    channel_count: int
    """Bytes of a frame."""
    channels: NDArray[np.int64]
    """Bytes of a frame that are sent somewhere."""
    cells: NDArray[np.int64]
    """Where each goes: row · 512 + slot - 1, in a table of (universe, 512)."""
    limits: NDArray[np.float64]
    """Frames a second that the slowest controller of each universe takes; inf where it is not known."""
    controllers: dict[str, str] = field(default_factory=dict)
    """Address to the name of the controller there, for people; to all of them where several are said to have one."""

    def sent_to(self, address: str) -> Wiring:
        """The same universes, all sent to one ``address``: a rehearsal."""
        return replace(self, addresses=((address,),) * len(self.addresses), controllers={address: address})

    def strides(self, frame_rate: float, *, ceiling: bool = True) -> NDArray[np.int64]:
        """Every how many frames each universe is sent, int64 (universe,), so that no controller gets too many.

        With ``ceiling`` no universe is sent faster than a DMX512 line refreshes (E1.31-2018, 6.6.1).
        """
        most = np.minimum(self.limits, 1 / SHORTEST_REFRESH if ceiling else math.inf)
        return np.maximum(1, np.ceil(frame_rate / most - 1e-9)).astype(np.int64)


def wire(patch: Iterable[PatchRow], channel_count: int, name: str, *, allow_public: bool = False) -> Wiring:
    """The wiring of a patch, of frames of ``channel_count`` bytes. ``name`` is the file's, for its problems.

    Raises FramesError when a row leads out of a universe or of the frame, when two rows share a slot at one address,
    when an address cannot be sent to, or is public and ``allow_public`` is not given, and when nothing is patched.
    """
    rows = [row for row in patch if row.universe]
    problems = [problem for row in rows for problem in _misfits(row, channel_count, name)]
    addresses = {row.address: row.controller for row in rows}
    for address, controller in addresses.items():
        if misfit := misfit_of_address(address, allow_public):
            problems.append(Problem(name, f"controller '{controller}'", *misfit))
    if not rows:
        advice = (
            "Add a [[controller]] with a [[controller.output]] whose 'chain' names the props, and render again; with "
            'address = "127.0.0.1" it is a rehearsal.'
        )
        problems.append(Problem(name, "", "the layout names no controller", advice))
    if problems:
        raise FramesError(dict.fromkeys(problems))
    return _put_together(rows, channel_count, name)


def on_layout(patch: Sequence[PatchRow], layout: Layout) -> tuple[PatchRow, ...] | None:
    """A patch with the addresses that the ``layout`` has now; None where it patches other pixels, or them elsewhere."""
    from eavesong.frames import describe

    now = describe(layout, title="", frame_rate=1.0).patch
    return tuple(now) if [_seat(row) for row in now] == [_seat(row) for row in patch] else None


def _seat(row: PatchRow) -> PatchRow:
    """A row without what may change while its frames stay right: by which box and at which address they arrive."""
    return replace(
        row, controller="", address="", protocol="", output=0, frame_rate_limit=0.0,
        brightness=round(row.brightness, 6), gamma=round(row.gamma, 6),
    )  # fmt: skip


def wire_layout(layout: Layout, *, allow_public: bool = False) -> Wiring:
    """The wiring of a layout, as ``wire`` does it for a frames file."""
    from eavesong.frames import describe

    described = describe(layout, title="", frame_rate=1.0)
    return wire(described.patch, layout.patch.channel_count, layout.path, allow_public=allow_public)


def misfit_of_address(address: str, allow_public: bool) -> tuple[str, str] | None:
    """(found, instead) when nothing may be sent to ``address``; a host name is looked at once it is looked up."""
    if address == MULTICAST:
        return None
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        if re.fullmatch(r"[0-9.]+", address):  # RFC 1123, 2.1: digits and dots alone are to be read as an address
            return f"'{address}' is neither an IP address nor a host name", "Four numbers up to 255: 192.0.2.10."
        if re.search(r"[\s:/@\[\],;]", address):  # 1:50, a port behind it, a line of words
            told = f"'{address}' is neither an IP address nor a host name"
            return told, "An address is like 192.0.2.10, without a port and without brackets."
        return None if address else ("it has no address", "Give it one, or 'multicast'.")
    found = getattr(found, "ipv4_mapped", None) or found
    if found.is_multicast or found.is_unspecified or str(found) == "255.255.255.255":
        return f"nothing can be sent to {address} alone", "Write the controller's own address, or 'multicast'."
    if found.is_global and not allow_public:
        return f"{address} is a public address", "Add --allow-public if the controller really stands there."
    return None


def _misfits(row: PatchRow, channel_count: int, name: str) -> Iterable[Problem]:
    where = f"patch of '{row.prop}'"
    if not 1 <= row.universe <= LAST_UNIVERSE:
        yield Problem(name, where, f"universe {row.universe} is not in 1 to {LAST_UNIVERSE}")
    if row.channel_count < 1 or not 1 <= row.slot <= row.slot + row.channel_count - 1 <= SLOTS:
        yield Problem(name, where, f"{row.channel_count} channels from slot {row.slot} on do not fit a universe")
    if not 0 <= row.first_channel <= channel_count - row.channel_count:
        yield Problem(name, where, f"leads beyond the {channel_count} channels of a frame")


def _put_together(rows: list[PatchRow], channel_count: int, name: str) -> Wiring:
    universes = sorted({row.universe for row in rows})
    place = {universe: n for n, universe in enumerate(universes)}
    channels = np.concatenate([np.arange(row.channel_count) + row.first_channel for row in rows])
    cells = np.concatenate(
        [np.arange(row.channel_count) + (place[row.universe] * SLOTS + row.slot - 1) for row in rows]
    )
    taken, counts = np.unique(cells, return_counts=True)
    if (counts > 1).any():
        universe, slot = divmod(int(taken[counts.argmax()]), SLOTS)
        found = f"slot {slot + 1} of universe {universes[universe]} is driven twice"
        raise FramesError(Problem(name, "patch", found, "Mend the layout, and render again."))
    order = np.argsort(cells, kind="stable")
    limits = np.full(len(universes), np.inf)
    targets: list[dict[str, None]] = [{} for _ in universes]
    for row in rows:
        n = place[row.universe]
        targets[n][row.address] = None
        limits[n] = min(limits[n], row.frame_rate_limit if row.frame_rate_limit > 0 else math.inf)
    named: dict[str, dict[str, None]] = {}
    for row in rows:
        named.setdefault(row.address, {})[row.controller] = None
    controllers = {address: " and ".join(names) for address, names in named.items()}
    return Wiring(
        np.array(universes, np.int64), tuple(map(tuple, targets)), channel_count, channels[order], cells[order],
        limits, controllers,
    )  # fmt: skip
