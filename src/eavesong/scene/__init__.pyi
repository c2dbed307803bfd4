from .order import Order, Terms, order_text, parse_order
from .place import PlacedCue, place_cues
from .reopen import Reopened
from .scene import HeardSong, Scene, heard_song, make_scene, scene_of, set_scene
from .timeline import Envelope, Span

__all__ = [
    "Envelope",
    "HeardSong",
    "Order",
    "PlacedCue",
    "Reopened",
    "Scene",
    "Span",
    "Terms",
    "heard_song",
    "make_scene",
    "order_text",
    "parse_order",
    "place_cues",
    "scene_of",
    "set_scene",
]
