"""What photos say of themselves. EXIF tags: JEITA CP-3451 (Exif 2.32)."""

import io

import numpy as np
import pytest
from PIL import Image

from eavesong.errors import SurveyError
from eavesong.survey import photo
from eavesong.survey.photo import facts

EXIF_PART = 0x8769


def saved(path, size=(400, 300), kind="JPEG", turned=1, **tags):
    """A grey photo with EXIF tags by number, ``t41989=26``."""
    exif = Image.Exif()
    exif[0x0112] = turned
    for name, value in tags.items():
        exif.get_ifd(EXIF_PART)[int(name[1:])] = value
    out = io.BytesIO()
    Image.new("RGB", size, (90, 90, 90)).save(out, kind, exif=exif)
    path.write_bytes(out.getvalue())
    return path


def test_the_35_mm_equivalent(tmp_path):
    """FocalLengthIn35mmFilm (0xA405): by the diagonal, 500 picture elements here."""
    found = facts(saved(tmp_path / "a.jpg", t41989=26))
    assert found.focal == pytest.approx(26 / 43.2666 * 500)
    assert (found.width, found.height, found.trimmed) == (400, 300, False)


def test_the_focal_planes_resolution(tmp_path):
    """FocalLength 5.0 mm, FocalPlaneXResolution 10,000 to the inch of a picture 4,000 wide, here 400:
    5 / 25.4 * 10,000 / 10 = 196.85."""
    found = facts(saved(tmp_path / "a.jpg", t37386=5.0, t41486=10_000.0, t41488=2, t40962=4000, t40963=3000))
    assert found.focal == pytest.approx(196.85, abs=0.01)


def test_a_photo_taken_upright(tmp_path):
    """Orientation 6: the picture lies on its side in the file."""
    found = facts(saved(tmp_path / "a.jpg", turned=6, t41989=26))
    assert (found.width, found.height) == (300, 400)


def test_a_cropped_photo_is_noticed(tmp_path):
    """It says that it was 4,000 x 3,000; these are the proportions of something else, so its focal length is no use."""
    found = facts(saved(tmp_path / "a.jpg", size=(400, 200), t41989=26, t40962=4000, t40963=3000))
    assert found.trimmed
    assert found.focal is None


def test_a_smaller_copy_is_no_crop(tmp_path):
    assert not facts(saved(tmp_path / "a.jpg", t41989=26, t40962=4000, t40963=3000)).trimmed


@pytest.mark.parametrize("value", [0, 65535, "wide"])
def test_focal_lengths_that_cannot_be(tmp_path, value):
    found = facts(saved(tmp_path / "a.png", kind="PNG"))
    assert found.focal is None
    assert photo._number(value if value != 65535 else float("nan")) == 0


def test_a_photo_that_is_none(tmp_path):
    (tmp_path / "a.jpg").write_text("This is no picture.")
    with pytest.raises(SurveyError, match="is no picture that can be read"):
        facts(tmp_path / "a.jpg")


def test_half_a_photo(tmp_path):
    whole = saved(tmp_path / "a.jpg").read_bytes()
    (tmp_path / "a.jpg").write_bytes(whole[:40])
    with pytest.raises(SurveyError, match=r"a\.jpg"):
        facts(tmp_path / "a.jpg")


def test_no_photo(tmp_path):
    saved(tmp_path / "house.jpg")
    with pytest.raises(SurveyError, match=r"there is no such photo\n +Did you mean 'house.jpg'"):
        facts(tmp_path / "hous.jpg")


def test_a_photo_of_100_mb(tmp_path):
    """A hole in the file: it takes no room on the disk."""
    with open(tmp_path / "a.jpg", "wb") as file:
        file.truncate(100_000_000)
    with pytest.raises(SurveyError, match="is a file of 100 MB, more than 84"):
        facts(tmp_path / "a.jpg")


def test_a_picture_of_more_than_200_million_elements(tmp_path):
    """A few kilobytes that say they are 20,000 x 20,000; nothing of it is unpacked."""
    Image.fromarray(np.zeros((20_000, 20_000), bool)).save(tmp_path / "a.png")
    with pytest.raises(SurveyError, match=r"picture elements"):
        facts(tmp_path / "a.png")
