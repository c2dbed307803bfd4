"""The survey file: what it says, and what is told of one that cannot be used."""

import re

import numpy as np
import pytest

from eavesong.errors import SurveyError
from eavesong.survey.known import UPRIGHT
from eavesong.survey.model import survey_schema
from eavesong.survey.read import read_survey

SMALL = """
title = "Small"
[[photo]]
file = "house.jpg"
size = [4000, 3000]
[[plane]]
name = "garage"
parallel = "front"
set_back = "-6 ft"
[[plane]]
name = "side"
turned = 90
[[plane]]
name = "roof"
roof_over = "front"
[[point]]
name = "a"
at = [1000, 2000]
on = ["front", "ground"]
[[point]]
name = "b"
at = [1500, 2010]
on = ["front", "ground"]
[[point]]
name = "c"
at = [1000, 1500]
on = "front"
above = "a"
[[point]]
name = "d"
at = [2500, 1500]
on = "garage"
[[line]]
points = ["a", "b", "c"]
[[measure]]
from = "a"
to = "b"
length = "3 ft 3 in"
give = "1 in"
"""


@pytest.fixture
def read(tmp_path):
    def of(text):
        path = tmp_path / "small.survey.toml"
        path.write_text(text)
        return read_survey(path)

    return of


def test_what_a_file_says(read):
    known = read(SMALL).known
    assert known.points == ("a", "b", "c", "d")
    assert [wall.name for wall in known.walls] == ["front", "ground", "garage", "side", "roof"]
    assert known.walls[2].set_back == (pytest.approx(-1.8288), 0.01)
    assert known.walls[3].heading == pytest.approx(UPRIGHT)
    assert known.walls[4].pitch is None
    assert known.lengths == pytest.approx([0.9906])
    assert known.measure_give == pytest.approx([0.0254])
    assert {(0, 2, 0), (0, 2, 2)} == set(map(tuple, known.same.tolist()))
    assert known.along.tolist() == [[0, 2, 0, 1]]
    assert known.origin == 0
    assert known.click_give == pytest.approx([2.0] * 4)
    assert not known.views[0].focal_told


def test_a_focal_length_in_35_mm_terms(read):
    """CIPA DCG-001: by the diagonal, 43.27 mm. A photo of 4000 x 3000 has 5000 across it: 26 mm are 3004.6."""
    view = read(SMALL.replace("size =", "focal = 26\nsize =")).known.views[0]
    assert view.focal == pytest.approx(26 / 43.2666 * 5000)
    assert view.focal_told


def test_several_photos(read):
    second = '[[photo]]\nfile = "left.jpg"\nname = "from the left"\nsize = [3000, 4000]\n[[plane]]\nname = "garage"'
    text = SMALL.replace('[[plane]]\nname = "garage"', second, 1)
    for number, name in enumerate("abcd"):
        x, y = ((1000, 2000), (1500, 2010), (1000, 1500), (2500, 1500))[number]
        text = text.replace(
            f"at = [{x}, {y}]", f'at = {{ house = [{x}, {y}], "from the left" = [{x - 300}, {y + 90 * number}] }}', 1
        )
        assert name in text
    known = read(text).known
    assert np.bincount(known.click_view).tolist() == [4, 4]
    assert known.clicks[1].tolist() == [700, 2000]


WRONG = [
    ('on = "garage"', 'on = "garge"', r"line \d+, point 4, on: no plane is called 'garge'\n +Did you mean 'garage'\?"),
    ('above = "a"', 'above = "A1"', "no point is called 'A1'"),
    ('above = "a"', 'above = "c"', "cannot stand above itself"),
    ('name = "d"', 'name = "a"', "the name 'a' is already taken by point 1"),
    ("at = [2500, 1500]", "at = [4500, 1500]", "'d' is outside the photo, which is 4000 x 3000"),
    ("at = [2500, 1500]", "at = [-1, 1500]", "'d' is outside the photo"),
    ("at = [2500, 1500]", 'at = { left = [1, 2] }', "no photo is called 'left'"),
    ('length = "3 ft 3 in"', 'length = "-3 ft"', "a length must be more than 0"),
    ('length = "3 ft 3 in"', "length = 0", "a length must be more than 0"),
    ('length = "3 ft 3 in"', 'length = "3 feet"', "this is no length"),
    ('length = "3 ft 3 in"', 'length = "2000 m"', "longer than 1,000 m"),
    ('to = "b"', 'to = "a"', "from a point to itself"),
    ('on = "front"\nabove', 'on = ["front", "garage"]\nabove', "'garage' and 'front' are parallel"),
    ('parallel = "front"', 'parallel = "garage"', "'garage' is parallel to itself"),
    ('parallel = "front"', 'parallel = "ground"', "the ground is no wall to be parallel to"),
    ('roof_over = "front"', 'roof_over = "frunt"', "Did you mean 'front'"),
    ("turned = 90", "pitch = 30", "it does not say how the plane lies"),
    ("turned = 90", "turned = 90\nset_back = 1", "'set_back' is of use only with 'parallel'"),
    ("turned = 90", 'turned = 90\nparallel = "front"', "both 'parallel' and 'turned' are given"),
    ('points = ["a", "b", "c"]', 'points = ["a", "b"]', "two points are always on a line"),
    ('points = ["a", "b", "c"]', 'points = ["a", "b", "a"]', "a point stands here twice"),
    ('file = "house.jpg"', 'file = "../house.jpg"', "leads out of the layout's folder"),
    ('title = "Small"', 'title = "Small"\ncolour = 3', "'colour' is not a key here"),
]  # fmt: skip


@pytest.mark.parametrize(("right", "wrong", "told"), WRONG)
def test_what_is_wrong_is_told_with_its_place(read, right, wrong, told):
    assert right in SMALL
    with pytest.raises(SurveyError, match=told) as fault:
        read(SMALL.replace(right, wrong, 1))
    assert all(problem.instead for problem in fault.value.problems)


def test_everything_is_told_at_once(read):
    text = (
        SMALL.replace('above = "a"', 'above = "x"').replace('to = "b"', 'to = "y"').replace('on = "garage"', 'on = "z"')
    )
    with pytest.raises(SurveyError) as fault:
        read(text)
    assert len(fault.value.problems) == 3
    assert all(re.match(r"line \d+, ", problem.place) for problem in fault.value.problems)


def test_too_few_points(read):
    text = SMALL[: SMALL.index('[[point]]\nname = "d"')] + SMALL[SMALL.index("[[line]]") :]
    with pytest.raises(SurveyError, match="3 points are seen in 'house', too few"):
        read(text)


def test_all_on_one_line(read):
    text = SMALL.replace("at = [1500, 2010]", "at = [1500, 2000]").replace("at = [1000, 1500]", "at = [1200, 2001]")
    with pytest.raises(SurveyError, match="all points seen in 'house' are on one line"):
        read(text.replace("at = [2500, 1500]", "at = [2500, 2000]"))


def test_nothing_measured(read):
    with pytest.raises(SurveyError, match="nothing is measured"):
        read(SMALL[: SMALL.index("[[measure]]")])


def test_no_front(read):
    text = SMALL.replace('on = ["front", "ground"]', 'on = "ground"').replace('on = "front"', 'on = "garage"')
    with pytest.raises(SurveyError, match="fewer than two points lie on the front"):
        read(text)


def test_the_schema_says_what_every_key_is():
    schema = survey_schema()
    photo = schema["$defs"]["Photo"]["properties"]
    assert "35 mm equivalent" in photo["focal"]["description"]
    assert "HungArch" in schema["$defs"]
    assert schema["$defs"]["HungArch"]["properties"]["feet"]["description"]
