"""What is odd with a house itself: tags that nothing asks for but for a letter, and its size."""

import pytest

from eavesong.check.house import house_findings
from eavesong.layout import layout_from_points, load_layout
from eavesong.show import load_show


def tags(*words):
    return list(house_findings(layout_from_points({"eaves 1": [[0, 0, 0], [9, 5, 0]]}, tags=words)))


@pytest.mark.parametrize(
    ("tag", "meant"),
    [("rooflin", "roofline"), ("windows", "window"), ("trees", "tree"), ("bushes", "bush"), ("widnow", "window"),
     ("uper", "upper"), ("gabel", "gable")],
)  # fmt: skip
def test_a_tag_that_is_nearly_one_that_shows_ask_for_is_told(tag, meant):
    (found,) = tags(tag)
    assert found.found == f"nothing asks for the tag '{tag}' of 'eaves 1'"
    assert found.instead == f"Did you mean '{meant}'?"


@pytest.mark.parametrize(
    "tag", ["roofline", "upper", "big", "fence", "stairs", "sleigh", "north", "a", "three", "wall"]
)
def test_words_of_the_trade_and_of_ones_own_are_not_doubted(tag):
    assert tags(tag) == []


def test_a_prop_that_has_the_word_as_well_is_found_anyway():
    assert tags("trees", "tree") == []
    assert len(tags("rooflin", "upper")) == 1, "a part of the house is not what it is"


def test_a_word_of_the_shows_own_is_good_and_the_place_is_told(tmp_path):
    house = tmp_path / "house.toml"
    house.write_text(
        'title = "H"\n[[prop]]\nname = "edge"\nshape = "line"\nto = [9, 0]\npixels = 9\ntags = ["rooflin", "upper"]\n'
    )
    (tmp_path / "a.show.toml").write_text('[[cue]]\neffect = "plain"\non = "rooflin"\n')
    show, layout = load_show(tmp_path / "a.show.toml"), load_layout(house)
    assert list(house_findings(layout, show)) == []
    (found,) = house_findings(layout)
    assert (found.file, found.place) == (str(house), "line 7, prop 1, tags")


def test_a_size_that_no_home_has_is_told_with_its_unit():
    (found,) = house_findings(layout_from_points({"eaves": [[0, 0, 0], [90, 5, 0]]}))
    assert "the house is 90.0 m wide" in found.found


def test_a_tree_as_wide_as_a_street_and_pixels_closer_than_strips_have_them_are_told(tmp_path):
    house = tmp_path / "house.toml"
    house.write_text(
        'title = "H"\n[[prop]]\nname = "eaves"\nshape = "line"\nto = [9, 0]\npixels = 3000\ntags = ["eaves"]\n'
        '[[prop]]\nname = "oak"\nshape = "cone"\nheight = 4\nbase = 20\nstrings = 8\npixels = 30\n'
    )
    told = {(each.place.partition(",")[0], each.found) for each in house_findings(load_layout(house))}
    assert {place for place, _ in told} == {"line 2", "line 8"}
    assert any("closer than strips have them" in found for _, found in told)
    assert any("a tree is hardly over 9.0 m wide" in found for _, found in told)
