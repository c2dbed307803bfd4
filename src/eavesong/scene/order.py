"""The order: everything that a person asked for, as one value.

It is written into the frames file as text and read back from there, so that whatever is made of those frames later
(a batch, a retarget, a preview, a report) still knows what was asked, and keeps it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any, Self

from eavesong.errors import FramesError, Problem, ShowError

FASTEST = 240.0
"""Frames a second, at most: far above what pixels or eyes follow."""


@dataclass(frozen=True, kw_only=True)
class Terms:
    """How a show is to be rendered: what a person may ask for besides the show, the house and the song."""

    frame_rate: float = 40.0
    """Frames a second, 1 to 240."""
    start: float | None = None
    """Seconds of the song at which the frames begin; its beginning where None."""
    stop: float | None = None
    """Seconds of the song before which they end; its end where None."""
    props: tuple[str, ...] = ()
    """Names or tags of the props that are computed, the others stay dark; all where empty."""
    limit: tuple[str, ...] = ()
    """What supplies, outputs or the house may draw: ``supply``, ``output:4A``, ``house:1500W``."""
    soften: bool = False
    """Whether contrast shrinks where there would be more than three flashes in a second."""

    def __post_init__(self) -> None:
        for name in ("props", "limit"):
            given = getattr(self, name)
            object.__setattr__(self, name, (given,) if isinstance(given, str) else tuple(given))
        for name in ("frame_rate", "start", "stop"):
            if (number := getattr(self, name)) is not None:
                object.__setattr__(self, name, float(number))

    @property
    def terms(self) -> Terms:
        """The terms alone."""
        return Terms(**{field.name: getattr(self, field.name) for field in fields(Terms)})

    @property
    def whole(self) -> bool:
        """Whether the frames are those of every prop, as effects make them: nothing left out, dimmed or softened."""
        return not (self.props or self.limit or self.soften)

    def in_words(self) -> str:
        """What differs from the usual, in words; empty where nothing does."""
        return "; ".join(_words(name, self) for name in Terms()._apart(self))

    @property
    def part(self) -> str:
        """Which props, and which time of the song, are asked for, in words; empty for all."""
        return Terms(start=self.start, stop=self.stop, props=self.props).in_words()

    def differences(self, other: Terms) -> tuple[str, ...]:
        """What ``other`` asks for and these terms do not, or the other way round, in words; empty for equal terms."""
        return tuple(f"{_words(name, self)}, now {_words(name, other)}" for name in self._apart(other))

    def _apart(self, other: Terms) -> Iterator[str]:
        if self.frame_rate != other.frame_rate:
            yield "frame_rate"
        if (self.start or None, self.stop) != (other.start or None, other.stop):
            yield "span"
        for name in ("props", "limit"):
            if sorted(getattr(self, name)) != sorted(getattr(other, name)):
                yield name
        if self.soften != other.soften:
            yield "soften"

    def frame_range(self, duration: float) -> tuple[int, int]:
        """First frame and number of frames of a song of ``duration`` seconds; ShowError where there are none.

        Frame k is shown at k / frame_rate seconds; the range holds every frame from ``start`` up to but not including
        ``stop``.
        """
        fps = self.frame_rate
        if not (math.isfinite(fps) and 1.0 <= fps <= FASTEST):
            raise ShowError(Problem("frame rate", "", f"{fps:g} frames a second", f"Choose from 1 to {FASTEST:g}."))
        begin = max(0.0, self.start or 0.0)
        end = duration if self.stop is None else min(self.stop, duration)
        if not begin < end:
            raise _no_frames(begin, end, duration)
        # A millionth of a frame mends decimal seconds that are a hair off in binary.
        first = math.ceil(begin * fps - 1e-6)
        count = math.ceil(end * fps - 1e-6) - first
        if count <= 0:
            raise _no_frames(begin, end, duration)
        return first, count


def _no_frames(begin: float, end: float, duration: float) -> ShowError:
    found = f"there are no frames between {begin:g} s and {end:g} s of a song of {duration:.1f} s"
    return ShowError(Problem("time range", "", found, "Choose a start before the end, inside the song."))


def _words(name: str, terms: Terms) -> str:
    """One of the terms in words: ``limit house:150W``, ``the whole song``, ``not softened``."""
    if name == "frame_rate":
        return f"{terms.frame_rate:g} frames a second"
    if name == "span":
        if not terms.start and terms.stop is None:
            return "the whole song"
        end = f" to {terms.stop:g} s" if terms.stop is not None else " s on"
        return f"from {terms.start or 0:g}{end}"
    if name == "soften":
        return "softened" if terms.soften else "not softened"
    named = ", ".join(getattr(terms, name))
    if name == "props":
        return f"only {named}" if named else "all props"
    return f"limit {named}" if named else "no limit"


@dataclass(frozen=True)
class Order(Terms):
    """A show on a house to a song, and the terms: all that ``render`` is given."""

    show: str
    """The show file; a path as the person wrote it. Likewise ``layout`` and ``song``."""
    layout: str
    song: str | None = None
    """Another song than the one the show names."""

    def __post_init__(self) -> None:
        super().__post_init__()
        for name in ("show", "layout", "song"):
            if (path := getattr(self, name)) is not None:
                object.__setattr__(self, name, str(path))

    @classmethod
    def of(cls, show: str | Path, layout: str | Path, song: str | Path | None = None, **terms: Any) -> Self:
        """An order with paths of any kind."""
        return cls(str(show), str(layout), None if song is None else str(song), **terms)

    def on(self, terms: Terms) -> Self:
        """The same show, house and song on other ``terms``."""
        return replace(self, **{field.name: getattr(terms, field.name) for field in fields(Terms)})


FILES = ("show", "layout", "song")
KEYS = {"start": "from", "stop": "to"}
"""Names of terms in texts that differ from those in Python."""


def order_text(order: Order) -> str:
    """The order as TOML, as frames files hold it; what is as usual is left out."""
    usual = Terms()
    rows = [(name, getattr(order, name)) for name in FILES]
    rows += [(KEYS.get(field.name, field.name), getattr(order, field.name)) for field in fields(Terms)
             if field.name == "frame_rate" or getattr(order, field.name) != getattr(usual, field.name)]  # fmt: skip
    return "".join(f"{key} = {_toml(value)}\n" for key, value in rows if value is not None)


def _toml(value: Any) -> str:
    import json

    if isinstance(value, tuple):
        return f"[{', '.join(map(_toml, value))}]"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    return str(value).lower() if isinstance(value, bool) else repr(value)


def parse_order(text: str, name: str) -> Order:
    """The order in a text that ``order_text`` wrote; FramesError where it holds anything else.

    name: of the frames file that the text stands in.
    """
    from eavesong.files import parse_toml

    tables = parse_toml(text, name, FramesError)
    kinds: dict[str, Any] = {"show": str, "layout": str, "song": str, "frame_rate": float, "from": float, "to": float,
                             "props": list, "limit": list, "soften": bool}  # fmt: skip
    wrong = [key for key, value in tables.items() if not _fits(value, kinds.get(key))]
    wrong += [key for key in ("show", "layout", "frame_rate") if key not in tables]
    if wrong:
        problem = Problem(name, f"/texts/order, {wrong[0]}", "is not what an order holds", "Render the frames again.")
        raise FramesError(problem)
    names = {key: name for name, key in KEYS.items()}
    return Order(**{names.get(key, key): value for key, value in tables.items()})


def _fits(value: Any, kind: type | None) -> bool:
    if kind is list:
        return isinstance(value, list) and all(isinstance(each, str) for each in value)
    if kind is float:
        return isinstance(value, float) and math.isfinite(value)
    return kind is not None and isinstance(value, kind)


def kept_on(earlier: Terms, asked: Terms, said: Sequence[str] = ()) -> Terms:
    """``asked``, but within the limit and the softening that ``earlier`` frames had, unless ``said`` names them.

    What keeps people and wires safe is lifted only by somebody who says so.
    """
    changes: dict[str, Any] = {}
    if earlier.limit and "limit" not in said and not asked.limit:
        changes["limit"] = earlier.limit
    if earlier.soften and "soften" not in said and not asked.soften:
        changes["soften"] = True
    return replace(asked.terms, **changes)
