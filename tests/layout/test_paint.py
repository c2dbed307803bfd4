"""Figures: the same marks as SVG text and as a picture."""

import io
import xml.etree.ElementTree as ET

import numpy as np
from PIL import Image

from eavesong.layout.paint import Circle, Dots, Figure, Lines, Words, mixed, to_png, to_svg

RED, GREEN, NIGHT = (255, 0, 0), (0, 255, 0), (10, 20, 40)
FIGURE = Figure(
    80, 60, NIGHT,
    (Dots(np.array([[20.0, 30.0]]), 12, RED), Lines(np.array([[40.0, 10.0, 70.0, 10.0]]), 6, GREEN)),
)  # fmt: skip


def test_a_picture_shows_marks_where_they_are():
    picture = Image.open(io.BytesIO(to_png(FIGURE))).convert("RGB")
    assert picture.size == (80, 60)
    assert [picture.getpixel(at) for at in ((20, 30), (55, 10), (5, 55))] == [RED, GREEN, NIGHT]


def test_what_is_painted_later_lies_on_top():
    above = Figure(80, 60, NIGHT, (*FIGURE.marks, Dots(np.array([[20.0, 30.0]]), 12, GREEN)))
    assert Image.open(io.BytesIO(to_png(above))).convert("RGB").getpixel((20, 30)) == GREEN


def test_svg_is_xml_of_the_same_size_whatever_words_say():
    odd = Figure(80, 60, NIGHT, (Words(1, 2, '<eaves> & "arch"', 10, RED), Circle(9, 9, 4, 1, GREEN)))
    root = ET.fromstring(to_svg(odd))
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert (root.get("width"), root.get("height")) == ("80", "60")
    assert [element.text for element in root.iter("{http://www.w3.org/2000/svg}text")] == ['<eaves> & "arch"']


def test_no_points_leave_no_mark():
    assert "<path" not in to_svg(Figure(8, 8, NIGHT, (Dots(np.zeros((0, 2)), 3, RED),)))


def test_colours_mix_from_one_to_the_other():
    assert [mixed((0, 0, 0), (200, 100, 50), share) for share in (0, 0.5, 1)] == [
        (0, 0, 0),
        (100, 50, 25),
        (200, 100, 50),
    ]
