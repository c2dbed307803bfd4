"""The size of a house, against what houses measure: lengths in another unit are told with the unit they are in."""

import pytest

from eavesong.errors import LayoutError
from eavesong.layout.size import doubt_of_size, likely_units, misfit_of_size, units_in
from eavesong.layout.summary import summary

HOUSE = (
    '{units}[[prop]]\nname = "eaves"\nshape = "line"\nfrom = [0, {low}]\nto = [{wide}, {low}]\npixels = 20\n'
    '[[prop]]\nname = "ridge"\nshape = "line"\nfrom = [0, {high}]\nto = [{wide}, {high}]\npixels = 20\n{frame}'
)


@pytest.mark.parametrize(
    ("numbers", "written", "meant"),
    [
        ((742, 310, 0), "m", "cm"),  # a house of 7.42 m by 3.10 m
        ((980, 620, 300), "m", "cm"),
        ((9800, 6200, 0), "cm", "mm"),
        ((400, 236, 0), "ft", "in"),  # inches: 10.2 m by 6.0 m
        ((36, 22, 10), "m", "ft"),  # feet: 11.0 m by 6.7 m
        ((10, 6, 4), "ft", "m"),  # metres in a file of feet
        ((10, 6, 4), "cm", "m"),
    ],
)
def test_the_unit_that_makes_it_a_house_is_named(numbers: tuple[float, ...], written: str, meant: str) -> None:
    """0.3048 m a foot, 0.0254 m an inch: international yard and pound agreement, 1959."""
    metres = {"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": 0.3048, "in": 0.0254}[written]
    size = [number * metres for number in numbers]
    assert meant in likely_units(size, written)
    doubt = doubt_of_size(size, written)
    assert doubt
    assert f'units = "{meant}"' in doubt[1]


@pytest.mark.parametrize("size", [(10, 6, 4), (4.5, 2.4, 0), (30, 11, 20), (55, 15, 30), (3, 0, 0), (2, 3, 1)])
def test_usual_houses_and_lone_pieces_are_not_doubted(size: tuple[float, ...]) -> None:
    assert doubt_of_size(size, "m") is None
    assert misfit_of_size(size, "m") is None


def test_a_house_of_742_metres_is_refused_where_no_frame_says_that_it_is_meant(layout_of) -> None:
    text = HOUSE.format(units="", low=0, wide=742, high=310, frame="")
    with pytest.raises(LayoutError, match=r"704\.9 m wide(.|\n)*centimetres(.|\n)*units = \"cm\""):
        layout_of(text)
    meant = layout_of(HOUSE.format(units="", low=0, wide=742, high=310, frame="[frame]\nfrom=[0,0,0]\nto=[800,400,1]"))
    assert meant.pixel_count == 40


def test_the_summary_doubts_what_is_merely_unlikely(layout_of) -> None:
    assert 'Are the lengths in feet? Then write units = "ft"' in " ".join(
        summary(layout_of(HOUSE.format(units="", low=0, wide=38, high=22, frame=""))).split()
    )
    assert "Are the lengths" not in summary(layout_of(HOUSE.format(units="", low=0, wide=10, high=6, frame="")))


@pytest.mark.parametrize(("text", "units"), [('units = "ft"\n', "ft"), ("", "m"), ("= broken", "m")])
def test_units_are_read_from_the_text(text: str, units: str) -> None:
    assert units_in(text) == units


WINDOW = '[[prop]]\nname = "window"\nshape = "rectangle"\nwidth = {wide}\nheight = 1\npixels = 20\nat = [5, 3]\n'


def test_the_one_prop_that_makes_a_house_so_large_is_named_with_its_unit(layout_of) -> None:
    """A window of 200 cm in a house measured in metres: the file reads 200 m."""
    house = HOUSE.format(units="", low=0, wide=10, high=6, frame="")
    with pytest.raises(
        LayoutError, match=r"for 'window' \(width = 200\), which reaches from x = -85(.|\n)*in centimetres or inches\\?"
    ):
        layout_of(house + WINDOW.format(wide=200))
    doubted = " ".join(summary(layout_of(house + WINDOW.format(wide=80))).split())
    assert "all for 'window' (width = 80), which reaches from x = -3" in doubted
    assert "which reaches" not in summary(layout_of(house + WINDOW.format(wide=2)))


@pytest.mark.parametrize(
    ("pitch", "units", "meant"),
    [(5, "m", "0.05 (5 cm)"), (50, "mm", ""), (0.05, "cm", "5 (0.05 m)"), (6, "ft", "0.197 (6 cm) or 0.5 (6 in)")],
)
def test_pixels_that_are_metres_or_hairs_apart_are_refused(layout_of, pitch: float, units: str, meant: str) -> None:
    text = f'units = "{units}"\n[[prop]]\nname = "eaves"\nshape = "line"\nto = [9, 0]\npitch = {pitch}\n'
    if not meant:
        assert layout_of(text.replace("[9,", "[9000,")).pixel_count == 180
        return
    with pytest.raises(LayoutError, match=r"pitch: its pixels would be") as refused:
        layout_of(text)
    (problem,) = refused.value.problems
    assert problem.place.endswith("pitch")
    assert "apart" in problem.found
    assert f"Did you mean pitch = {meant}" in problem.instead
    assert layout_of(text.replace(f"pitch = {pitch}", "pixels = 3")).pixel_count == 3


HOME = """\
[[prop]]
name = "eaves"
shape = "line"
from = [0, 2.6]
to = [12.6, 2.6]
pixels = 100
[[prop]]
name = "gable"
shape = "line"
from = [8, 2.6]
to = [10.3, 4.4]
pixels = 50
[[prop]]
name = "odd"
shape = "{shape}"
{sizes}
pixels = 50
"""


@pytest.mark.parametrize(
    ("shape", "sizes", "advice"),
    [
        ("arch", "at = [3, 0, 2]\nwidth = 1.5\nheight = 35", "a decimal point missing, 3.5 in place of 35?"),
        ("line", "from = [0, 2.6]\nto = [12.6, 26]", "a decimal point missing, 2.6 in place of 26?"),
        ("line", "from = [0, 260]\nto = [1260, 260]", "Are its lengths in centimetres?"),
        ("arch", "at = [300, 0, 200]\nwidth = 150\nheight = 350", "Are its lengths in centimetres"),
        ("line", "from = [0, 2600]\nto = [12600, 2600]", "Are its lengths in millimetres?"),
    ],
)
def test_the_odd_prop_is_named_with_the_likeliest_slip(layout_of, shape: str, sizes: str, advice: str) -> None:
    text = HOME.format(shape=shape, sizes=sizes)
    try:
        told = summary(layout_of(text))
    except LayoutError as refused:
        told = str(refused)
    told = " ".join(told.split())
    assert "all for 'odd'" in told
    assert advice in told
