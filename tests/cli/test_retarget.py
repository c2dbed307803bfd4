"""``eavesong retarget``: reports in three shapes, frames copied, exit codes."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from eavesong.cli.retarget import command
from eavesong.errors import ShowError
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


def test_a_setlist_is_told_which_command_takes_it(street: Street, tmp_path: Path) -> None:
    setlist = tmp_path / "two words.toml"
    setlist.write_text('show = "a.show.toml"\n[[song]]\nsong = "a.wav"\n')
    ran = CliRunner().invoke(command, [str(setlist), "--from", str(street.old), "--to", str(street.old)])
    assert isinstance(ran.exception, ShowError)
    assert "is a setlist" in str(ran.exception)
    assert f"eavesong batch '{setlist}'" in str(ran.exception)
