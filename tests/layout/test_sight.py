"""What a layout may say of its photo and of the street."""

import pytest

from eavesong.errors import LayoutError
from eavesong.layout import load_layout

PROP = '[[prop]]\nname = "a"\nshape = "line"\nfrom = [0, 0]\nto = [1, 1]\npixels = 3\n'
CORNER = "{ at = [1, 2], house = [3, 4, 5] }"


def load(tmp_path, text):
    (tmp_path / "a.toml").write_text(f'title = "a"\n{text}\n{PROP}')
    return load_layout(tmp_path / "a.toml")


@pytest.mark.parametrize(
    "text",
    [
        'photo = "a.jpg"', '[photo]\nfile = "a.jpg"', '[photo]\nfile = "a.jpg"\nfrom = [0, 0]\nto = [9, 6]',
        f'[photo]\nfile = "a.jpg"\ncorners = [{", ".join([CORNER] * 4)}]',
        '[photo]\nfile = "a.jpg"\ncamera = { at = [1, 2, 9], turn = [0, 5, 0], focal = 0.8 }',
    ],
)  # fmt: skip
def test_a_photo_is_a_file_or_a_table(tmp_path, text):
    assert load(tmp_path, text).photo == "a.jpg"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('[photo]\nfile = "a.jpg"\nfrom = [0, 0]', "'from' and 'to' belong together"),
        ('[photo]\nfile = "a.jpg"\nfrom = [9, 0]\nto = [0, 6]', "'from' lies beyond 'to'"),
        (f'[photo]\nfile = "a.jpg"\ncorners = [{CORNER}]', "of 1 corners no camera can be told"),
        (
            f'[photo]\nfile = "a.jpg"\nfrom = [0, 0]\nto = [9, 6]\ncorners = [{", ".join([CORNER] * 4)}]',
            "says more than once where the house is",
        ),
        ('[photo]\nfile = "../a.jpg"', "leads out of the layout's folder"),
        ("[street]\nheigth = 2", "Did you mean 'height'"),
        ("[street]\nfield = 300", "field"),
    ],
)
def test_what_is_wrong_is_told(tmp_path, text, told):
    with pytest.raises(LayoutError) as caught:
        load(tmp_path, text)
    assert told in str(caught.value)
