"""Staying inside from end to end: what `render --limit --soften` writes, `limits` passes."""

import wave

import numpy as np
import pytest

from eavesong.cli import main
from eavesong.frames import open_frames
from eavesong.layout import load_layout
from eavesong.limits import Assumptions, limits

HOUSE = """\
title = "A row"
[[prop]]
name = "eaves"
shape = "line"
to = [6, 0]
pixels = 60
[[controller]]
name = "box"
[[controller.output]]
number = 1
order = "GRB"
chain = ["eaves"]
[[supply]]
name = "one"
volts = 5
watts = 10
[[supply.feed]]
controller = "box"
output = 1
"""
LEVEL = "level = edge(fract(beat * 4), 0.5)\ncolour = rgb(1, 1, 1)\n"
STROBE = f'title = "Strobe"\nabout = "On and off."\ncode = """\n{LEVEL}"""\n'
SHOW = 'title = "Strobe"\nsong = "song.wav"\n[[cue]]\nname = "All of it"\neffect = "strobe.toml"\nbars = [2, 3]\n'


@pytest.fixture
def folder(tmp_path, monkeypatch):
    with wave.open(str(tmp_path / "song.wav"), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(22_050)
        file.writeframes((3000 * np.sin(np.arange(6 * 22_050) / 20)).astype("<i2").tobytes())
    (tmp_path / "song.beats").write_text("".join(f"{n / 2}\t{n % 4 + 1}\n" for n in range(12)))
    (tmp_path / "song.sections").write_text("0.0\t6.0\tall\n")
    (tmp_path / "strobe.toml").write_text(STROBE)
    (tmp_path / "row.show.toml").write_text(SHOW)
    (tmp_path / "house.toml").write_text(HOUSE)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def render(*options):
    with pytest.raises(SystemExit) as end:
        main(["render", "row.show.toml", "-l", "house.toml", "-o", "out.h5", *options])
    return int(end.value.code or 0)


def report():
    with open_frames("out.h5") as frames:
        return limits(load_layout("house.toml"), frames), frames.frames[:]


def test_a_strobe_is_found_softened_and_dimmed(folder, capsys):
    assert render() == 0
    plain, raw = report()
    about = {finding.about for finding in plain.findings if not finding.warning}
    assert {"flashes", "supply"} <= about
    (episode,) = plain.flashes.episodes
    assert episode.start.cues == ("cue 1 'All of it'",)
    assert episode.transitions == 16  # eight flashes a second: two beats of four
    assert render("--soften", "--limit", "supply") == 0
    assert "softened" in capsys.readouterr().out
    inside, out = report()
    assert inside.flashes.passes
    assert inside.power.supplies[0].peak <= 8.0  # four fifths of 10 W
    assert not {finding.about for finding in inside.findings if not finding.warning} & {"flashes", "supply"}
    quiet = np.r_[0:40, 200:240]  # a second at either end, far from bar 2
    assert np.array_equal(out[quiet], raw[quiet])


def test_a_range_has_the_bytes_of_the_whole(folder):
    render("--soften", "--limit", "supply")
    _, whole = report()
    render("--soften", "--limit", "supply", "--from", "2.5", "--to", "3.5", "--workers", "1")
    _, part = report()
    assert np.array_equal(part, whole[100:140])


def test_what_softening_leaves_is_checked_from_where_it_looked(folder):
    """The layout says where eyes are; a check from elsewhere that finds more says what to write, and asks for nothing
    that was done."""
    (folder / "house.toml").write_text("watched_from = 6\n" + HOUSE)
    render("--soften")
    assert report()[0].flashes.passes
    assert report()[0].flashes.distance == 6
    render()
    assert any("Render with --soften" in finding.instead for finding in report()[0].findings)
    with open_frames("out.h5") as frames:
        elsewhere = limits(load_layout("house.toml"), frames, Assumptions(distance=3))
        farther = limits(load_layout("house.toml"), frames, Assumptions(distance=8))
    assert any("'watched_from' (3 m in its units)" in finding.instead for finding in elsewhere.findings)
    assert any("Render with --soften" in finding.instead for finding in farther.findings)  # for the nearest eyes there


def test_a_limit_that_cannot_be_read_ends_with_3(folder, capsys):
    assert render("--limit", "suply") == 3
    assert "Did you mean 'supply'?" in capsys.readouterr().err
