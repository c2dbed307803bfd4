"""``eavesong new``: files to begin with, which are read without a problem, and never in the place of others."""

from click.testing import CliRunner

from eavesong.cli.new import command
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


def test_nothing_is_overwritten(tmp_path):
    first = CliRunner().invoke(command, [str(tmp_path)])
    assert first.exit_code == 0
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    CliRunner().invoke(command, [str(tmp_path), "--title", "Another"])
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before
