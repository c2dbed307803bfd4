"""Frames that lay elsewhere before: what was asked for and wished then holds on, or is told."""

import re
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from eavesong.frames import open_frames
from eavesong.scene import Reopened

pytestmark = pytest.mark.usefixtures("in_process")

Make = Callable[..., "Season"]  # noqa: F821


def softened(frames: Path) -> bool:
    """Whether frames were asked for softened."""
    with open_frames(frames) as file:
        return Reopened(file).terms.soften


@pytest.fixture
def gentle(season: Make) -> "Season":  # noqa: F821
    """A season of one song whose frames were asked for softened once, and the setlist does not say so."""
    made = season(1)
    made.write(["song-0.wav"], "soften = true")
    made.here()
    made.write(["song-0.wav"])
    made.here()
    assert softened(made.folder / "frames" / "song-0.h5")
    return made


def test_what_keeps_people_safe_holds_on_in_another_folder(gentle) -> None:
    gentle.setlist.write_text(gentle.setlist.read_text().replace('"frames"', '"winter"'))
    said = gentle.here().stdout
    assert softened(gentle.folder / "winter" / "song-0.h5")
    assert "kept as it was asked for before: softened" in " ".join(said.split())


def test_and_for_a_song_by_another_name_with_the_same_sound(gentle) -> None:
    for kind in ("wav", "beats", "sections"):
        shutil.copy(gentle.folder / f"song-0.{kind}", gentle.folder / f"bells.{kind}")
    gentle.write(["bells.wav"])
    gentle.here()
    assert softened(gentle.folder / "frames" / "bells.h5")


def test_wishes_that_a_house_by_another_name_has_forgotten_are_told(season: Make) -> None:
    """The layout of next year, begun anew; another house has another title, and has forgotten nothing."""
    made = season(1)
    hut = made.folder / "hut.toml"
    plain = hut.read_text()
    hut.write_text(plain.replace('title = "Hut"', 'title = "Hut"\nunlit = ["fir"]'))
    made.here()
    for name, title, told in (("hut-2027", "Hut", True), ("barn", "Barn", False)):
        (made.folder / f"{name}.toml").write_text(plain.replace('title = "Hut"', f'title = "{title}"'))
        text = made.setlist.read_text()
        made.setlist.write_text(
            re.sub(r'layout = "[^"]+"', f'layout = "{name}.toml"', text).replace('"frames"', f'"{name}"')
        )
        said = " ".join(made.here().stdout.split())
        assert ("wished before, and not in season/hut-2027.toml any more" in said) is told


def test_the_frames_of_the_folder_that_this_one_is_a_copy_of_are_not_left_over(season: Make) -> None:
    made = season(2)
    made.here()
    copied = made.folder.with_name("copied")
    shutil.copytree(made.folder, copied)
    said = type(made)(copied).here().stdout
    assert "2 up to date" in said
    assert "Left from earlier" not in said


def test_what_is_left_over_in_a_folder_is_so_in_its_copy(season: Make) -> None:
    """The report that came along names it where it lay; it is told again by the report of the copy."""
    made = season(2)
    made.here()
    made.write(["song-0.wav"])
    assert made.here().stdout.count("Left from earlier") == 1
    copied = made.folder.with_name("copied")
    shutil.copytree(made.folder, copied)
    for _ in range(2):
        (line,) = [each for each in type(made)(copied).here().stdout.split("\n") if "Left from earlier" in each]
        assert f"{copied.resolve()}/frames/song-1.h5" in line
