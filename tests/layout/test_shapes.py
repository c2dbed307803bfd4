"""Shapes against closed forms: perimeters, spacing, places known by geometry."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.special import ellipe

from eavesong.layout import shapes
from eavesong.layout.wire import MOST_PIXELS, Wire

sizes = st.floats(0.1, 30)
counts = st.integers(1, 300)


def gaps(wire: Wire) -> np.ndarray:
    """Straight distances between neighbours on the wire."""
    return np.linalg.norm(np.diff(wire.points, axis=0), axis=1)


def ellipse_perimeter(width: float, height: float) -> float:
    """4 a E(m), m = 1 - (b/a)^2: complete elliptic integral of the second kind (DLMF 19.9.9)."""
    a, b = max(width, height) / 2, min(width, height) / 2
    return 4 * a * float(ellipe(1 - (b / a) ** 2))


def test_a_line_is_shared_out_evenly():
    wire = shapes.line((0, 0, 0), (3, 4, 0), pixels=5, pitch=None)
    assert wire.length == pytest.approx(5)
    assert wire.along == pytest.approx([0.5, 1.5, 2.5, 3.5, 4.5])
    assert wire.points[0] == pytest.approx([0.3, 0.4, 0])
    assert gaps(wire) == pytest.approx([1] * 4)


@pytest.mark.parametrize(("pitch", "pixels"), [(0.5, 20), (0.3, 33), (4, 3), (1000, 1)])
def test_a_pitch_gives_the_nearest_whole_number_of_pixels(pitch, pixels):
    assert len(shapes.line((0, 0, 0), (10, 0, 0), None, pitch).points) == pixels


def test_a_polyline_turns_its_corners_without_losing_length():
    wire = shapes.polyline([(0, 0, 0), (2, 0, 0), (2, 1, 0)], closed=False, pixels=3, pitch=None)
    assert wire.points == pytest.approx(np.array([[0.5, 0, 0], [1.5, 0, 0], [2, 0.5, 0]]))
    closed = shapes.polyline([(0, 0, 0), (3, 0, 0), (0, 4, 0)], closed=True, pixels=12, pitch=None)
    assert closed.length == pytest.approx(3 + 4 + 5)


@given(width=sizes, height=sizes, pixels=counts)
def test_an_arch_is_half_an_ellipse(width, height, pixels):
    wire = shapes.arch(width, height, pixels, None)
    assert wire.length == pytest.approx(ellipse_perimeter(width, 2 * height) / 2, rel=1e-5)
    assert (wire.points[:, 0] / (width / 2)) ** 2 + (wire.points[:, 1] / height) ** 2 == pytest.approx(1, rel=1e-5)
    assert (wire.points[:, 1] > 0).all()


def test_an_ellipse_agrees_with_ramanujans_second_approximation():
    # Ramanujan 1914: pi (a + b) (1 + 3h / (10 + sqrt(4 - 3h))), h = ((a - b)/(a + b))^2.
    a, b = 1.5, 0.9
    h = ((a - b) / (a + b)) ** 2
    perimeter = math.pi * (a + b) * (1 + 3 * h / (10 + math.sqrt(4 - 3 * h)))
    assert shapes.ring(2 * a, 2 * b, 40, None).length == pytest.approx(perimeter, rel=1e-6)


@given(radius=sizes, pixels=st.integers(2, 300))
def test_pixels_on_a_round_arch_stand_at_equal_angles(radius, pixels):
    wire = shapes.arch(2 * radius, radius, pixels, None)
    chord = 2 * radius * math.sin(math.pi / pixels / 2)
    assert gaps(wire) == pytest.approx(chord, rel=1e-5)


@pytest.mark.parametrize(("start", "x"), [("left", -1), ("right", 1)])
def test_an_arch_begins_at_the_foot_that_is_named(start, x):
    assert np.sign(shapes.arch(2, 1, 9, None, start=start).points[0, 0]) == x


def test_nested_arches_stand_inside_each_other_and_are_wired_there_and_back():
    wire = shapes.arch(2, 1, 10, None, nested=2, gap=0.25)
    outer, inner = wire.points[:10], wire.points[10:]
    assert np.hypot(*outer[:, :2].T) == pytest.approx([1] * 10, rel=1e-5)
    assert np.hypot(*inner[:, :2].T) == pytest.approx([0.75] * 10, rel=1e-5)
    assert outer[-1, 0] > 0
    assert inner[0, 0] > 0, "the second arch begins where the first one ended"
    assert wire.after[0] == 19
    assert wire.before[19] == 0


def test_nested_arches_must_fit():
    with pytest.raises(ValueError, match=r"5 curves 0\.3 apart do not fit into each other"):
        shapes.arch(2, 1, 10, None, nested=5, gap=0.3)


@pytest.mark.parametrize(
    ("start", "clockwise", "first"),
    [("top", True, (0.5, 1)), ("top", False, (-0.5, 1)), ("bottom", True, (-0.5, -1)), ("left", True, (-1, 0.5)),
     ("right", False, (1, 0.5))],
)  # fmt: skip
def test_a_ring_begins_where_it_is_told(start, clockwise, first):
    wire = shapes.ring(2, 2, 8, None, start=start, clockwise=clockwise)
    assert np.sign(wire.points[0, :2]) == pytest.approx(np.sign(first))
    assert wire.length == pytest.approx(2 * math.pi, rel=1e-6)


@pytest.mark.parametrize(
    ("start", "clockwise", "corners"),
    [
        ("bottom left", True, [(-1, 0), (-1, 1), (1, 1), (1, 0)]),
        ("bottom left", False, [(-1, 0), (1, 0), (1, 1), (-1, 1)]),
        ("top right", True, [(1, 1), (1, 0), (-1, 0), (-1, 1)]),
        ("bottom right", False, [(1, 0), (1, 1), (-1, 1), (-1, 0)]),
    ],
)
def test_a_rectangle_goes_round_from_its_corner(start, clockwise, corners):
    # On sides of 2 and 1 with 600 pixels the first pixel after each corner stands within a hundredth of it.
    wire = shapes.rectangle(2, 1, 600, None, start, clockwise)
    assert wire.length == pytest.approx(6)
    first = math.dist(corners[0], corners[1]) * 100
    for pixel, corner in zip((0, first, 300, 300 + first), corners, strict=True):
        assert wire.points[int(pixel), :2] == pytest.approx(corner, abs=0.01)


def test_a_cane_is_a_post_and_half_a_circle():
    wire = shapes.cane(height=1.0, hook=0.4, pixels=200, pitch=None)
    assert wire.length == pytest.approx(0.8 + math.pi * 0.2, rel=1e-6)
    assert wire.points[:, 1].max() == pytest.approx(1.0, abs=1e-3)
    assert wire.points[-1, :2] == pytest.approx([0.4, 0.8], abs=0.01)
    with pytest.raises(ValueError, match="the hook is wider than twice the height"):
        shapes.cane(height=1.0, hook=2.5, pixels=5, pitch=None)


@given(tips=st.integers(2, 40), outer=sizes, share=st.floats(0.05, 0.95))
def test_a_star_has_two_equal_sides_for_each_tip(tips, outer, share):
    inner = outer * share
    side = math.sqrt(outer**2 + inner**2 - 2 * outer * inner * math.cos(math.pi / tips))  # law of cosines
    assert shapes.star(tips, outer, inner, 50, None).length == pytest.approx(2 * tips * side)


def test_a_pentagram_has_straight_lines():
    # In {5/2} the inner radius is 1/phi^2 of the outer one (Coxeter, Regular Polytopes): from the first tip the
    # wire runs straight through the inner corner towards a tip two fifths further on.
    phi = (1 + math.sqrt(5)) / 2
    wire = shapes.star(5, 1.0, 1 / phi**2, 1000, None)
    side = wire.points[:100]
    tip = np.array([0, 1, 0])
    opposite = np.array([math.sin(2 * 2 * math.pi / 5), math.cos(2 * 2 * math.pi / 5), 0])
    assert np.cross(side - tip, opposite - tip) == pytest.approx(0, abs=1e-9)


def test_spokes_point_outwards_from_the_top_round():
    wire = shapes.spokes(arms=4, inner=0, outer=1, pixels=2)
    assert wire.points[:4, :2] == pytest.approx(np.array([[0, 0.25], [0, 0.75], [0.25, 0], [0.75, 0]]))
    assert wire.length == pytest.approx(4)
    assert (wire.before[0], wire.after[6]) == (6, 0), "the last arm lies beside the first"


GRIDS = {
    ("bottom left", "rows", True): "bl br tr tl",
    ("bottom left", "rows", False): "bl br tl tr",
    ("top right", "rows", True): "tr tl bl br",
    ("top left", "columns", True): "tl bl br tr",
    ("bottom right", "columns", False): "br tr bl tl",
}


@pytest.mark.parametrize(("how", "order"), GRIDS.items())
def test_a_grid_follows_its_wiring(how, order):
    start, wiring, zigzag = how
    wire = shapes.grid(2, 2, 2, 2, start, wiring, zigzag)
    places = {"bl": (-0.5, 0.5), "br": (0.5, 0.5), "tl": (-0.5, 1.5), "tr": (0.5, 1.5)}
    assert [tuple(point) for point in wire.points[:, :2]] == [places[name] for name in order.split()]


@given(columns=st.integers(1, 20), rows=st.integers(1, 20), zigzag=st.booleans())
def test_a_grids_cells_tile_it_and_know_who_is_beside(columns, rows, zigzag):
    wire = shapes.grid(columns, rows, width=columns, height=rows, zigzag=zigzag)
    cells = {(round(x + columns / 2 - 0.5), round(y - 0.5)) for x, y, _ in wire.points}
    assert cells == {(column, row) for column in range(columns) for row in range(rows)}
    beside = wire.points[wire.after] - wire.points
    apart = [0.0, 1.0, 0.0]
    assert all(np.allclose(move, apart) or not move.any() for move in beside)


def test_a_cones_strings_lean_from_foot_to_top():
    wire = shapes.cone(height=4, base=6, top=0, strings=4, pixels=10, zigzag=False)
    assert wire.length == pytest.approx(4 * 5), "four strings of 3-4-5 triangles"
    assert gaps(wire)[:9] == pytest.approx([0.5] * 9)
    radius = np.hypot(wire.points[:, 0], wire.points[:, 2])
    assert radius + 0.75 * wire.points[:, 1] == pytest.approx([3] * 40)


def test_half_a_cone_faces_the_street_from_left_to_right():
    wire = shapes.cone(height=1, base=2, top=2, strings=5, pixels=1, turn=180)
    assert (np.diff(wire.points[:, 0]) > 0).all()
    assert (wire.points[:, 2] > 0).all()
    assert wire.points[2] == pytest.approx([0, 0.5, 1])


def test_a_cone_wired_from_the_top_and_back():
    wire = shapes.cone(height=3, base=1, top=1, strings=2, pixels=3, start="top", zigzag=True)
    assert wire.points[:, 1] == pytest.approx([2.5, 1.5, 0.5, 0.5, 1.5, 2.5])


def test_a_helix_on_a_post_unrolls_to_a_straight_line():
    wire = shapes.helix(height=2, base=0.5, top=0.5, turns=7, pixels=120, pitch=None)
    assert wire.length == pytest.approx(math.hypot(2, 7 * math.pi * 0.5), rel=1e-6)
    assert np.diff(wire.points[:, 1]) == pytest.approx([2 / 120] * 119)


def test_a_helix_on_a_tapering_trunk_has_the_length_of_its_integral():
    base, top, height, turns = 0.9, 0.2, 3.0, 9.0

    def speed(share: float) -> float:
        radius, taper = (base + (top - base) * share) / 2, (top - base) / 2
        return math.sqrt(height**2 + taper**2 + (2 * math.pi * turns * radius) ** 2)

    exact, _ = quad(speed, 0, 1)
    wire = shapes.helix(height, base, top, turns, pixels=200, pitch=None)
    assert wire.length == pytest.approx(exact, rel=1e-6)
    assert gaps(wire).std() / gaps(wire).mean() < 0.02


@given(diameter=sizes, rings=st.integers(1, 30), spare=st.integers(0, 400))
def test_a_sphere_shares_its_pixels_out_over_its_rings(diameter, rings, spare):
    wire = shapes.sphere(diameter, rings, rings + spare, None)
    assert len(wire.points) == rings + spare
    assert np.linalg.norm(wire.points, axis=1) == pytest.approx(diameter / 2)
    shares = np.bincount(wire.strand)
    lengths = np.sin(np.pi * (np.arange(rings) + 0.5) / rings)
    assert np.abs(shares - 1 - spare * lengths / lengths.sum()).max() < 1


def test_a_sphere_needs_a_pixel_on_every_ring():
    with pytest.raises(ValueError, match="9 rings need at least 9 pixels, not 8"):
        shapes.sphere(1, 9, 8, None)


def test_icicles_hang_from_their_edge():
    wire = shapes.icicles(width=3, drops=3, lengths=[0.2, 0.4], pitch=0.1)
    assert np.bincount(wire.strand).tolist() == [2, 4, 2]
    assert wire.points[:2] == pytest.approx(np.array([[-1, -0.05, 0], [-1, -0.15, 0]]))
    assert wire.length == pytest.approx(0.8)
    assert wire.points[wire.after[:2]] - wire.points[:2] == pytest.approx(np.array([[1, 0, 0]] * 2))
    assert (wire.after[4], wire.before[4]) == (4, 4), "nothing hangs beside the lower half of the longer drop"


@given(pixels=st.integers(MOST_PIXELS + 1, 10**12))
def test_absurd_counts_are_refused_before_anything_is_made(pixels):
    with pytest.raises(ValueError, match="more than the 2,000,000 a layout may have"):
        shapes.line((0, 0, 0), (1, 0, 0), None, 1 / pixels)
