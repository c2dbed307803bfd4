"""Values that stand in a layout file: lengths, places, names, tags, paths."""

from __future__ import annotations

import re
from pathlib import PurePosixPath
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, Strict

from eavesong.errors import MisfitError
from eavesong.layout.wire import MOST_PIXELS

ORDERS = ("RGB", "RBG", "GRB", "GBR", "BRG", "BGR", "RGBW", "RBGW", "GRBW", "GBRW", "BRGW", "BGRW",
          "WRGB", "WRBG", "WGRB", "WGBR", "WBRG", "WBGR")  # fmt: skip
"""Orders in which a pixel's colours go down its wire."""

LAST_UNIVERSE = 63999
"""ANSI E1.31-2018, 6.2.7: universes 1 to 63999 carry data."""

SLOTS = 512
"""ANSI E1.11: slots after the START code of one universe."""


def _triple(value: Any) -> Any:
    """[x, y] stands for [x, y, 0]."""
    if type(value) in (int, float) or (isinstance(value, list) and len(value) == 1 and type(value[0]) in (int, float)):
        number = value[0] if isinstance(value, list) else value
        raise MisfitError("one number is no place", f"Write [x, y], as [{number}, 0]; or [x, y, z].")
    if isinstance(value, list) and len(value) > 3 and all(type(part) in (int, float) for part in value):
        raise MisfitError(
            f"a place has two or three numbers, not {len(value)}",
            "Write [x, y] or [x, y, z], numbers with a point: 3.6.",
        )
    return [*value, 0.0] if isinstance(value, list) and len(value) == 2 else value


def _clean(name: str) -> str:
    if name != name.strip() or not name.isprintable():
        raise MisfitError("a name begins or ends with a blank, or holds a control character", "Write it plainly.")
    return name


_TAG = re.compile(r"^[a-z][a-z0-9_-]*$")


def _lower_case_word(tag: str) -> str:
    words = re.findall(r"[a-z][a-z0-9_-]*", tag.lower())
    if not _TAG.fullmatch(tag) and len(words) > 1:
        listed = ", ".join(f'"{word}"' for word in words)
        raise MisfitError("these are several words in one tag", f"Write each in quotes of its own: tags = [{listed}].")
    if not _TAG.fullmatch(tag):
        raise MisfitError("a tag is one lower-case word", "Write it with the letters a-z, digits, '-' and '_'.")
    return tag


def is_tag(text: str) -> bool:
    """Whether a text could be a tag: one lower-case word."""
    return _TAG.fullmatch(text) is not None


def one_or_more(value: Any) -> Any:
    """A text alone stands for a list of it."""
    return [value] if isinstance(value, str) else value


def _beside_the_layout(file: str) -> str:
    """Keep a file in or below the layout's folder, whatever system its path was written on."""
    parts = PurePosixPath(file.replace("\\", "/"))
    if parts.is_absolute() or ".." in parts.parts or re.match(r"^[A-Za-z]:", file):
        raise MisfitError(
            "this path leads out of the layout's folder", "Put the file beside the layout and name it from there."
        )
    return file


Length = Annotated[float, Field(gt=0, le=1e7, allow_inf_nan=False)]
Distance = Annotated[float, Field(ge=0, le=1e7, allow_inf_nan=False)]
Coordinate = Annotated[float, Field(ge=-1e7, le=1e7, allow_inf_nan=False)]
Degrees = Annotated[float, Field(ge=-360, le=360, allow_inf_nan=False)]
Place = Annotated[tuple[Coordinate, Coordinate, Coordinate], BeforeValidator(_triple), Strict(False)]
Places = Annotated[tuple[Place, ...], Strict(False)]
Name = Annotated[str, Field(min_length=1, max_length=80), AfterValidator(_clean)]
Tag = Annotated[
    str, Field(max_length=40, json_schema_extra={"pattern": _TAG.pattern}), AfterValidator(_lower_case_word)
]
Tags = Annotated[tuple[Tag, ...], Strict(False), BeforeValidator(one_or_more, json_schema_input_type=Tag | list[Tag])]
Count = Annotated[int, Field(ge=1, le=MOST_PIXELS)]
Few = Annotated[int, Field(ge=1, le=10_000)]
FileBeside = Annotated[
    str, Field(min_length=1, max_length=200), AfterValidator(_clean), AfterValidator(_beside_the_layout)
]
Corner = Literal["bottom left", "bottom right", "top left", "top right"]
