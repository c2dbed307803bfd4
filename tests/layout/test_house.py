"""A layout asked for its props and pixels."""

import numpy as np
import pytest

from eavesong.layout import Layout, layout_from_points


@pytest.fixture
def layout() -> Layout:
    places = {"eaves": np.zeros((3, 3)), "arch": np.ones((2, 3))}
    return layout_from_points(places, title="House", tags={"eaves": ["roofline"], "arch": ["path", "roofline"]})


def test_names_and_tags_are_told_once(layout: Layout) -> None:
    assert layout.names() == ("eaves", "arch")
    assert set(layout.tags()) >= {"path", "roofline"}
    assert list(layout.tags()) == sorted(set(layout.tags()))


def test_props_are_found_by_name_and_by_tag(layout: Layout) -> None:
    assert layout.named("arch") == (1,)
    assert layout.tagged("roofline") == (0, 1)
    assert layout.named("roofline") == ()


def test_pixels_stand_prop_by_prop_and_cannot_be_moved(layout: Layout) -> None:
    assert layout.pixel_count == 5
    assert layout.pixels.prop.tolist() == [0, 0, 0, 1, 1]
    with pytest.raises(ValueError, match="read-only"):
        layout.pixels.x[0] = 0.5
    with pytest.raises(ValueError, match="read-only"):
        layout.pixels.step["x"][0] = 0.5


def test_a_house_that_says_nothing_of_power_has_the_usual_kind_everywhere(layout: Layout) -> None:
    assert [kind.name for kind in layout.power.types] == ["5 V, 20 mA"]
    assert not layout.power.type.any()
