"""Playing needs no more than the extra 'player' names: no compiler, no decoder, nothing that hears or draws."""

import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from elsewhere import without
from playback.helpers import house, moving, write_frames

PROJECT = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text(encoding="utf-8"))["project"]
EVENING = '[evening]\nstart = "00:00"\nend = "23:59"\nidle = "gold"\n[[song]]\nframes = "frost.h5"\n'
MODULES = {"pillow": "PIL", "lazy-loader": "lazy_loader"}
"""What packages are called inside Python, where that differs."""


def modules(requirements: list[str]) -> set[str]:
    names = (requirement.partition(">")[0].partition("[")[0] for requirement in requirements)
    return {MODULES.get(name, name) for name in names}


HIDDEN = modules(PROJECT["dependencies"]) - modules(PROJECT["optional-dependencies"]["player"]) | {"llvmlite"}


def test_the_extra_leaves_out_what_is_large() -> None:
    assert {"numba", "scipy", "av", "librosa", "PIL"} <= HIDDEN
    assert modules(PROJECT["optional-dependencies"]["player"]) <= modules(PROJECT["dependencies"])


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        ("play frost.h5 --silent --to 127.0.0.1", 0, "end of Frost"),
        ("play december.toml --dry-run", 0, "frost"),
        ("info frost.h5", 0, "Frost"),
        ("preview frost.h5 --out a.png", 3, "This command needs all of eavesong: pip install eavesong"),
    ],
)
def test_what_plays_works_without_and_what_does_not_says_so(tmp_path: Path, words: str, code: int, told: str) -> None:
    described = house(title="Frost", frame_rate=10.0, pixels=20)
    write_frames(tmp_path / "frost.h5", described, moving(described, 20))
    (tmp_path / "december.toml").write_text(EVENING)
    (tmp_path / "site").mkdir()
    environment = without(HIDDEN, tmp_path / "site") | {"XDG_DATA_HOME": str(tmp_path)}
    command = [sys.executable, "-m", "eavesong", *words.split()]
    done = subprocess.run(command, cwd=tmp_path, env=environment, capture_output=True, text=True, timeout=300)
    assert (done.returncode, told in done.stdout + done.stderr) == (code, True), done.stdout + done.stderr
