"""``eavesong retarget``: reports in three shapes, frames copied, exit codes."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from eavesong.cli.retarget import command
from eavesong.errors import ShowError
from eavesong.render import Order, render
from street import PROPS, Street, house_text


@pytest.fixture(scope="module")
def street(tmp_path_factory: pytest.TempPathFactory) -> Street:
    return Street(tmp_path_factory.mktemp("street"))


def test_the_command(street: Street, tmp_path: Path) -> None:
    new = street.layout("new.toml", house_text({name: PROPS[name] for name in ("gutter", "fir")}))
    base = [str(street.show), "--from", str(street.old), "--to", str(new)]
    page, data = tmp_path / "report.html", tmp_path / "report.json"
    ran = CliRunner().invoke(
        command, [*base, "--frames", str(street.frames), "--out", str(tmp_path / "new.h5"), "--report", str(page)]
    )
    assert ran.exit_code == 1, ran.output  # there is no arch any more, so its cue falls back on the fir
    assert "60 of 100 pixels copied, 1 prop rendered" in ran.output
    assert page.read_text().startswith("<!doctype html>")
    ran = CliRunner().invoke(command, [*base, "--json", "--report", str(data)])
    assert json.loads(ran.output) == json.loads(data.read_text())
    assert CliRunner().invoke(command, [*base, "--report", "x.doc"]).exit_code == 2
    assert CliRunner().invoke(command, [*base, "--frames", "x.h5"]).exit_code == 2
    same = [str(street.show), "--from", str(street.old), "--to", str(street.old), "--quiet"]
    assert CliRunner().invoke(command, same).exit_code == 0
    assert "--from and --to are one file" in CliRunner().invoke(command, same[:-1]).output


def test_a_setlist_is_told_which_command_takes_it(street: Street, tmp_path: Path) -> None:
    setlist = tmp_path / "two words.toml"
    setlist.write_text('show = "a.show.toml"\n[[song]]\nsong = "a.wav"\n')
    ran = CliRunner().invoke(command, [str(setlist), "--from", str(street.old), "--to", str(street.old)])
    assert isinstance(ran.exception, ShowError)
    assert "is a setlist" in str(ran.exception)
    assert f"eavesong batch '{setlist}'" in str(ran.exception)


def test_frames_that_lose_a_limit_are_told(street: Street, tmp_path: Path) -> None:
    """The old frames had none, and what is kept is what was asked for there."""
    out = tmp_path / "new.h5"
    render(Order.of(street.show, street.old, limit=("house:4W",)), out)
    ran = CliRunner().invoke(
        command,
        [str(street.show), "--from", str(street.old), "--to", str(street.old), "--frames", str(street.frames),
         "--out", str(out)],
    )  # fmt: skip
    assert "the frames that were there before were made otherwise: limit house:4W, now no limit" in ran.output


STROBE = 'title = "Strobe"\nabout = "x"\ncode = "level = step(0.5, fract(4 * beat))\\ncolour = rgb(1, 1, 1)"\n'


def test_frames_that_flash_too_often_are_told_and_end_with_1(street: Street, tmp_path: Path) -> None:
    """Eight flashes a second; WCAG 2.2, 2.3.1 lets three pass. Where the show means them, nothing is said."""
    (street.folder / "strobe.toml").write_text(STROBE)
    show = street.folder / "strobe.show.toml"
    show.write_text('song = "song.wav"\n[[cue]]\neffect = "strobe.toml"\n')
    out, data = tmp_path / "new.h5", tmp_path / "report.json"
    asked = [str(show), "--from", str(street.old), "--to", str(street.old), "--out", str(out), "--report", str(data)]
    ran = CliRunner().invoke(command, asked)
    assert ran.exit_code == 1
    assert "Flashes: more than three flashes in a second, first in the one from 0:00" in ran.output
    assert json.loads(data.read_text())["flashes"]
    show.write_text("allow_flashes = true\n" + show.read_text())
    assert CliRunner().invoke(command, asked).exit_code == 0


def test_frames_tell_the_house_that_they_were_made_for(street: Street, tmp_path: Path) -> None:
    new = street.layout("new.toml", house_text(PROPS).replace("at = [2, 0, 2]", "at = [2, 0, 2.5]"))
    asked = [str(street.show), "--to", str(new), "--out", str(tmp_path / "new.h5")]
    ran = CliRunner().invoke(command, [*asked, "--from", str(street.frames)])
    assert ran.exit_code == 0, ran.output
    assert "from   House (old.toml)" in ran.output
    assert "arch: moved by (+0.00, +0.00, +0.50) m" in ran.output
    assert "No pixel was copied" not in ran.output
    assert "pixels copied" in ran.output
