"""Colours and letters of pictures that are drawn against time."""

from __future__ import annotations

from typing import Any

PAPER, QUIET, TEXT, ACCENT = (9, 12, 22), (52, 62, 88), (206, 213, 232), (243, 201, 139)
FAINT = (150, 160, 186)
"""Letters that stand back: names, numbers, times."""


def font(size: int) -> Any:
    """Pillow's own letters, so many picture elements high."""
    from PIL import ImageFont

    return ImageFont.load_default(size)
