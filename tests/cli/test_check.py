"""``eavesong check`` from end to end, on a song of our own making."""

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from eavesong.cli.check import command
from eavesong.errors import ShowError


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, house_text: str, wash_text: str) -> Path:
    """A house, an effect, and eight seconds of clicks with a beats text beside: four bars at 120 beats a minute."""
    import soundfile

    monkeypatch.setenv("EAVESONG_CACHE", str(tmp_path / "cache"))
    clicks = np.zeros(8 * 22050, np.float32)
    for beat in range(16):
        clicks[beat * 11025 : beat * 11025 + 200] = 0.5
    soundfile.write(tmp_path / "clicks.wav", clicks, 22050)
    (tmp_path / "clicks.beats").write_text("".join(f"{beat / 2}\t{beat % 4 + 1}\n" for beat in range(16)))
    (tmp_path / "house.toml").write_text(house_text)
    (tmp_path / "own wash.toml").write_text(wash_text)
    return tmp_path


def run(folder: Path, keys: str, *options: str) -> Result:
    show = folder / "clicks.show.toml"
    show.write_text(f"song = 'clicks.wav'\n[[cue]]\neffect = 'own wash.toml'\n{keys}\n")
    return CliRunner().invoke(command, [str(show), "--layout", str(folder / "house.toml"), *options])


def test_all_well(folder: Path) -> None:
    result = run(folder, "bars = [1, 5]")
    assert result.exit_code == 0
    assert "bars 1 to 5 (0:00.00 to 0:08.00)" in result.output
    assert "Nothing to look at." in result.output


def test_something_to_look_at(folder: Path) -> None:
    result = run(folder, "bars = [1, 3]", "--json")
    assert result.exit_code == 1
    dark = {"start": 4, "end": 8, "start_bar": "3", "end_bar": "5", "to_the_end": True}
    assert json.loads(result.stdout)["dark_times"] == [dark]


def test_a_file_that_cannot_be_used(folder: Path) -> None:
    # The group of commands prints the error and ends with its exit code, 3.
    result = run(folder, "bars = [3, 3]")
    assert isinstance(result.exception, ShowError)
    assert "line 4, cue 1, bars 1: [3, 3] has no length" in str(result.exception)


def test_another_song(folder: Path) -> None:
    (folder / "clicks.wav").rename(folder / "other.wav")
    (folder / "clicks.beats").rename(folder / "other.beats")
    assert run(folder, "", "--song", str(folder / "other.wav")).exit_code == 0
