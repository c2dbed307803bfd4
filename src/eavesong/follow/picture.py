"""The picture of how light follows: how alike bars look and sound, their light and loudness, and what changes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from eavesong.preview.ink import ACCENT, FAINT, PAPER, QUIET, TEXT, font

if TYPE_CHECKING:
    from eavesong.follow.figures import Followed

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]

SQUARE, GAP, TOP, LEFT = 420, 40, 64, 40
"""Picture elements of each square of likeness, and around it."""
CURVES, LANE = 700, 118
"""Width and height of the curves beside them."""
SOUND = (126, 180, 236)
"""What is heard; what is seen is drawn in the accent's colour."""
GLOW = np.array([PAPER, (44, 40, 92), (150, 70, 110), (236, 140, 80), (253, 231, 170)], np.float64)
"""Colours from unlike to alike."""


def follow_picture(followed: Followed) -> Bytes:
    """sRGB (height, width, 3): two squares of how alike bars look and sound, and curves of what follows what."""
    from PIL import Image, ImageDraw

    width = LEFT + 2 * (SQUARE + GAP) + CURVES + LEFT
    page = Image.new("RGB", (width, TOP + SQUARE + 60), PAPER)
    sound = followed.hearing.of_bars(followed.edges)[0]
    even = (sound - sound.mean(axis=0)) / (sound.std(axis=0) + 1e-6)
    for number, (rows, title) in enumerate(((followed.looks, "bars that look alike"), (even, "bars that sound alike"))):
        left = LEFT + number * (SQUARE + GAP)
        page.paste(Image.fromarray(_square(rows)), (left, TOP))
        _label(page, (left, TOP - 12), title)
    pen = ImageDraw.Draw(page)
    left = LEFT + 2 * (SQUARE + GAP)
    figures = followed.figures
    curves = [
        ("light of each bar", _even(followed.drive), "its loudness", _even(followed.loudness)),
        ("change of light", _peaks(followed.light.change), "what begins", _peaks(followed.hearing.onset)),
        ("change of look from bar to bar", _steps(followed), "", None),
    ]
    for number, (name, values, other, others) in enumerate(curves):
        top = TOP + number * (LANE + 34)
        _curve(pen, (left, top), values, ACCENT)
        if others is not None:
            _curve(pen, (left, top), others, SOUND)
        pen.text((left, top - 12), name, fill=ACCENT, font=font(15), anchor="ls")
        pen.text((left + CURVES, top - 12), other, fill=SOUND, font=font(15), anchor="rs")
    told = [("form", figures.form), ("energy", figures.energy), ("beat", figures.beat), ("accent", figures.accent)]
    words = "   ".join(f"{name} {value:.2f}" for name, value in told if value is not None)
    pen.text(
        (left, TOP + SQUARE + 34), f"{words}   longest {figures.longest} bars", fill=TEXT, font=font(15), anchor="ls"
    )
    pen.text(
        (LEFT, TOP + SQUARE + 34), f"{figures.bars} bars, from the top left on", fill=FAINT, font=font(14), anchor="ls"
    )
    return np.asarray(page, np.uint8)


def _square(rows: Floats) -> Bytes:
    """(SQUARE, SQUARE, 3): every bar against every bar, the brighter the more alike."""
    away = np.sqrt(np.maximum(((rows[:, None] - rows[None]) ** 2).sum(axis=2), 0.0))
    ranks = np.searchsorted(np.sort(away, axis=None), away, side="left") / max(away.size - 1, 1)
    index = (np.arange(SQUARE) * len(rows)) // SQUARE
    alike = (1 - ranks)[index][:, index]
    places = np.linspace(0, 1, len(GLOW))
    shown = np.stack([np.interp(alike, places, GLOW[:, channel]) for channel in range(3)], axis=-1)
    return np.round(shown).astype(np.uint8)


def _even(values: Floats) -> Floats:
    """Values from 0, their least, to 1, their most."""
    low, high = float(values.min()), float(values.max())
    return (values - low) / max(high - low, 1e-9)


def _peaks(values: Floats) -> Floats:
    """The most of each column of a curve, the strongest two in a hundred cut off."""
    edges = np.unique((np.arange(CURVES) * len(values)) // CURVES)
    most = np.maximum.reduceat(values, edges)
    return np.minimum(most / max(float(np.percentile(most, 98)), 1e-9), 1.0)


def _steps(followed: Followed) -> Floats:
    from eavesong.follow.figures import steps_of

    steps: Floats = np.minimum(np.append(0.0, steps_of(followed.looks)), 1.0)
    return steps


def _curve(pen: Any, corner: tuple[int, int], values: Floats, colour: tuple[int, int, int]) -> None:
    left, top = corner
    pen.line((left, top + LANE, left + CURVES, top + LANE), fill=QUIET)
    across = left + np.arange(len(values)) * (CURVES / max(len(values) - 1, 1))
    down = top + LANE * (1 - values)
    pen.line(list(zip(across.tolist(), down.tolist(), strict=True)), fill=colour)


def _label(page: Any, at: tuple[int, int], words: str) -> None:
    from PIL import ImageDraw

    ImageDraw.Draw(page).text(at, words, fill=TEXT, font=font(15), anchor="ls")
