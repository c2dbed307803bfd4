"""Lighting one thing at a time, and the clicks and flashes that set the offset."""

import io
import wave
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from eavesong.errors import LayoutError
from eavesong.layout import Layout, load_layout
from eavesong.playback import session
from eavesong.playback.calibrate import STEPS, calibrate, write_clicks
from eavesong.playback.identify import identify, lit, targets_of
from eavesong.playback.identity import cid_of
from eavesong.playback.session import Settings
from playback.helpers import RememberingLinks, SimTime, house, moving, write_frames

HOUSE = """
title = "A porch"
[[prop]]
name = "arch"
shape = "arch"
width = 1.5
height = 0.75
pixels = 4
repeat = { count = 2, step = [2, 0, 0] }
tags = ["ground"]
[[prop]]
name = "eaves"
shape = "line"
to = [5, 3]
pixels = 3
tags = ["roofline"]
[[controller]]
name = "attic"
address = "192.0.2.7"
[[controller.output]]
number = 1
order = "GRB"
brightness = 0.5
chain = ["arch"]
[[controller.output]]
number = 2
order = "RGBW"
chain = [{ prop = "eaves", reversed = true }]
"""


@pytest.fixture
def layout(tmp_path: Path) -> Layout:
    (tmp_path / "house.toml").write_text(HOUSE)
    return load_layout(tmp_path / "house.toml")


@pytest.fixture
def _network(network: RememberingLinks, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(session, "Links", lambda **_: network)


def test_names(layout: Layout) -> None:
    assert [target.name for target in targets_of(layout, [])] == ["attic:1", "attic:2"]
    assert [target.name for target in targets_of(layout, ["arch"])] == ["arch 1", "arch 2"]
    assert [target.name for target in targets_of(layout, ["roofline", "attic:1"])] == ["eaves", "attic:1"]
    (eaves,) = targets_of(layout, ["attic:2"])
    assert eaves.pixels.tolist() == [10, 9, 8]  # along the wire, which begins at the far end
    assert eaves.where == "eaves, universe 2"


def test_unknown_names(layout: Layout) -> None:
    with pytest.raises(LayoutError, match=r"called 'archs'\n    Did you mean 'arch'") as caught:
        targets_of(layout, ["archs", "attic:9"])
    assert len(caught.value.problems) == 2


def test_green_where_the_wire_begins_red_where_it_ends(layout: Layout) -> None:
    frame = lit(layout.patch, range(4), 0.2)
    # 0.2 · 255 = 51, at half brightness 26 (25.5 to even is 26); GRB on the wire.
    assert frame[:12].tolist() == [26, 0, 0, 26, 26, 26, 26, 26, 26, 0, 26, 0]
    assert not frame[12:].any()
    assert lit(layout.patch, [10, 9, 8], 0.2)[24:].tolist() == [51, 0, 0, 0, 51, 51, 51, 0, 0, 51, 0, 0]


def test_never_bright(layout: Layout) -> None:
    assert lit(layout.patch, range(11), 5.0).max() <= 77  # 255 * 0.3 is 76.5


@pytest.mark.usefixtures("_network")
def test_each_in_its_turn(layout: Layout, network: RememberingLinks, time: SimTime) -> None:
    out = io.StringIO()
    identify(layout, ["arch 1", "arch 2"], Settings(discovery=False), seconds=2.0, time=time, out=out)
    shown = [(when - 1000, np.flatnonzero(list(packet.slots))) for when, packet in network.data(1)]
    first = [places for when, places in shown if when < 1.9 and len(places)]
    second = [places for when, places in shown if 2.05 < when < 3.9 and len(places)]
    assert {int(places.max()) for places in first} == {10}
    assert {int(places.min()) for places in second} == {12}
    assert "arch 1: 4 pixels, attic:1, universe 1" in out.getvalue()
    packets = [packet for _, packet in network.data()]
    assert {packet.priority for packet in packets} == {110}
    assert {packet.cid for packet in packets} == {cid_of("identify", 1)}  # a show may run beside it
    assert packets[-1].terminated


def test_clicks(tmp_path: Path) -> None:
    with wave.open(str(write_clicks(tmp_path / "clicks.wav"))) as file:
        assert (file.getframerate(), file.getnchannels(), file.getsampwidth()) == (44_100, 1, 2)
        sound = np.frombuffer(file.readframes(file.getnframes()), "<i2")
    loud = np.flatnonzero(np.abs(sound) > 4000) / 44_100
    assert [round(float(start), 2) for start in loud[np.diff(loud, prepend=-1) > 0.5]] == [0.5, 1.5, 2.5, 3.5]


@pytest.mark.usefixtures("_network")
def test_flashes_follow_the_clicks_at_each_offset(tmp_path: Path, network: RememberingLinks, time: SimTime) -> None:
    described = house(universes=1)
    path = write_frames(tmp_path / "frost.h5", described, moving(described, 4))
    out = io.StringIO()
    calibrate(path, Settings(sound=False, discovery=False, offset=0.1), time=time, out=out)
    values = [(when, max(packet.slots)) for when, packet in network.data(1)]
    starts = [when for (_, before), (when, after) in pairwise(values) if after > before]
    assert len(starts) == 4 * len(STEPS)
    assert max(value for _, value in values) == 51  # a fifth of full drive
    assert np.diff(starts).min() > 0.5  # WCAG 2.2, 2.3.1: at most three flashes a second
    assert [line.split()[-1] for line in out.getvalue().splitlines()][:9] == [
        "20", "40", "60", "80", "100", "120", "140", "160", "180",
    ]  # fmt: skip
