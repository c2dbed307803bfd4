"""The sketch of a song: what events are found in, whatever its beats are. It is kept with the signals.

Strokes and the lead are heard in the sound itself; hits, stops, fills and builds follow from it once the beats are
known, so a text of beats that is mended mends them too.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from eavesong.music.blocks import in_blocks
from eavesong.music.lead import LeadNote, find_lead
from eavesong.music.novelty import running_mean
from eavesong.music.strokes import STROKES, Strokes, find_strokes

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from eavesong.music.bands import Powers

    Halves = NDArray[np.float16]

FAINTEST = -90.0
"""Decibels of full scale taken as silence."""
USUAL = 800
"""Frames around each over which a band's usual level is taken."""
AT_ONCE = 1 << 14
"""Frames taken together."""
FARTHEST = 1.5
"""Powers of ten by which a band may stand out and count."""


@dataclass(frozen=True, eq=False)
class Sketch:
    """What a song does, a hundred times a second and stroke by stroke."""

    level: Halves
    """(f,): how loud it is, K-weighted, in decibels of full scale; -90 for silence."""
    rise: Halves
    """(f,): how much begins, over all bands, in powers of ten."""
    standing: Halves
    """(f,): how far the sound stands above the usual of the seconds around, over all bands, in powers of ten."""
    strokes: Mapping[str, Strokes]
    """By kind: low, middle, high."""
    lead: tuple[LeadNote, ...]


def sketch_of(powers: Powers, fine: Halves, tones: NDArray[np.uint8]) -> Sketch:
    """The sketch of a song from its powers, its fine bands (f, 64) and its tones (g, 176)."""
    from eavesong.music.signals import rises

    level = 10 * np.log10(np.maximum(powers.weighted, 10 ** (FAINTEST / 10)))
    rise = rises(powers.bands).astype(np.float16)
    return Sketch(level.astype(np.float16), rise, _standing(fine), find_strokes(fine), find_lead(tones))


def _standing(fine: Halves) -> Halves:
    """How far each frame (f,) stands above the mean and one standard deviation of its surroundings, over the bands."""

    def above(rows: slice) -> NDArray[np.float16]:
        """How far bands (rows, bands) stand above what is usual around them, (rows,), in spreads."""
        level = fine[rows].astype(np.float32)
        mean = running_mean(level, USUAL)
        spread = np.sqrt(np.maximum(running_mean(level**2, USUAL) - mean**2, 0.0))
        return np.asarray(np.clip(level - mean - spread, 0.0, FARTHEST).mean(axis=1).astype(np.float16))

    return in_blocks(len(fine), AT_ONCE, USUAL // 2, above)


def kept_sketch(sketch: Sketch) -> dict[str, Any]:
    """The sketch as arrays by name, for keeping."""
    entries: dict[str, Any] = {"level": sketch.level, "rise": sketch.rise, "standing": sketch.standing}
    for kind, strokes in sketch.strokes.items():
        entries[f"{kind}_strokes"] = np.stack([strokes.times, strokes.strengths])
    entries["lead"] = np.array([(note.start, note.end, note.pitch) for note in sketch.lead]).reshape(-1, 3)
    return entries


def sketch_kept(entries: Mapping[str, Any]) -> Sketch:
    """The sketch in arrays that `kept_sketch` made; KeyError where one is missing."""
    strokes = {kind: Strokes(*entries[f"{kind}_strokes"]) for kind in STROKES}
    lead = tuple(LeadNote(float(start), float(end), int(pitch)) for start, end, pitch in entries["lead"])
    return Sketch(entries["level"], entries["rise"], entries["standing"], strokes, lead)
