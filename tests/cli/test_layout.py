"""``eavesong layout``: the summary on the terminal, the drawing in its file."""

import json

import pytest
from click.testing import CliRunner

from eavesong.cli.layout import command
from street import PROPS, house_text

WIRED = house_text(PROPS)


def test_the_command_prints_and_draws(tmp_path):
    (tmp_path / "house.toml").write_text(WIRED)
    drawing = tmp_path / "house.svg"
    told = CliRunner().invoke(command, [str(tmp_path / "house.toml"), "--draw", str(drawing), "--view", "plan"])
    assert told.exit_code == 0
    assert told.output.startswith("House\n")
    assert drawing.read_text().startswith("<svg")


@pytest.mark.parametrize("more", [[], ["--draw", "x.svg"]])
def test_the_command_prints_json_and_nothing_else(tmp_path, monkeypatch, more):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "house.toml").write_text(WIRED)
    told = CliRunner().invoke(command, ["house.toml", "--json", *more])
    assert json.loads(told.stdout)["title"] == "House"


def test_a_drawing_of_somebody_elses_stays(tmp_path):
    (tmp_path / "house.toml").write_text(WIRED)
    (tmp_path / "house.svg").write_text("drawn by hand")
    asked = [str(tmp_path / "house.toml"), "--draw", str(tmp_path / "house.svg")]
    refused = CliRunner().invoke(command, asked)
    assert "is there already" in str(refused.exception)
    assert (tmp_path / "house.svg").read_text() == "drawn by hand"
    assert CliRunner().invoke(command, [*asked, "--overwrite"]).exit_code == 0
