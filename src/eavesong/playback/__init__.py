"""Playback: frames out to the controllers over E1.31, in time with the song, one song or a whole evening.

`play` sends one frames file, `run_evening` a setlist. The names below load their modules only when first used: the
usual host is a small computer without a screen.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from eavesong.playback.clock import SongClock, SystemTime
    from eavesong.season.evening import run_evening
    from eavesong.playback.identify import identify
    from eavesong.playback.listen import Ear
    from eavesong.playback.packets import data_packet, discovery_packets, sync_packet
    from eavesong.playback.player import Player
    from eavesong.season.schedule import Calendar, plan_evening
    from eavesong.playback.sender import Sender
    from eavesong.playback.session import Settings, play
    from eavesong.playback.source import FileSource
    from eavesong.playback.wiring import Wiring, wire

__all__ = [
    "Calendar",
    "Ear",
    "FileSource",
    "Player",
    "Sender",
    "Settings",
    "SongClock",
    "SystemTime",
    "Wiring",
    "data_packet",
    "discovery_packets",
    "identify",
    "plan_evening",
    "play",
    "run_evening",
    "sync_packet",
    "wire",
]

_HOMES = {
    "clock": ("SongClock", "SystemTime"),
    "evening": ("run_evening",),
    "identify": ("identify",),
    "listen": ("Ear",),
    "packets": ("data_packet", "discovery_packets", "sync_packet"),
    "player": ("Player",),
    "schedule": ("Calendar", "plan_evening"),
    "sender": ("Sender",),
    "session": ("Settings", "play"),
    "source": ("FileSource",),
    "wiring": ("Wiring", "wire"),
}


def __getattr__(name: str) -> Any:
    for home, names in _HOMES.items():
        if name in names:
            return getattr(importlib.import_module(f"{__name__}.{home}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
