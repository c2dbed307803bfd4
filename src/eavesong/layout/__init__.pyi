from .house import Frame, Layout, Pixels, Prop
from .load import layout_from_points, load_layout
from .model import layout_schema
from .patch import Controller, Patch, PatchRun

__all__ = [
    "Controller",
    "Frame",
    "Layout",
    "Patch",
    "PatchRun",
    "Pixels",
    "Prop",
    "layout_from_points",
    "layout_schema",
    "load_layout",
]
