"""The numbers of WCAG 2.2 SC 2.3.1 by which flashes are counted (see ``flash``)."""

from __future__ import annotations

LIMIT = 6
"""Changes in a second that pass: three flashes (WCAG 2.2 technique G19: six pass, seven fail)."""

STEP = 0.1
"""Change of relative luminance that counts: 10 % of the maximum (WCAG 2.2, general flash)."""

BRIGHT = 0.8
"""A change counts only where its darker state is below this (WCAG 2.2, general flash)."""

SATURATED = 0.8
"""Least R/(R+G+B), linear, of a saturated red (WCAG 2.2, red flash)."""

RED_STEP = 0.2
"""Distance in CIE 1976 u'v' that counts where one of the states is a saturated red (WCAG 2.2, red flash)."""

DARK = 0.02
"""R+G+B below which a light has no colour and is taken as neutral: five steps of 255. So red that goes on and off
changes between red and neutral; the stricter reading, as the standard says nothing of black."""

NEUTRAL_U, NEUTRAL_V = 0.1978, 0.4683
"""u'v' of the sRGB white."""
