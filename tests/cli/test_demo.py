"""``eavesong demo``: the whole job, as the README's first command does it."""

from __future__ import annotations

import re
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from eavesong.check import check
from eavesong.demo.songs import DemoSong
from eavesong.frames import open_frames
from eavesong.layout import load_layout
from eavesong.scene import set_scene
from eavesong.show import grid_of, load_show


def test_the_demo_does_the_whole_job(
    eavesong, demo_songs: tuple[DemoSong, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """All but playing its songs, which other tests are about: those that were played already are copied."""
    from PIL import Image

    def copied(folder: Path) -> tuple[DemoSong, ...]:
        paths = ("path", "beats_path", "sections_path")
        return tuple(
            replace(song, **{name: Path(shutil.copy(getattr(song, name), folder)) for name in paths})
            for song in demo_songs
        )

    monkeypatch.setattr("eavesong.demo.songs.make_songs", copied)
    folder = tmp_path / "demo"
    ended = eavesong("demo", "--out", folder)
    assert ended.code == 0, ended.err
    songs = ("lantern-walk", "frost-waltz", "slow-thaw")
    assert [line.split("  ")[0] for line in ended.out.splitlines()[3:6]] == ["Lantern Walk", "Frost Waltz", "Slow Thaw"]
    assert ended.out.startswith(f"Open {folder / 'lantern-walk.html'} in a browser")
    page = (folder / "lantern-walk.html").read_bytes()
    assert page.startswith(b"<!doctype html>")
    assert re.search(rb'"audio/\w+', page), "the song is in it"
    for name in ("street.show.toml", "two-storey-2026.toml", "house.png", "house-plan.png"):
        assert (folder / name).is_file(), name
    house = load_layout(folder / "two-storey-2026.toml")
    for song in songs:
        with open_frames(folder / f"{song}.h5") as file:
            file.verify()
            assert file.channel_count == house.patch.channel_count
            middle = file.frames[file.frame_count // 2]
            assert 0.02 < np.mean(np.asarray(middle) > 0) < 1
        limits = eavesong("limits", folder / "two-storey-2026.toml", folder / f"{song}.h5")
        assert limits.code == 0, "the demo stays within power, data and flash limits"
        strip = np.asarray(Image.open(folder / f"{song}.png"))
        assert strip.max() > 200, "something shines"
        assert np.median(strip) < 60, "it is night"


def test_the_demo_show_has_a_dozen_effects_and_no_findings_on_its_songs(demo_songs, tmp_path: Path) -> None:
    from eavesong.demo.run import SHOW
    from eavesong.files import shipped

    source = Path(__import__("eavesong.demo", fromlist=["run"]).__file__).parent / SHOW
    (tmp_path / SHOW).write_text(source.read_text())
    show = load_show(tmp_path / SHOW)
    assert len(show.effects) >= 12
    house = load_layout(shipped("layouts") / "two-storey-2026.toml")
    for song in demo_songs:
        report = check(set_scene(show, house, grid_of(show, song.path)))
        assert not report.findings, [str(finding) for finding in report.findings]


def test_a_folder_that_cannot_be_made_is_4(eavesong, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    ended = eavesong("demo", "--out", tmp_path / "file" / "demo")
    assert ended.code == 4
    assert "cannot be made" in ended.err
