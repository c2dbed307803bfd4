"""``eavesong identify``: what it cannot light, it says before it sends."""

import importlib

import pytest

from eavesong.playback.stop import Stop
from powered import LINE


@pytest.fixture
def house(tmp_path):
    (tmp_path / "house.toml").write_text(LINE)
    return tmp_path / "house.toml"


def test_a_name_that_is_none_ends_with_3_and_the_nearest(eavesong, house):
    ended = eavesong("identify", "-l", house, "eavs")
    assert ended.code == 3
    assert "eavs" in ended.err
    assert "eaves" in ended.err.replace("eavs", "")


@pytest.mark.parametrize("words", [["--level", "1"], ["--seconds", "0"], ["--rounds", "0"], ["--interface", "eth0"]])
def test_no_option_lights_it_brightly_or_for_no_time(eavesong, house, words):
    assert eavesong("identify", "-l", house, *words).code == 2


def test_it_can_be_rehearsed_on_this_computer(eavesong, house, monkeypatch):
    module, sent = importlib.import_module("eavesong.playback.identify"), []
    monkeypatch.setattr(module, "identify", lambda layout, names, settings, **how: sent.append(settings.to) or Stop())
    assert eavesong("identify", "-l", house, "--to", "127.0.0.1").code == 0
    assert sent == ["127.0.0.1"]
