"""Things of a house are told the shape of their wire."""

import pytest

from eavesong.errors import MisfitError
from eavesong.layout.things import SHAPE_FOR, shaped


def test_a_shape_passes_as_it_is() -> None:
    for value in ({"shape": "ring", "width": 1.0}, {"shape": 5}, {}, "no table"):
        assert shaped(value) is value


@pytest.mark.parametrize("thing", ["wreath", "Wreath"])
def test_a_thing_is_refused_with_the_shape_it_usually_has(thing: str) -> None:
    with pytest.raises(MisfitError, match="is a thing, not the shape of a wire") as caught:
        shaped({"shape": thing})
    assert caught.value.instead == 'Write shape = "ring", and what it is as a tag.'


def test_a_tree_is_two_shapes() -> None:
    with pytest.raises(MisfitError) as caught:
        shaped({"shape": "tree"})
    assert all(f'"{shape}"' in caught.value.instead for shape in ("cone", "helix"))


def test_no_thing_is_called_as_another_one_is_shaped() -> None:
    assert not set(SHAPE_FOR) & set(SHAPE_FOR.values())
    assert all(thing == thing.lower() for thing in SHAPE_FOR)
