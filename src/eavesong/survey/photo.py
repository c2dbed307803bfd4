"""What a photo says of itself: its size as it is looked at, and its focal length (Exif 2.32, JEITA CP-3451)."""

from __future__ import annotations

import contextlib
import math
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from eavesong.errors import Problem, SurveyError, nearest
from eavesong.survey.known import focal_in_pixels

LARGEST_FILE = 80 << 20
"""Bytes of the largest photo that is opened."""
MOST_PIXELS = 200_000_000

ORIENTATION, PICTURE_WIDTH, PICTURE_HEIGHT = 0x0112, 0xA002, 0xA003
FOCAL, FOCAL_35, ZOOM = 0x920A, 0xA405, 0xA404
PLANE_X, PLANE_UNIT = 0xA20E, 0xA210
EXIF_PART = 0x8769
SIDEWAYS = (5, 6, 7, 8)
"""Orientations in which width and height change places."""
MILLIMETRES = {2: 25.4, 3: 10.0, 4: 1.0}
"""In one unit of the focal plane's resolution: inch, centimetre, millimetre."""


@dataclass(frozen=True)
class Facts:
    """What a photo says of itself."""

    width: int
    """Picture elements, as it is looked at."""
    height: int
    focal: float | None
    """Picture elements; None where it does not say."""
    trimmed: bool
    """Whether its proportions are not those it was taken with."""


def facts(path: Path, shown: str = "") -> Facts:
    """What the photo in ``path`` says of itself; SurveyError where it is none that can be read.

    ``shown`` is how messages call it. Only its head is read, not the picture.
    """
    with opened(path, shown) as picture:
        exif = picture.getexif()
        width, height = picture.size
        if exif.get(ORIENTATION) in SIDEWAYS:
            width, height = height, width
        return _facts(width, height, exif.get_ifd(EXIF_PART))


def _facts(width: int, height: int, exif: dict[int, Any]) -> Facts:
    taken = _number(exif.get(PICTURE_WIDTH)), _number(exif.get(PICTURE_HEIGHT))
    longer, shorter = max(width, height), min(width, height)
    trimmed = all(taken) and abs(max(taken) / min(taken) / (longer / shorter) - 1) > 0.01
    focal = None
    if not trimmed:
        if millimetres := _number(exif.get(FOCAL_35)):
            focal = focal_in_pixels(millimetres, width, height)
        elif all((_number(exif.get(FOCAL)), _number(exif.get(PLANE_X)), all(taken))):
            unit = MILLIMETRES.get(int(_number(exif.get(PLANE_UNIT)) or 2), 25.4)
            full = _number(exif.get(FOCAL)) * _number(exif.get(PLANE_X)) / unit
            focal = full * longer / max(taken)
    return Facts(width, height, focal if focal and focal > longer / 20 else None, trimmed)


def _number(value: Any) -> float:
    """A number of the photo's tags; 0 for what is none."""
    with contextlib.suppress(TypeError, ValueError, ZeroDivisionError):
        number = float(value)
        return number if math.isfinite(number) and number > 0 else 0.0
    return 0.0


@contextlib.contextmanager
def opened(path: Path, shown: str = "") -> Any:
    """The photo in ``path``, opened by Pillow; SurveyError where that cannot be done, or what is read is damaged."""
    from PIL import Image, UnidentifiedImageError

    name = shown or str(path)
    try:
        if not path.is_file():
            close = nearest(path.name, [entry.name for entry in path.parent.iterdir()]) if path.parent.is_dir() else ""
            raise SurveyError(Problem(name, "", "there is no such photo", f"Did you mean '{close}'?" if close else ""))
        if (size := path.stat().st_size) > LARGEST_FILE:
            found = f"is a file of {size / 1e6:,.0f} MB, more than {LARGEST_FILE / 1e6:,.0f}"
            raise SurveyError(
                Problem(name, "", found, "Save a smaller copy; 4,000 picture elements across are plenty.")
            )
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            with Image.open(path) as picture:
                if picture.width * picture.height > MOST_PIXELS:
                    found = f"has {picture.width:,} x {picture.height:,} picture elements, more than 200 million"
                    raise SurveyError(Problem(name, "", found, "Save a smaller copy."))
                yield picture
    except UnidentifiedImageError:
        raise SurveyError(Problem(name, "", "is no picture that can be read", "Save it as JPEG or PNG.")) from None
    except Image.DecompressionBombError:
        raise SurveyError(Problem(name, "", "has too many picture elements", "Save a smaller copy.")) from None
    except (OSError, SyntaxError, ValueError) as fault:
        raise SurveyError(Problem(name, "", f"cannot be read: {fault}", "Save it anew as JPEG or PNG.")) from None
