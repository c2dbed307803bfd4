"""How the rows of the picture of a song are laid out: where in a row each part begins, and how tall it is."""

from __future__ import annotations

# What lies in a row, from its top down: where each begins and how tall it is.
PARTS, NUMBERS, TICKS = (0, 18), (18, 16), (34, 10)
WAVE, BANDS = (46, 84), (132, 96)
STROKES, LEAD, SPANS = (231, 27), (260, 26), (288, 10)
SURENESS, TIMES = (300, 7), (309, 16)
ROW = 344
"""From row to row."""
