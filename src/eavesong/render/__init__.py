"""Plan to blocks to bytes: a show on a house to a song becomes a frames file."""

from eavesong.render.render import Rendered, render

__all__ = ["Rendered", "render"]
