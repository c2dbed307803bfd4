"""Areas, fields and parts of the view, against plain geometry and the figures of WCAG 2.2."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import films
from eavesong.layout import load_layout
from eavesong.layout.view import Fields, parts_of, pixel_areas
from powered import LINE


@pytest.fixture
def house(tmp_path):
    """Write a layout's text to ``house.toml`` and load it."""

    def load(text=LINE):
        (tmp_path / "house.toml").write_text(text)
        return load_layout(tmp_path / "house.toml")

    return load


def test_the_field_of_ten_degrees():
    # WCAG 2.2 G176: 0.1745 D wide; 2 pi (1 - cos 5 degrees) = 0.0239 sr, a quarter of it 0.006 sr.
    from support import line, points

    layout = points(line(10))
    fields = Fields(layout, np.ones(10), 10.0)
    assert fields.width == pytest.approx(0.1745 * 10, rel=4e-3)
    assert fields.steradians / 4 == pytest.approx(0.006, rel=4e-3)
    assert fields.field_area / 4 == pytest.approx(0.6, rel=4e-3)  # square metres from 10 m


def test_areas_are_pitch_along_by_pitch_across(house):
    wall = LINE.replace('shape = "line"\nto = [10.0, 0.0]\npixels = 100',
                        'shape = "grid"\ncolumns = 10\nrows = 5\nwidth = 2\nheight = 1.5')  # fmt: skip
    assert np.median(pixel_areas(house(wall))) == pytest.approx(0.2 * 0.3, rel=1e-5)
    assert pixel_areas(house()) == pytest.approx(np.full(100, 0.01), rel=1e-4)


@given(st.integers(0, 10_000), st.floats(1, 40))
@settings(max_examples=20)
def test_the_largest_field_is_never_smaller_than_any_field(seed, distance):
    from support import points, scattered

    layout = points(10 * scattered(60, seed), (10, 10, 10))
    areas = np.full(60, 0.01)
    fields = Fields(layout, areas, distance)
    lit = np.random.default_rng(seed).random(60) < 0.5
    x, y = layout.pixels.X, layout.pixels.Y
    for centre in range(0, 60, 7):
        radius = distance * math.tan(math.radians(5))
        inside = np.hypot(x - x[centre], y - y[centre]) <= radius
        assert (
            fields.largest_shares(fields.areas_of(lit[None]))[0]
            >= min(1, areas[lit & inside].sum() / fields.field_area) - 1e-9
        )


def test_a_part_is_the_light_of_its_pixels_over_their_area():
    """Parts of 1.75 m (10 degrees from 10 m) and of half of that, slid by 0.44 m: as many as fit, and their room."""
    layout = films.screen()
    parts, areas = parts_of(layout, 10.0), pixel_areas(layout)
    slide = 20 * math.tan(math.radians(5)) / 4
    for part in range(len(parts)):
        inside = parts.pixels(np.arange(len(parts)) == part)
        x, y = layout.pixels.X[inside], layout.pixels.Y[inside]
        assert max(np.ptp(x), np.ptp(y)) <= 4 * slide + 1e-6
        assert parts.room[part] >= areas[inside].sum() - 1e-9
        rooms = [areas[inside].sum(), *((cells * slide) ** 2 / 4 for cells in (2, 4))]
        assert any(parts.room[part] == pytest.approx(room) for room in rooms)


def test_a_leap_to_the_next_row_is_no_pitch():
    """Rows of a screen wired from left to right each: the last pixel of a row stands for no more than the others."""
    assert pixel_areas(films.screen(22, 10))[:220] == pytest.approx(np.full(220, 0.2 * 0.2), rel=1e-4)


def test_parts_of_the_same_pixels_and_another_size_are_both_looked_at():
    """Eight pixels within 5 degrees: over a quarter of 5 degrees, and over a quarter of 10, four times as large."""
    from support import points

    parts = parts_of(points({"eight": np.stack([np.arange(8) * 0.1, np.zeros(8), np.zeros(8)], axis=1)}), 10.0)
    slide = 20 * math.tan(math.radians(5)) / 4
    assert sorted({round(room, 6) for room in parts.room}) == pytest.approx([slide**2, 4 * slide**2], abs=1e-6)


def test_a_wide_and_empty_view_costs_nothing():
    """Two bulbs 90 km apart, watched from 1 m: four million million squares, of which those that hold one are made."""
    from support import points

    layout = points(np.array([[0, 0, 0], [90_000, 90_000, 0.0]]), (90_000, 90_000, 1))
    parts = parts_of(layout, 1.0)
    assert [int(parts.pixels(np.arange(len(parts)) == part).sum()) for part in range(len(parts))] == [1] * len(parts)
    fields = Fields(layout, np.ones(2), 1.0)
    assert 0 < fields.largest_shares(fields.areas_of(np.ones((1, 2), bool)))[0] <= 1
