"""Points files: comma-separated text after RFC 4180."""

import pytest

from eavesong.errors import LayoutError
from eavesong.layout import load_layout
from eavesong.layout.points import read_places


def test_columns_are_found_by_name_in_any_order():
    text = 'name,Z,x,"y"\r\n"lamp, left",3,1,2\r\n\r\n,6.5,4,5e0\r\n'
    assert read_places(text, "p.csv").tolist() == [[1, 2, 3], [4, 5, 6.5]]


def test_without_a_z_column_all_points_lie_in_the_plane():
    assert read_places("x,y\n1,2", "p.csv").tolist() == [[1, 2, 0]]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", r"p\.csv, line 1: the first line does not name the columns x and y"),
        ("1,2,3\n", r"line 1: the first line does not name"),
        ("x,y,z\n", r"p\.csv: there is no point in it"),
        ("x,y\n1,two\n", r"line 2, y: 'two' is not a number\n    Write a number such as 1\.25\."),
        ("x,y\n1\n", r"line 2, y: there is nothing in this column"),
        ("x,y\n1,nan\n", r"line 2, y: 'nan' is no place on a house"),
        ("x,y\n1,2\n-inf,1e9\n", r"line 3, x: '-inf' is no place.*\n.*\n.*line 3, y: '1e9' is no place"),
        ('x,y\n"1,2\n', r"is not comma-separated"),
    ],
)
def test_faults_are_told_with_their_line(text, told):
    with pytest.raises(LayoutError, match=told):
        read_places(text, "p.csv")


def test_a_file_full_of_faults_tells_the_first_ten_and_how_many_more():
    with pytest.raises(LayoutError) as caught:
        read_places("x,y\n" + "a,b\n" * 1000, "p.csv")
    assert len(caught.value.problems) == 11
    assert caught.value.count == 2000  # two cells in each of a thousand lines


def test_far_too_many_points_are_refused_before_any_is_read(tmp_path, monkeypatch):
    def refuse(text, name):
        raise AssertionError("a points file was read")

    monkeypatch.setattr("eavesong.layout.points.read_places", refuse)
    (tmp_path / "many.csv").write_text("x,y,z\n" + "0,0,0\n\n" * 1001)
    prop = '[[prop]]\nname = "{}"\nshape = "points"\nfile = "many.csv"\n'
    (tmp_path / "house.toml").write_text('title = "x"\n' + "".join(map(prop.format, range(1999))))
    with pytest.raises(LayoutError, match=r"prop 1999: with this prop the layout has 2,000,999 pixels"):
        load_layout(tmp_path / "house.toml")
