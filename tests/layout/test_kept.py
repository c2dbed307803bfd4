"""A house that was read before is the same house, and read anew as soon as anything of it is another."""

from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest

from eavesong.errors import LayoutError
from eavesong.files import shipped
from eavesong.layout import Layout, kept, load, load_layout

HOUSE = """
title = "House"
unlit = "b"
[palettes]
holly = ["red", "green"]
[[prop]]
name = "a"
shape = "points"
file = "a.csv"
[[prop]]
name = "b"
shape = "arch"
width = 2
height = 1
pixels = 20
repeat = { count = 3, step = [3, 0] }
[[controller]]
name = "box"
[[controller.output]]
number = 1
order = "GRBW"
brightness = 0.5
chain = ["a", "b"]
[[supply]]
name = "PSU"
volts = 5
watts = 350
[[supply.feed]]
controller = "box"
output = 1
"""


@pytest.fixture
def house(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("EAVESONG_CACHE", str(tmp_path / "cache"))
    monkeypatch.setattr(kept, "AT_HAND", 0)  # as another process finds them
    (tmp_path / "a.csv").write_text("x,y,z\n0,0,0\n1,0.5,0\n2,0,0\n")
    path = tmp_path / "house.toml"
    path.write_text(HOUSE)
    return path


def houses(house: Path) -> list[Path]:
    return sorted((house.parent / "cache" / "houses").iterdir())


def assert_same(a: object, b: object) -> None:
    """Compared field by field, down to arrays, which must be equal bit for bit."""
    assert type(a) is type(b)
    if isinstance(a, np.ndarray) and isinstance(b, np.ndarray):
        assert (a.dtype, a.shape, a.flags.writeable) == (b.dtype, b.shape, b.flags.writeable)
        assert a.tobytes() == b.tobytes()
    elif isinstance(a, dict) and isinstance(b, dict):
        assert a.keys() == b.keys()
        for key in a:
            assert_same(a[key], b[key])
    elif isinstance(a, tuple) and isinstance(b, tuple):
        assert len(a) == len(b)
        for one, other in zip(a, b, strict=True):
            assert_same(one, other)
    elif hasattr(a, "__dataclass_fields__"):
        for field in fields(a):  # type: ignore[arg-type]
            assert_same(getattr(a, field.name), getattr(b, field.name))
    else:
        assert a == b


def twice(path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[Layout, Layout]:
    first = load_layout(path)
    with monkeypatch.context() as patched:
        patched.setattr(load, "_read", None)
        return first, load_layout(path)


def test_a_kept_house_is_the_one_that_was_read(house: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first, again = twice(house, monkeypatch)
    assert again is not first
    assert_same(first, again)
    assert not again.pixels.x.flags.writeable


@pytest.mark.parametrize("path", sorted(shipped("layouts").glob("*.toml")), ids=lambda path: path.stem)
def test_so_is_every_one_that_comes_with_eavesong(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("EAVESONG_CACHE", str(tmp_path / "cache"))
    monkeypatch.setattr(kept, "LARGEST", 1 << 30)
    assert_same(*twice(path, monkeypatch))


def test_another_text_or_other_points_are_read(house: Path) -> None:
    before = load_layout(house)
    (house.parent / "a.csv").write_text("x,y,z\n0,0,0\n1,0.75,0\n2,0,0\n")
    moved = load_layout(house)
    assert moved.content_hash != before.content_hash
    assert (moved.pixels.Y[1] - before.pixels.Y[1]) == pytest.approx(0.25)
    house.write_text(HOUSE.replace("pixels = 20", "pixels = 21"))
    assert load_layout(house).pixel_count == before.pixel_count + 3


@pytest.mark.parametrize("damage", [b"", b"\0" * 100, None])
def test_what_is_damaged_is_made_again(house: Path, damage: bytes | None) -> None:
    load_layout(house)
    (path,) = houses(house)
    whole = path.read_bytes()
    path.write_bytes(whole[:-1] + bytes([whole[-1] ^ 1]) if damage is None else damage)
    assert load_layout(house).pixel_count == 63
    assert path.read_bytes() == whole


def test_points_that_have_come_to_lie_outside_the_folder_are_refused_as_before(house: Path) -> None:
    load_layout(house)
    elsewhere = house.parent.parent / f"{house.parent.name}.csv"
    (house.parent / "a.csv").rename(elsewhere)
    (house.parent / "a.csv").symlink_to(elsewhere)
    with pytest.raises(LayoutError, match="leads out of the layout's folder"):
        load_layout(house)


def test_a_house_with_a_fault_is_told_every_time_and_not_kept(house: Path) -> None:
    house.write_text(HOUSE.replace("height = 1", "heigth = 1"))
    for _ in range(2):
        with pytest.raises(LayoutError, match="'heigth' is not a key here"):
            load_layout(house)
    assert not (house.parent / "cache" / "houses").exists()


def test_only_the_houses_that_were_used_last_are_kept(house: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kept, "MOST", 2)
    for title in ("One", "Two", "Three"):
        house.write_text(HOUSE.replace("House", title))
        load_layout(house)
    assert len(houses(house)) == 2


def test_a_large_house_is_not_kept(house: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kept, "LARGEST", 1000)
    load_layout(house)
    assert not (house.parent / "cache" / "houses").exists()


def test_a_house_at_hand_is_not_read_again_until_its_texts_change(house: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Too large to be kept between runs or not; of more than there is room for, those used last."""
    monkeypatch.setattr(kept, "AT_HAND", 2)
    monkeypatch.setattr(kept, "LARGEST", 0)
    first = load_layout(house)
    assert load_layout(house) is first
    (house.parent / "a.csv").write_text("x,y,z\n0,0,0\n1,2,0\n2,0,0\n")
    second = load_layout(house)
    assert second.content_hash != first.content_hash
    for number in range(2):
        other = house.with_name(f"other-{number}.toml")
        other.write_text(HOUSE)
        load_layout(other)
    assert load_layout(house) is not second
    monkeypatch.setattr(kept, "MOST_PIXELS", 1)
    (house.parent / "a.csv").write_text("x,y,z\n0,0,0\n1,3,0\n2,0,0\n")
    assert load_layout(house) is not load_layout(house)
