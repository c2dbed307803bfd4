from .clock import SongClock, SystemTime
from .identify import identify
from .listen import Listener
from .packets import data_packet, discovery_packets, sync_packet
from .player import Player
from .sender import Sender
from .session import Settings, play
from .source import FileSource
from .wiring import Wiring, wire

__all__ = [
    "FileSource",
    "Listener",
    "Player",
    "Sender",
    "Settings",
    "SongClock",
    "SystemTime",
    "Wiring",
    "data_packet",
    "discovery_packets",
    "identify",
    "play",
    "sync_packet",
    "wire",
]
