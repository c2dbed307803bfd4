"""Moments of a song as people say them: clock, bar and the cues that are lit, from what a frames file was made of."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.errors import EavesongError
from eavesong.words import clock_text

if TYPE_CHECKING:
    from eavesong.layout import Layout
    from eavesong.music import BeatGrid
    from eavesong.show import PlacedCue


@dataclass(frozen=True)
class Moment:
    """A moment of the song."""

    seconds: float
    clock: str
    """``1:02.50``."""
    bar: str
    """``17.3``: bar and beat, from 1; empty where no beats are known."""
    cues: tuple[str, ...]
    """The cues that are lit, the topmost first."""

    def __str__(self) -> str:
        bar = f", bar {self.bar}" if self.bar else ""
        cues = f", {', '.join(self.cues[:3])}" if self.cues else ""
        more = f" and {len(self.cues) - 3} more" if len(self.cues) > 3 else ""
        return f"{self.clock}{bar}{cues}{more}"


class Song:
    """Names moments. Texts that are missing or cannot be read any more leave moments without bars or cues."""

    def __init__(self, texts: Mapping[str, str], layout: Layout, duration: float) -> None:
        self.texts, self.layout, self.duration = texts, layout, duration

    @cached_property
    def grid(self) -> BeatGrid | None:
        """The beats the frames were made to."""
        from eavesong.music import BeatGrid, Section
        from eavesong.music.kinds import label_and_kind

        try:
            beats = [line.split() for line in self.texts.get("beats", "").splitlines()]
            sections = [line.split(maxsplit=2) for line in self.texts.get("sections", "").splitlines()]
            return BeatGrid(
                tuple(float(time) for time, _ in beats),
                tuple(int(position) for _, position in beats),
                tuple(Section(float(start), float(end), *label_and_kind(label)) for start, end, label in sections),
                self.duration,
            )
        except (ValueError, EavesongError):
            return None

    @cached_property
    def cues(self) -> tuple[PlacedCue, ...]:
        """The cues of the show, placed on the layout; none where they cannot be placed."""
        from pydantic import ValidationError

        from eavesong.language import parse_effect
        from eavesong.show import Show, place_cues
        from eavesong.show.model import ShowFile, light_of

        if self.grid is None or "show" not in self.texts:
            return ()
        try:
            file = ShowFile.model_validate(tomllib.loads(self.texts["show"]))
            effects = {
                name.removeprefix("effect "): parse_effect(text, name.removeprefix("effect "), name)
                for name, text in self.texts.items()
                if name.startswith("effect ")
            }
            palettes = {name: light_of(stops) for name, stops in file.palettes.items()}
            show = Show(file.title, "", self.texts["show"], None, None, None, palettes, file.cues, effects)
            return place_cues(show, self.layout, self.grid)
        except (EavesongError, ValidationError, tomllib.TOMLDecodeError, KeyError):
            return ()

    def moment(self, seconds: float, end: float | None = None, pixels: NDArray[np.bool_] | None = None) -> Moment:
        """The moment at ``seconds``, with the cues that are lit from then until ``end``, on ``pixels`` (n,)."""
        from eavesong.show.timeline import bar_text

        bar = bar_text(seconds, self.grid) if self.grid is not None else ""
        lit = [cue.name for cue in reversed(self.cues) if _is_lit(cue, seconds, end or seconds, pixels)]
        return Moment(seconds, clock_text(seconds), bar, tuple(lit))


def _is_lit(cue: PlacedCue, start: float, end: float, pixels: NDArray[np.bool_] | None) -> bool:
    if not any(span.start <= end and start < span.end for span in cue.spans):
        return False
    return bool(cue.weight.any() if pixels is None else (cue.weight[pixels] > 0).any())
