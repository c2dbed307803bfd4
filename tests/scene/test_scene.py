"""Scenes: made from files once, or set from values that are at hand."""

import numpy as np
import pytest

from eavesong.errors import LayoutError
from eavesong.scene import Order, Terms, make_scene, set_scene
from eavesong.scene.scene import chosen_props
from street import PROPS, Street, house_text


@pytest.fixture(scope="module")
def street(tmp_path_factory):
    return Street(tmp_path_factory.mktemp("street"))


def test_a_song_is_hashed_once_and_cues_are_placed_once(street, monkeypatch):
    from eavesong.music import sound
    from eavesong.render import render
    from eavesong.scene import place

    told = []
    for module, name in ((sound, "sound_hash"), (place, "place_cues")):
        meant = getattr(module, name)
        monkeypatch.setattr(module, name, lambda *a, _m=meant, _n=name, **k: told.append(_n) or _m(*a, **k))
    render(Order.of(street.show, street.old), street.folder / "once.h5", tell=lambda scene: None)
    assert sorted(told) == ["place_cues", "sound_hash"]


def test_each_text_is_read_once(street, monkeypatch):
    """Else somebody who edits it meanwhile gets frames of one text with the hash of another."""
    from pathlib import Path

    from eavesong.render import render

    (street.folder / "song.events").write_text("0.5\thigh\t1.0\n")
    show = street.folder / "events.show.toml"
    show.write_text(f'song = "{street.folder / "song.wav"}"\n[[cue]]\neffect = "thump.toml"\n')
    code = "level = high_strength\ncolour = rgb(1, 0, 0)"
    effect = f'title = "Thump"\nabout = "Answers to high sounds."\ncode = """{code}"""\n'
    (street.folder / "thump.toml").write_text(effect)
    read = []
    meant = Path.read_bytes
    monkeypatch.setattr(Path, "read_bytes", lambda self: read.append(self.name) or meant(self))
    render(Order.of(show, street.old), street.folder / "texts.h5")
    (street.folder / "song.events").unlink()
    told = ["song.beats", "song.sections", "song.events", "events.show.toml", street.old.name, "thump.toml"]
    assert [read.count(name) for name in told] == [1] * 6


def test_making_a_scene_loads_no_engine(street):
    import subprocess
    import sys

    code = (
        "import sys; from eavesong.scene import Order, make_scene\n"
        f"scene = make_scene(Order({str(street.show)!r}, {str(street.old)!r}))\n"
        "scene.layers, scene.strings, scene.values.window(0)\n"
        "assert 'numba' not in sys.modules, 'numba was loaded'\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_props_are_chosen_by_name_row_or_tag(street):
    layout = street_layout(street)
    assert chosen_props(layout, ()) is None
    assert chosen_props(layout, ("arch", "tree")) == (1, 3)
    with pytest.raises(LayoutError, match=r"no prop is called or tagged 'tre'\n    Did you mean"):
        chosen_props(layout, ("tre",))


def street_layout(street):
    from eavesong.layout import load_layout

    return load_layout(street.old)


def test_layers_hold_what_is_wanted_alone(street):
    scene = make_scene(Order.of(street.show, street.old, props=("ring",)))
    ring = np.flatnonzero(scene.layout.pixels.prop == 2)
    assert np.flatnonzero(scene.wanted).tolist() == ring.tolist()
    assert [layer.cue.effect.name for layer in scene.layers] == ["runners"]
    assert [tuple(run[:2]) for run in scene.strings.runs.tolist()] == [(ring[0], ring[-1] + 1)]
    assert scene.only((0,)).props == (0,)


def test_a_scene_can_be_set_without_files(street):
    from eavesong.layout import load_layout
    from eavesong.music import BeatGrid
    from eavesong.show import load_show

    house = street.layout("set.toml", house_text(PROPS))
    grid = BeatGrid((0.0, 0.5, 1.0, 1.5), (1, 2, 3, 4), (), 2.0)
    scene = set_scene(load_show(street.show), load_layout(house), grid, soften=True)
    assert scene.terms == Terms(soften=True)
    assert len(scene.cues) == 3


@pytest.mark.parametrize("heard", ["bass", "onset", "brightness", "spectrum(x)", "high_strength", "t"])
def test_a_scene_by_itself_keeps_the_signals_that_its_cues_read(street, heard):
    """What only one scene is made from need not be kept; what its frames are made of is the same."""
    from eavesong.layout import load_layout
    from eavesong.scene.scene import heard_song, scene_of
    from eavesong.show import load_show

    path = street.folder / "follows.show.toml"
    path.write_text(f'song = "{street.folder / "song.wav"}"\n[[cue]]\neffect = "follows.toml"\n')
    code = f"level = {heard}\ncolour = rgb(1, 0, 0)"
    effect = f'title = "Follows"\nabout = "Answers to one signal."\ncode = """{code}"""\n'
    (street.folder / "follows.toml").write_text(effect)
    order, show = Order.of(path, street.old), load_show(path)
    alone = make_scene(order)
    shared = scene_of(show, load_layout(street.old), order, heard_song(show))
    for scene in (alone, shared):
        assert scene.signals.bass.shape == scene.signals.onset.shape
    for one, other in zip(vars(alone.values.window(0)).values(), vars(shared.values.window(0)).values(), strict=True):
        np.testing.assert_array_equal(one, other if heard == "spectrum(x)" or other.shape[1:] != (32,) else 0 * other)
    kept = [name for name in ("bass", "onset", "brightness", "spectrum") if any(getattr(alone.signals, name).strides)]
    assert kept == [heard.removesuffix("(x)")] * (heard not in ("high_strength", "t"))
