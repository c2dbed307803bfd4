"""Options that change nothing are told, each with the reason, and only where they were given."""

import click
import pytest
from click.testing import CliRunner

from eavesong.cli.idle import tell_idle
from eavesong.cli.preview import _idle
from powered import LINE


@click.command()
@click.option("--size", "-s", default="1")
@click.option("--for", "name")
@click.option("--quiet", is_flag=True)
def made(size, name, quiet):
    tell_idle({"size": "it is round", "name": "it is round", "quiet": "nobody speaks", "other": "it is not there"})


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ([], ""),
        (["-s", "1"], "--size changes nothing here: it is round.\n"),
        (["--for", "x", "--size", "2"], "--size, --for change nothing here: it is round.\n"),
        (["--quiet"], "--quiet changes nothing here: nobody speaks.\n"),
    ],
)
def test_what_was_given_and_changes_nothing_is_told(given, told):
    assert CliRunner().invoke(made, given).stderr == told


USUAL = {"as_score": False, "picture": False, "through_photo": False}


@pytest.mark.parametrize(
    ("kind", "view", "how", "idle"),
    [
        (".mp4", "street", {}, {"name", "date", "without"}),
        (".html", "street", {}, {"start", "stop", "view", "size"}),
        (".gif", "corner", {}, {"name", "date", "without", "height", "distance", "field", "photo", "song", "silent"}),
        (".png", "street", {"picture": True}, {"name", "date", "without", "start", "stop", "song", "silent"}),
        (".mp4", "street", {"through_photo": True}, {"name", "date", "without", "height", "distance", "field"}),
        (
            ".png",
            "street",
            {"as_score": True, "picture": True},
            {"name", "date", "without", "moments", "view", "size", "height", "distance", "field", "photo", "song"}
            | {"silent"},
        ),
    ],
)
def test_what_changes_nothing_in_a_picture_a_clip_or_a_page(kind, view, how, idle):
    assert set(_idle(kind, view, **USUAL | how)) == idle


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["layout", "HOUSE", "--view", "plan", "--json", "--wiring"], ["--view changes nothing", "--wiring changes"]),
        (["limits", "HOUSE", "--distance", "5"], ["--distance changes nothing here: flashes are looked for in FRAMES"]),
        (["beats", "no.wav", "--salvage", "new.flac", "--tempo", "90"], ["--tempo changes nothing here"]),
        (["watch", "a.show.toml", "-l", "HOUSE", "--once", "--lan"], ["--lan changes nothing here: --once opens"]),
        (["survey", "no.toml", "--photo", "x"], ["--photo changes nothing here: it says which photo --picture"]),
        (["retarget", "a.show.toml", "--from", "HOUSE", "--to", "HOUSE", "--fps", "20"], ["--fps changes"]),
    ],
)  # fmt: skip
def test_every_command_tells_what_changes_nothing(eavesong, tmp_path, monkeypatch, words, told):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "house.toml").write_text(LINE)
    ended = eavesong(*(word.replace("HOUSE", "house.toml") for word in words))
    for line in told:
        assert line in ended.err


def test_a_song_is_not_given_to_a_setlist(eavesong, tmp_path):
    (tmp_path / "evenings.toml").write_text('[[song]]\nsong = "a.wav"\n')
    for words in (("--song", "b.wav"), ("--from", "1:00")):
        ended = eavesong("play", tmp_path / "evenings.toml", *words)
        assert (ended.code, "--song, --from and --calibrate are for one frames file" in ended.err) == (2, True)
