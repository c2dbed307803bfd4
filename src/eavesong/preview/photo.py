"""The photo of the house: opened, upright as it was taken, and small enough for a page."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING

from eavesong.errors import SurveyError

if TYPE_CHECKING:
    from PIL import Image

PAGE_WIDTH = 1600
"""Columns, or rows, of a photo in a page at most."""


def opened(path: Path) -> Image.Image:
    """The photo in ``path``, upright, red, green and blue; SurveyError where there is none that can be read."""
    from PIL import ImageOps

    from eavesong.survey.photo import opened as open_photo

    with open_photo(path, str(path)) as photo:
        return ImageOps.exif_transpose(photo).convert("RGB")


def opened_if_any(path: Path | None) -> Image.Image | None:
    """The same, and None for no photo or one that cannot be read: a picture is never lost for it."""
    try:
        return opened(path) if path is not None else None
    except SurveyError:
        return None


def small_jpeg(photo: Image.Image) -> bytes:
    """A photo as a JPEG for a page."""
    out, small = io.BytesIO(), photo.copy()
    small.thumbnail((PAGE_WIDTH, PAGE_WIDTH))
    small.save(out, "JPEG", quality=78)
    return out.getvalue()
