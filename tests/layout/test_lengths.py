"""A foot is 0.3048 m, an inch 0.0254 m: international yard and pound agreement, 1959."""

import pytest

from eavesong.layout.lengths import apart_text, length_text


@pytest.mark.parametrize(
    ("metres", "units", "told"),
    [
        (7.42, "m", "7.4 m"),
        (7.42, "cm", "7.4 m"),
        (0.3048 * 24, "ft", "24 ft"),
        (0.3048 * 24 + 0.0254 * 4, "ft", "24 ft 4 in"),
        (0.3048 * 24 + 0.0254 * 11.8, "in", "25 ft"),
        (0.0254 * 7, "ft", "7 in"),
        (0.0254 * 0.5, "ft", "0.5 in"),
        (-0.3048 * 2 - 0.0254 * 6, "ft", "-2 ft 6 in"),
        (0.0, "ft", "0 ft"),
    ],
)
def test_lengths_as_people_write_them(metres: float, units: str, told: str) -> None:
    assert length_text(metres, units) == told


@pytest.mark.parametrize(
    ("metres", "units", "told"),
    [
        (0.05, "m", "0.05 m"),
        (0.001, "cm", "0.001 m"),
        (1.0, "m", "1.0 m"),
        (0.1666, "m", "0.167 m"),
        (0.0254 * 3.94, "ft", "3.94 in"),
        (0.0254 * 0.1, "in", "0.1 in"),
        (0.3048 * 2, "ft", "2 ft"),
    ],
)
def test_short_distances_are_never_told_as_none(metres: float, units: str, told: str) -> None:
    assert apart_text(metres, units) == told
