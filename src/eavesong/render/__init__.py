"""From an order to a frames file: `render` does the whole job, order → scene → engine → file."""

from eavesong.render.render import Rendered, render, render_scene
from eavesong.scene import Order

__all__ = ["Order", "Rendered", "render", "render_scene"]
