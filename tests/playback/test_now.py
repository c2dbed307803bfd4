"""A single frames file on a house that has changed since: new addresses are used, everything else is said."""

from __future__ import annotations

import io
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest

from eavesong.errors import FramesError
from eavesong.files import content_hash
from eavesong.frames import describe
from eavesong.layout import load_layout
from eavesong.playback import session
from eavesong.playback.now import as_it_is
from eavesong.playback.session import Settings, play
from eavesong.playback.source import FileSource
from eavesong.scene.order import Order, order_text
from playback.helpers import HOUSE, RememberingLinks, SimTime, write_frames

SHOW = 'title = "Frost"\n[[cue]]\neffect = "plain"\n'


@pytest.fixture
def frost(tmp_path: Path) -> Path:
    """Frames in a folder of their own, beside the house and the show that they were made from."""
    (tmp_path / "house.toml").write_text(HOUSE)
    (tmp_path / "frost.show.toml").write_text(SHOW)
    texts = {"show": SHOW, "layout": HOUSE, "order": order_text(Order("../frost.show.toml", "../house.toml"))}
    described = describe(load_layout(tmp_path / "house.toml"), title="Frost", frame_rate=10.0, texts=texts)
    (tmp_path / "frames").mkdir()
    frames = np.zeros((20, described.channel_count), np.uint8)
    return write_frames(tmp_path / "frames" / "frost.h5", described, frames)


def change(path: Path, old: str, new: str) -> None:
    assert old in path.read_text()
    path.write_text(path.read_text().replace(old, new))


def told(frost: Path, *, rehearsal: bool = False) -> tuple[str, tuple[tuple[str, ...], ...]]:
    """What is said, and where the frames go."""
    with closing(FileSource(frost)) as source:
        return "\n".join(as_it_is(source, rehearsal=rehearsal)), source.wiring.addresses


def test_of_a_house_and_a_show_that_stayed_nothing_is_said(frost: Path) -> None:
    assert told(frost) == ("", (("192.0.2.10",),))


def test_what_is_to_be_rendered_again_keeps_its_limit_and_softening(frost: Path, tmp_path: Path) -> None:
    described = describe(
        load_layout(tmp_path / "house.toml"), title="Frost", frame_rate=10.0,
        texts={"show": SHOW, "layout": HOUSE, "order": order_text(
            Order("../frost.show.toml", "../house.toml", limit=("supply", "house:150W"), soften=True))},
    )  # fmt: skip
    write_frames(frost, described, np.zeros((20, described.channel_count), np.uint8))
    (tmp_path / "frost.show.toml").write_text(SHOW + "# another\n")
    assert "--limit supply --limit house:150W --soften --out" in told(frost)[0]


def test_a_new_address_is_used_and_said(frost: Path, tmp_path: Path) -> None:
    change(tmp_path / "house.toml", "192.0.2.10", "192.0.2.77")
    word, addresses = told(frost)
    assert addresses == (("192.0.2.77",),)
    assert word == f"frames are sent where '{tmp_path / 'house.toml'}' has its controllers now: garage at 192.0.2.77"


@pytest.mark.parametrize(
    ("old", "new"), [("from = [0, 3, 1]", "from = [0, 3, 2]"), ("[[prop]]", 'unlit = ["gutter"]\n[[prop]]')]
)
def test_what_has_changed_beside_an_address_is_said_too(frost: Path, tmp_path: Path, old: str, new: str) -> None:
    change(tmp_path / "house.toml", "192.0.2.10", "192.0.2.77")
    change(tmp_path / "house.toml", old, new)
    word, addresses = told(frost)
    assert addresses == (("192.0.2.77",),)
    assert "has its controllers now: garage at 192.0.2.77; " in word
    assert "house.toml' has changed otherwise, too, since the frames were made. Render them again: eavesong" in word


def test_another_name_of_a_controller_is_no_other_change(frost: Path, tmp_path: Path) -> None:
    change(tmp_path / "house.toml", '"garage"', '"shed"  # with a new lock')
    assert told(frost)[0].endswith("has its controllers now: shed at 192.0.2.10")


def test_a_rehearsal_names_no_address_that_gets_nothing(frost: Path, tmp_path: Path) -> None:
    change(tmp_path / "house.toml", "192.0.2.10", "192.0.2.77")
    assert told(frost, rehearsal=True)[0] == ""
    change(tmp_path / "house.toml", "from = [0, 3, 1]", "from = [0, 3, 2]")
    word, _ = told(frost, rehearsal=True)
    assert word.startswith(f"'{tmp_path / 'house.toml'}' has changed otherwise, too")
    change(tmp_path / "house.toml", "[[controller]]", "[[controler]]")
    word, _ = told(frost, rehearsal=True)
    assert "house.toml' cannot be read: " in word


def test_play_sends_to_the_new_address(
    frost: Path, tmp_path: Path, time: SimTime, network: RememberingLinks, monkeypatch: pytest.MonkeyPatch
) -> None:
    change(tmp_path / "house.toml", "192.0.2.10", "192.0.2.77")
    monkeypatch.setattr(session, "Links", lambda **_: network)
    out = io.StringIO()
    play(frost, Settings(sound=False, discovery=False), time=time, out=out)
    assert "has its controllers now: garage at 192.0.2.77" in out.getvalue()
    assert {address for _, address, _ in network.packets} == {"192.0.2.77"}


def test_other_pixels_go_out_as_they_were_and_how_to_render_again_is_said(frost: Path, tmp_path: Path) -> None:
    change(tmp_path / "house.toml", "pixels = 20", "pixels = 21")
    word, addresses = told(frost)
    assert addresses == (("192.0.2.10",),)
    assert "which go out as they were. Render them again: eavesong render" in word
    assert word.endswith(f"--layout {tmp_path / 'house.toml'} --out {frost}")


def test_a_show_that_was_changed_is_said(frost: Path, tmp_path: Path) -> None:
    change(tmp_path / "frost.show.toml", "plain", "swell")
    word, _ = told(frost)
    assert word.startswith(f"'{tmp_path / 'frost.show.toml'}' was changed after these frames were made")


def test_own_effects_and_texts_that_were_changed_are_said(tmp_path: Path) -> None:
    (tmp_path / "house.toml").write_text(HOUSE)
    (tmp_path / "frost.show.toml").write_text(SHOW)
    (tmp_path / "mine.toml").write_text("mine = 1\n")
    (tmp_path / "frost.beats").write_text("0 1\n1 2\n")
    order = order_text(Order("frost.show.toml", "house.toml", song="frost.wav"))
    described = describe(
        load_layout(tmp_path / "house.toml"), title="Frost", frame_rate=10.0, song_path="frost.wav",
        texts={"show": SHOW, "layout": HOUSE, "order": order, "effect mine.toml": "mine = 1\n"},
        hashes={"beats file": content_hash("0 1\n1 2\n"), "sections file": content_hash("")},
    )  # fmt: skip
    frost = write_frames(tmp_path / "frost.h5", described, np.zeros((20, described.channel_count), np.uint8))
    assert told(frost)[0] == ""
    (tmp_path / "mine.toml").write_text("mine = 2\n")
    effect, beats = tmp_path / "mine.toml", tmp_path / "frost.beats"
    assert told(frost)[0].startswith(f"'{effect}' was changed after these frames were made, which go out as they were.")
    beats.write_text("0.5 1\n1 2\n")
    assert told(frost)[0].startswith(f"'{effect}' and '{beats}' were changed after these frames were made")


def test_a_layout_that_cannot_be_read_is_told_and_one_that_is_gone_changes_nothing(frost: Path, tmp_path: Path) -> None:
    change(tmp_path / "house.toml", "[[controller]]", "[[controler]]")
    assert "cannot be read, so frames go where they were made for" in told(frost)[0]
    (tmp_path / "house.toml").unlink()
    assert told(frost) == ("", (("192.0.2.10",),))


def test_a_public_address_that_the_house_has_now_is_refused(frost: Path, tmp_path: Path) -> None:
    change(tmp_path / "house.toml", "192.0.2.10", "93.184.216.34")
    with closing(FileSource(frost)) as source, pytest.raises(FramesError, match="public"):
        as_it_is(source)
