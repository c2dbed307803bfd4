"""House coordinates, turns, seeds and footprints."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from eavesong.layout import layout_from_points
from eavesong.layout.coordinates import STEPPED, _mix_bits, rotation, seeds

degrees = st.floats(-180, 180)


@given(x=degrees, y=degrees, z=degrees)
def test_rotation_is_z_then_x_then_y(x, y, z):
    # scipy: capital letters turn about the axes of the body, so the last named is applied first to a point.
    assert rotation(x, y, z) == pytest.approx(Rotation.from_euler("YXZ", [y, x, z], degrees=True).as_matrix())


def test_a_positive_x_leans_towards_the_street_and_a_positive_y_turns_to_the_right():
    assert rotation(90, 0, 0) @ [0, 1, 0] == pytest.approx([0, 0, 1])
    assert rotation(0, 90, 0) @ [0, 0, 1] == pytest.approx([1, 0, 0])
    assert rotation(0, 0, 90) @ [1, 0, 0] == pytest.approx([0, 1, 0])


def test_the_house_frame_is_the_box_around_all_pixels():
    pixels = layout_from_points([[2, 1, -3], [4, 1, 5], [3, 3, 1]]).pixels
    assert pixels.x.tolist() == [0, 1, 0.5]
    assert pixels.y.tolist() == [0, 0, 1]
    assert pixels.z.tolist() == [0, 1, 0.5]
    assert pixels.Z.tolist() == [0, 8, 4]


def test_a_flat_house_lies_in_the_middle_of_its_flat_axis():
    layout = layout_from_points([[0, 0, 7], [1, 2, 7]])
    assert layout.pixels.z.tolist() == [0.5, 0.5]
    assert layout.frame.size[2] == 0
    assert not layout.pixels.step["z"].any()


def test_a_single_pixel_is_in_the_middle_of_everything():
    layout = layout_from_points([[5, 5, 5]])
    assert [float(getattr(layout.pixels, name)[0]) for name in ("x", "y", "z", "u", "px", "py")] == [0.5] * 6
    assert all(layout.pixels.step[name][0] == 0 and layout.pixels.across[name][0] == 0 for name in STEPPED)


def test_pixels_of_an_explicit_frame_keep_their_places():
    frame = ([0, 0, 0], [10, 5, 2])
    alone = layout_from_points([[4, 1, 1]], frame=frame).pixels
    among = layout_from_points([[9, 5, 0], [4, 1, 1]], frame=frame).pixels
    assert alone.x[0] == among.x[1] == pytest.approx(0.4)
    assert alone.seed[0] == among.seed[1]


def test_turn_grows_counter_clockwise_seen_from_above_from_the_street(layout_of):
    pixels = layout_of(
        '[[prop]]\nname = "post"\nshape = "helix"\nheight = 0.001\nbase = 2\nturns = 1\npixels = 8'
    ).pixels
    assert pixels.turn == pytest.approx((np.arange(8) + 0.5) / 8, abs=1e-6)
    right = pixels.X > 1.5
    assert (np.abs(pixels.turn[right] - 0.25) < 0.15).all(), "a quarter turn on is to the right"
    assert pixels.step["turn"] == pytest.approx([1 / 8] * 8, abs=1e-6)


def test_turn_is_told_from_the_street_even_when_the_prop_is_turned(layout_of):
    text = '[[prop]]\nname = "post"\nshape = "cone"\nheight = 1\nbase = 2\ntop = 2\nstrings = 4\npixels = 1\n'
    straight, turned = layout_of(text).pixels, layout_of(text + "rotate = { y = 90 }\n").pixels
    assert straight.turn.tolist() == [0.625, 0.875, 0.125, 0.375]
    assert turned.turn.tolist() == [0.875, 0.125, 0.375, 0.625]
    assert np.sin(2 * np.pi * turned.turn) == pytest.approx(2**0.5 * (turned.x - 0.5), abs=1e-6)


def test_a_straight_wire_is_tiled_by_its_footprints(layout_of):
    pixels = layout_of('[[prop]]\nname = "eaves"\nshape = "line"\nto = [6, 0]\npixels = 30').pixels
    assert pixels.step["along"] == pytest.approx([0.2] * 30)
    assert pixels.step["X"] == pytest.approx([0.2] * 30)
    assert pixels.step["u"] == pytest.approx([1 / 30] * 30)
    assert pixels.step["px"] == pytest.approx([1 / 30] * 30)
    ends = pixels.u + pixels.step["u"] / 2
    assert ends[:-1] == pytest.approx((pixels.u - pixels.step["u"] / 2)[1:])
    assert (ends[-1], pixels.u[0] - pixels.step["u"][0] / 2) == pytest.approx((1, 0))


PROPS = {
    "arch": "width = 3\nheight = 2\npixels = 41\nnested = 3\ngap = 0.2",
    "cone": "height = 3\nbase = 2\nstrings = 7\npixels = 11",
    "grid": "columns = 9\nrows = 5\nwidth = 3\nheight = 2",
    "helix": "height = 3\nbase = 1\nturns = 5\npixels = 60",
    "icicles": "width = 3\ndrops = 9\nlengths = [0.3, 0.5]\npitch = 0.1",
    "star": "outer = 1\ninner = 0.4\npixels = 33",
}


@pytest.mark.parametrize(("shape", "sizes"), PROPS.items())
def test_every_wire_is_tiled_by_its_footprints(layout_of, shape, sizes):
    layout = layout_of(f'[[prop]]\nname = "it"\nshape = "{shape}"\n{sizes}\nrotate = {{ x = 20, y = 30 }}')
    pixels = layout.pixels
    assert pixels.step["along"].sum() == pytest.approx(layout.props[0].length, rel=1e-3)
    assert pixels.step["u"].sum() == pytest.approx(1, rel=1e-5)
    assert pixels.u == pytest.approx((np.arange(layout.pixel_count) + 0.5) / layout.pixel_count)


def test_a_grids_footprints_are_its_cells(layout_of):
    text = '[[prop]]\nname = "g"\nshape = "grid"\ncolumns = 4\nrows = 3\nwidth = 8\nheight = 3\n'
    pixels = layout_of(text).pixels
    assert np.abs(pixels.step["X"]) == pytest.approx(2)
    assert pixels.step["X"][4] == pytest.approx(-2), "the second row runs back"
    assert not pixels.step["Y"].any()
    assert pixels.across["Y"] == pytest.approx([1] * 12)
    assert not pixels.across["u"].any()
    assert pixels.px[:4] == pytest.approx([0.125, 0.375, 0.625, 0.875])


def test_steps_do_not_reach_from_prop_to_prop():
    pixels = layout_from_points({"a": [[0, 0, 0], [1, 0, 0]], "b": [[100, 0, 0], [103, 0, 0]]}).pixels
    assert pixels.step["X"].tolist() == [1, 1, 3, 3]


def test_seeds_belong_to_places_not_to_houses():
    rng = np.random.default_rng(1)
    places = rng.random((500, 3)) * [9, 4, 6]
    corners = [[0, 0, 0], [9, 4, 6]]
    here = layout_from_points([*corners, *places]).pixels
    there = layout_from_points([*corners, *places[::-1]]).pixels
    larger = layout_from_points(np.array([*corners, *places]) * 3.7).pixels
    assert here.seed[2:].tolist() == there.seed[:1:-1].tolist() == larger.seed[2:].tolist()


def test_pixels_hardly_ever_share_a_seed():
    """Of n numbers of k kinds about n² / 2k pairs are alike: 1.07 of 6,000 with 24 bits (275 with 16 bits)."""
    values = seeds(np.random.default_rng(3).random((6_000, 3)))
    assert (
        len(np.unique(values)) >= 6_000 - 8
    )  # more than 8 pairs of 1.07 expected: less than once in 100,000 (Poisson)
    assert len(np.unique(values.astype(np.float32))) == len(np.unique(values))


def test_seeds_are_uniform_multiples_of_two_to_the_minus_24():
    from scipy import stats

    rng = np.random.default_rng(2)
    values = seeds(rng.random((20_000, 3)))
    assert (values * 2**24 == np.floor(values * 2**24)).all()
    assert 0 <= values.min() < values.max() < 1
    assert stats.kstest(values, "uniform").pvalue > 0.01
    row = seeds(np.stack([np.linspace(0, 1, 4000), np.full(4000, 0.5), np.zeros(4000)], axis=1))
    assert abs(np.corrcoef(row[:-1], row[1:])[0, 1]) < 0.05, "neighbours do not resemble each other"


def test_bits_are_mixed_as_murmurhash3_does():
    # MurmurHash3_x86_32 of the empty text is the finaliser of its seed; published test vectors (from memory).
    mixed = _mix_bits(np.array([0, 1, 0xFFFFFFFF], dtype=np.uint32))
    assert [hex(value) for value in mixed.tolist()] == ["0x0", "0x514e28b7", "0x81f16f39"]


@pytest.mark.parametrize("zigzag", ["true", "false"])
def test_strings_of_a_cone_are_a_share_of_a_turn_apart(layout_of, zigzag):
    text = f'[[prop]]\nname = "t"\nshape = "cone"\nheight = 2\nbase = 2\nstrings = 9\npixels = 6\nzigzag = {zigzag}\n'
    pixels = layout_of(text).pixels
    assert pixels.across["turn"] == pytest.approx([1 / 9] * 54, abs=1e-6)
    assert pixels.across["Y"] == pytest.approx([0] * 54, abs=1e-6)
    assert np.abs(pixels.step["Y"]) == pytest.approx([2 / 6] * 54, abs=1e-6)
