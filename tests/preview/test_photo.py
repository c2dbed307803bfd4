"""Photos: turned as they were taken, small in a page, and never the end of a picture."""

import io

import pytest
from PIL import Image

from eavesong.errors import SurveyError
from eavesong.preview.photo import PAGE_WIDTH, opened, opened_if_any, small_jpeg


def test_a_photo_stands_as_it_was_taken(tmp_path):
    """Exif 2.32, Orientation 6: the camera was turned to the right, so that rows are columns."""
    exif = Image.Exif()
    exif[0x0112] = 6
    Image.new("RGB", (40, 30), "red").save(tmp_path / "a.jpg", exif=exif)
    assert opened(tmp_path / "a.jpg").size == (30, 40)


def test_what_is_no_photo_is_told_or_left_out(tmp_path):
    (tmp_path / "a.jpg").write_bytes(b"nothing")
    for name in ("a.jpg", "missing.jpg"):
        with pytest.raises(SurveyError):
            opened(tmp_path / name)
        assert opened_if_any(tmp_path / name) is None
    assert opened_if_any(None) is None


def test_a_page_gets_a_small_one():
    with Image.open(io.BytesIO(small_jpeg(Image.new("RGB", (4000, 3000), "white")))) as small:
        assert small.size == (PAGE_WIDTH, PAGE_WIDTH * 3 // 4)
