from .render import Order, Rendered, render, render_scene

__all__ = [
    "Order",
    "Rendered",
    "render",
    "render_scene",
]
