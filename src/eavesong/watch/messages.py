"""What pages may say: a few short messages, each looked at before anything is done with it."""

from __future__ import annotations

import json
import math
import re
from dataclasses import dataclass
from typing import Any

from eavesong.watch.edits import Turned

MOST_BLOCKS = 64
"""Blocks that a page may want at once: half a minute."""
FURTHEST = 10_000_000

KNOB = re.compile(r"parameters\.\w{1,80}(\.(from|to))?|palette(\.\d{1,2})?|opacity|fade_in|fade_out")
LONGEST_NAME = 80
COLOUR = re.compile(r"#[0-9a-fA-F]{6}")
ORDERS = ("keep", "letgo", "undo")


class Misread(ValueError):  # noqa: N818
    """A message that no page of ours sends."""


@dataclass(frozen=True)
class Look:
    """What a page looks at: the block that is heard, those it wants, and whether of the version before."""

    at: int
    blocks: tuple[int, ...]
    before: bool
    frame: int = -1
    """The frame that is seen, where the song stands still; -1 where it plays."""


def read_message(text: str) -> Look | Turned | str:
    """A message as a value; one of ORDERS stays a word. Raises Misread for anything else."""
    try:
        message = json.loads(text)
    except (ValueError, RecursionError):
        raise Misread from None
    if not isinstance(message, dict):
        raise Misread
    match message.get("do"):
        case "look":
            return _look(message)
        case "turn":
            return _turn(message)
        case str(word) if word in ORDERS:
            return word
    raise Misread


def _look(message: dict[str, Any]) -> Look:
    blocks, before = message.get("blocks"), message.get("before")
    if not isinstance(blocks, list) or len(blocks) > MOST_BLOCKS or not isinstance(before, bool):
        raise Misread
    wanted, frame = tuple(_count(index) for index in blocks), message.get("frame", -1)
    return Look(_count(message.get("at")), wanted, before, _count(frame, -1))


def _turn(message: dict[str, Any]) -> Turned:
    knob, value, cue = message.get("knob"), message.get("value"), message.get("cue")
    if not isinstance(knob, str) or not KNOB.fullmatch(knob):
        raise Misread
    if isinstance(value, str):
        named = knob == "palette" and 0 < len(value) <= LONGEST_NAME and value.isprintable()
        if not named and (knob == "palette" or not COLOUR.fullmatch(value)):
            raise Misread
        return Turned(_count(cue, -1), knob, value)
    number = isinstance(value, int | float) and not isinstance(value, bool) and knob != "palette"
    if not number or abs(value) > 1e9 or not math.isfinite(value):  # type: ignore[arg-type]
        raise Misread
    return Turned(_count(cue, -1), knob, float(value))  # type: ignore[arg-type]


def _count(value: Any, least: int = 0) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= FURTHEST:
        raise Misread
    return value
