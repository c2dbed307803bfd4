"""``eavesong follow``: figures as text and as JSON, and a picture."""

import json

import pytest
from click.testing import CliRunner

from eavesong.cli import group
from lamps import LAMPS, WALL, house, known_frames, write, write_click


@pytest.fixture(scope="module")
def frames(tmp_path_factory):
    folder = tmp_path_factory.mktemp("follow")
    write_click(folder / "click.wav", [0.25, 1.25, 2.25])
    return write(folder / "lamps.h5", house(LAMPS + WALL), known_frames())


def run(*arguments):
    return CliRunner().invoke(group, ["follow", *map(str, arguments)], catch_exceptions=False)


def test_figures_in_words_and_a_picture(frames, tmp_path):
    done = run(frames, "--picture", tmp_path / "follow.png")
    assert done.exit_code == 0
    assert done.output.startswith("bars")
    assert (tmp_path / "follow.png").read_bytes().startswith(b"\x89PNG")


def test_figures_as_json(frames):
    told = json.loads(run(frames, "--json").output)
    assert told["bars"] == 3
    assert told["form"] is None


def test_a_picture_of_another_kind_is_refused_at_once(frames):
    done = run(frames, "--picture", "follow.gif")
    assert done.exit_code == 2
    assert "ends with .png or .webp" in done.output


def test_a_picture_of_somebody_elses_stays(frames, tmp_path):
    from eavesong.errors import OutputError

    (tmp_path / "own.png").write_text("mine")
    with pytest.raises(OutputError, match="is there already"):
        run(frames, "--picture", tmp_path / "own.png")


def test_another_song_than_that_of_the_frames_is_told(frames, tmp_path, monkeypatch):
    """These frames say nothing of a sound: that it is another one is taken for granted."""
    monkeypatch.setattr("eavesong.scene.reopen.is_another_song", lambda frames, song: True)
    write_click(tmp_path / "other.wav", [0.5, 1.5])
    told = run(frames, "--song", tmp_path / "other.wav").output
    assert "'other.wav' is not the file that these frames were made to" in told
    assert "is not the file" not in run(frames).output
