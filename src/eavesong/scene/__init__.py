"""Scenes: an order, placed on house and song, with no engine in it; made from files or reopened from frames."""

from eavesong.scene.order import Order, Terms, order_text, parse_order
from eavesong.scene.place import PlacedCue, place_cues
from eavesong.scene.scene import Scene, make_scene, scene_of, set_scene
from eavesong.scene.timeline import Envelope, Span

__all__ = [
    "Envelope",
    "Order",
    "PlacedCue",
    "Scene",
    "Span",
    "Terms",
    "make_scene",
    "order_text",
    "parse_order",
    "place_cues",
    "scene_of",
    "set_scene",
]
