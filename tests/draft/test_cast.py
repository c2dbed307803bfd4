"""The cast: every prop of a house belongs to a family, and words say which."""

import numpy as np
import pytest

from eavesong.draft.cast import ANY_HOUSE, cast_of
from eavesong.files import shipped
from eavesong.layout import layout_from_points, load_layout
from eavesong.scene.place import Finder
from eavesong.scene.roles import roles_of
from eavesong.show import parse_selector


@pytest.mark.parametrize("name", sorted(path.name for path in shipped("layouts").glob("*.toml")))
def test_the_first_words_of_all_families_light_the_whole_house(name):
    layout = load_layout(shipped("layouts") / name)
    cast = cast_of(layout)
    lit = np.zeros(layout.pixel_count)
    for prop in layout.props:  # lit all through, as windows of a house that somebody lives in are
        if {"window", "door"} & {*roles_of(prop)}:
            lit[prop.start : prop.stop] = 1
    windows = lit.mean()
    for family in cast.families:
        finder = Finder(layout, (parse_selector(family.on[0]),))
        taken, weight, _ = finder.select(family.on, None)
        assert taken.choice == 0
        assert weight.mean() >= family.share - 1e-6
        lit += weight
    assert lit.min() >= 1
    assert sum(family.share for family in cast.families) + windows == pytest.approx(1.0)


def test_props_without_roles_go_where_they_hang():
    line = [[x / 10, 0.0, 0.0] for x in range(20)]
    high = [[x / 10, 5.0, 0.0] for x in range(20)]
    cast = cast_of(layout_from_points({"alpha": line, "omega and more": high}))
    assert {family.name: family.on[0] for family in cast.families} == {"ground": "alpha", "roof": "'omega and more'"}


def test_props_that_are_meant_to_be_dark_lead_nothing(tmp_path):
    prop = '[[prop]]\nname = "{0}"\nshape = "line"\nfrom = [0, {1}]\nto = [5, {1}]\npixels = 20\ntags = "{0}"\n'
    lines = [prop.format(*each) for each in (("eaves", 3), ("path", 0), ("tree", 1))]
    house = 'title = "Dark path"\nunlit = "path"\n' + "".join(lines)
    (tmp_path / "house.toml").write_text(house)
    assert {family.name for family in cast_of(load_layout(tmp_path / "house.toml")).families} == {"roof", "trees"}


def test_a_part_that_is_meant_to_be_dark_takes_no_words_from_the_rest(tmp_path):
    """They are what another house answers to; what is to be dark is so whoever asks for it."""
    prop = '[[prop]]\nname = "{0}"\nshape = "line"\nfrom = [0, {1}]\nto = [5, {1}]\npixels = 20\ntags = "{2}"\n'
    rows = [prop.format(*each) for each in (("ridge", 4, "roofline"), ("eaves", 3, "roofline"), ("yard", 0, "tree"))]
    for wish in ("", 'unlit = "ridge"\n'):
        (tmp_path / "house.toml").write_text(wish + 'title = "Dark ridge"\n' + "".join(rows))
        cast = cast_of(load_layout(tmp_path / "house.toml"))
        assert {family.on[0] for family in cast.families} == {"roofline", "tree"}


def test_an_unknown_house_has_roles_with_fall_backs():
    assert cast_of(None) is ANY_HOUSE
    for family in ANY_HOUSE.families:
        assert len(family.on) >= 2
        assert "all" not in family.on  # it would win before kin and parts of the house stand in
        for text in family.on:
            parse_selector(text)


def test_a_house_of_one_prop_leads_itself():
    cast = cast_of(layout_from_points({"string": [[x / 10, 1.0, 0.0] for x in range(20)]}))
    assert len(cast.leaders) == 1


@pytest.mark.parametrize("name", sorted(path.name for path in shipped("layouts").glob("*.toml")))
def test_the_first_words_of_a_family_mean_nobody_of_another(name):
    """On the manor trees stand along a path: they would lead and stand beside at once."""
    layout = load_layout(shipped("layouts") / name)
    found = [Finder(layout, (parse_selector(family.on[0]),)).select(family.on, None)[1] for family in
             cast_of(layout).families]  # fmt: skip
    assert (np.array(found) > 0).sum(axis=0).max() == 1
