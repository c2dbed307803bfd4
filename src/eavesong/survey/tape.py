"""Lengths as people read them off a tape: ``1.68``, ``"168 cm"``, ``"5 ft 6 in"``, ``"5' 6 1/2\\""``."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, WithJsonSchema

from eavesong.errors import MisfitError
from eavesong.words import METRES

LONGEST = 1000.0
"""Metres: longer than any tape."""

_NUMBER = r"\d+(?:\.\d+)?(?:\s+\d+/\d+)?|\d+/\d+|\.\d+"
_ONE = re.compile(rf"^(-?)\s*({_NUMBER})\s*(m|cm|mm|ft|in)$")
_FEET = re.compile(rf"^(-?)\s*(\d+)\s*(?:ft|')\s*({_NUMBER})\s*(?:in|\")$")
_MARKED = re.compile(rf"^(-?)\s*({_NUMBER})\s*('|\")$")
_BOUND = re.compile(r"[\u2018\u2019\u2032]"), re.compile(r"[\u201c\u201d\u2033]|''")
HOW = 'Write "2.4 m", "240 cm", "7 ft 10 in", or a number in the file\'s units.'


@dataclass(frozen=True)
class Size:
    """A length: a number, and its unit where one was written."""

    number: float
    unit: str | None = None

    def metres(self, units: str) -> float:
        """Metres; ``units`` are those of the file, for a number without a unit."""
        return self.number * METRES[self.unit or units]


def read_size(value: Any) -> Any:
    """The length that ``value`` says, a number or a text; ValueError where it says none."""
    if isinstance(value, Size):
        return value
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise MisfitError("this is no length", f"{HOW}")
    size = _read_text(value) if isinstance(value, str) else Size(float(value))
    if size is None or not math.isfinite(size.number):
        raise MisfitError("this is no length", f"{HOW}")
    return size


def _read_text(text: str) -> Size | None:
    plain = _BOUND[1].sub('"', _BOUND[0].sub("'", text.strip().lower()))
    if found := _FEET.match(plain):
        inches = 12 * int(found[2]) + _number(found[3])
        return Size(-inches if found[1] else inches, "in")
    if found := _ONE.match(plain) or _MARKED.match(plain):
        unit = {"'": "ft", '"': "in"}.get(found[3], found[3])
        return Size(-_number(found[2]) if found[1] else _number(found[2]), unit)
    return None


def _number(text: str) -> float:
    """``6``, ``6.5``, ``1/2`` or ``6 1/2``; not a number where something is divided by nothing."""
    total = 0.0
    for part in text.split():
        over, _, under = part.partition("/")
        total += float(over) / (float(under or 1) or math.nan)
    return total


def _some(size: Size) -> Size:
    if not size.number > 0:
        raise MisfitError("a length must be more than 0", "Write what the tape reads.")
    return _short(size)


def _short(size: Size) -> Size:
    if abs(size.metres("mm")) > LONGEST:
        raise MisfitError("this is longer than 1,000 m", "Check the unit.")
    return size


_SCHEMA = WithJsonSchema({"anyOf": [{"type": "number"}, {"type": "string", "examples": ["2.4 m", "7 ft 10 in"]}]})

Tape = Annotated[Size, BeforeValidator(read_size), AfterValidator(_some), _SCHEMA]
"""A length of more than nothing."""

SignedTape = Annotated[Size, BeforeValidator(read_size), AfterValidator(_short), _SCHEMA]
"""A length that may go the other way."""
