"""Reading again: only what changed, and every file that counts is known."""

import pytest

from eavesong.errors import EavesongError
from eavesong.watch.reading import Reader, is_effect
from shows import GLOW, WASH


def test_what_has_not_changed_is_the_same_object(order, tmp_path):
    reader = Reader(order)
    first = reader.scene()
    (tmp_path / "wash.toml").write_text(WASH.replace("default = 4", "default = 2"))
    second = reader.scene()
    assert first.layout is second.layout
    assert first.signals is second.signals
    assert first.show.effects["glow.toml"] is second.show.effects["glow.toml"]
    assert second.show.effects["wash.toml"].parameters["beats"].default == 2


@pytest.mark.parametrize("name", ["two.show.toml", "house.toml", "glow.toml", "song.wav", "song.beats", "song.events"])
def test_every_file_that_counts_is_watched(order, tmp_path, name):
    reader = Reader(order)
    reader.scene()
    assert tmp_path / name in reader.read
    assert reader.folders() == {tmp_path.resolve()}


def test_files_that_are_missing_are_watched_too(order, tmp_path):
    (tmp_path / "glow.toml").unlink()
    reader = Reader(order)
    with pytest.raises(EavesongError, match=r"there is no effect file 'glow\.toml'"):
        reader.scene()
    assert tmp_path.resolve() in reader.folders()


def test_a_text_stands_in_for_the_file(order, tmp_path):
    show = tmp_path / "two.show.toml"
    scene = Reader(order).scene({show: show.read_text().replace("opacity = 0.8", "opacity = 0.3")})
    assert scene.cues[0].opacity == 0.3


def test_what_is_an_effect(order, tmp_path):
    assert is_effect(tmp_path / "glow.toml")
    assert not is_effect(tmp_path / "two.show.toml")
    (tmp_path / "broken.toml").write_text(GLOW.replace('"Glow"', '"Glow'))
    assert is_effect(tmp_path / "broken.toml")
