from .clock import SongClock, SystemTime
from .evening import run_evening
from .identify import identify
from .listen import Ear
from .packets import data_packet, discovery_packets, sync_packet
from .player import Player
from .schedule import Calendar, plan_evening
from .sender import Sender
from .session import Settings, play
from .source import FileSource
from .wiring import Wiring, wire

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
