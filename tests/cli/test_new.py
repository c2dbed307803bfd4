"""``eavesong new``: files to begin with, which are read without a problem, and never in the place of others."""

import pytest
from click.testing import CliRunner

from eavesong.cli.new import command, in_units
from eavesong.layout import load_layout
from eavesong.season.setlist import load_setlist
from eavesong.show import load_show


def test_what_is_written_can_be_read(tmp_path):
    folder = tmp_path / "ours"
    ran = CliRunner().invoke(command, [str(folder), "--title", "Mill Lane", "--trees", "2", "--arches", "4"])
    assert ran.exit_code == 0, ran.output
    house = next(path for path in folder.glob("*.toml") if "[[prop]]" in path.read_text())
    layout = load_layout(house)
    assert layout.title == "Mill Lane"
    assert sum("arch" in prop.tags for prop in layout.props) == 4
    (show,) = folder.glob("*.show.toml")
    assert load_show(show).cues
    setlist = next(path for path in folder.glob("*.toml") if "[[song]]" in path.read_text())
    assert load_setlist(setlist).songs


def test_the_lines_that_are_printed_lead_from_the_house_to_a_rehearsal(tmp_path):
    """Every one is a command that can be read, in order, and each needs only what those before it made."""
    import shlex

    from eavesong.cli import group

    (tmp_path / "bells.flac").touch()
    ran = CliRunner().invoke(command, [str(tmp_path / "our house"), "--song", "../bells.flac"])
    assert f"Copy {tmp_path / 'bells.flac'} to " in ran.output  # as it is found from here
    lines = [shlex.split(line) for line in ran.output.splitlines() if line.startswith("  eavesong ")]
    assert [words[1] for words in lines] == ["layout", "check", "render", "preview", "play", "listen"]
    there = {str(path) for path in (tmp_path / "our house").iterdir()}
    for words in lines:
        taken = group.get_command(None, words[1]).make_context(words[1], words[2:]).params
        needed = [str(taken[key]) for key in ("file", "show", "layout", "path") if taken.get(key)]
        assert set(needed) <= there
        there |= {str(taken[key]) for key in ("drawing", "out") if taken.get(key)}


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--width", "36ft"], "the house, in metres, or begin with --units ft: change"),
        (["--width", "36ft", "--units", "ft"], "the house, in feet: change"),
        (["--width", "11m"], "the house, in metres: change"),
    ],
)
def test_the_unit_of_the_file_is_told(tmp_path, words, told):
    assert told in CliRunner().invoke(command, [str(tmp_path / "ours"), *words]).output


def test_nothing_is_overwritten(tmp_path):
    first = CliRunner().invoke(command, [str(tmp_path)])
    assert first.exit_code == 0
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    CliRunner().invoke(command, [str(tmp_path), "--title", "Another"])
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


@pytest.mark.parametrize(
    ("text", "units", "length"),
    [
        ("11", "m", 11), ("11m", "m", 11), ("11,5 m", "m", 11.5), ("1150cm", "m", 11.5), ("36 ft", "ft", 36),
        ("36'", "m", 10.9728), ("36", "ft", 36), ("10 metres", "ft", 32.8084), ("40'6\"", "ft", 40.5),
        ("40 ft 6 in", "ft", 40.5), ("7 feet 10 1/2 inches", "ft", 7.875),
    ],
)  # fmt: skip
def test_lengths_are_read_as_people_write_them(text, units, length):
    """0.3048 m a foot: international yard and pound agreement, 1959."""
    assert in_units(text, units) == pytest.approx(length, abs=1e-4)


@pytest.mark.parametrize("text", ["wide", "11 yards", "-3", "1,2,3", "0", "5000", "950", "1,250"])
def test_what_is_no_length_of_a_house_is_told(tmp_path, text):
    ran = CliRunner().invoke(command, [str(tmp_path / "ours"), f"--width={text}"])
    assert ran.exit_code == 2
    assert "--width" in ran.output


def test_a_width_with_its_unit_is_taken(tmp_path):
    assert CliRunner().invoke(command, [str(tmp_path), "--width", "12m", "--units", "ft"]).exit_code == 0
    assert load_layout(tmp_path / "house.toml").frame.size[0] == pytest.approx(12, abs=0.2)
