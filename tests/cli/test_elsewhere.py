"""The whole job on a Python that has no more than Windows, or macOS, has."""

import subprocess
import sys
from pathlib import Path

import pytest

from elsewhere import RESERVED, like
from season.conftest import HOUSE, SHOW, write_song

CHAIN = '[[controller]]\nname = "box"\naddress = "127.0.0.1"\n[[controller.output]]\nnumber = 1\n'
JOB = [
    "new home",
    "layout hut.toml --draw hut.png",
    "beats song.wav --picture song.png",
    "check two.show.toml --layout hut.toml --song song.wav",
    "render two.show.toml --layout hut.toml --song song.wav --out a.h5",
    "render two.show.toml --layout hut.toml --song song.wav --out a.h5",  # in its own place
    "info a.h5",
    "limits hut.toml a.h5 --page limits.html --parts parts.csv",
    "preview a.h5 --out a.html",
    "preview a.h5 --out a.png --at 1",
    "batch season.toml --workers 1",
    "batch season.toml --workers 1",
    "retarget two.show.toml --from hut.toml --to hut2.toml --frames a.h5 --out b.h5 --song song.wav --report b.html",
    "play a.h5 --silent --to 127.0.0.1 --log play.jsonl",
    "identify --layout hut.toml gutter --seconds 0.2",
]
ON_MACOS = [line for line in JOB if line.split()[0] in ("new", "render", "batch", "retarget", "play", "identify")]
"""What has to do with files, processes and networks: what macOS lacks of Python is little, and most is of these."""
WORK = """
import sys
from eavesong.cli import main
for line in sys.argv[1:]:
    try:
        main(line.split())
    except SystemExit as end:
        print("ended", end.code, line, flush=True)
"""


@pytest.fixture
def home(tmp_path: Path) -> Path:
    folder = tmp_path / "home"
    folder.mkdir()
    wired = HOUSE + CHAIN + 'chain = ["gutter", "arch", "fir"]\n'
    (folder / "hut.toml").write_text(wired)
    (folder / "hut2.toml").write_text(wired.replace("pixels = 60", "pixels = 61"))
    (folder / "two.show.toml").write_text(SHOW)
    write_song(folder / "song.wav", 2.0)
    head = 'show = "two.show.toml"\nlayout = "hut.toml"\nframes = "frames"\npages = "pages"\n'
    (folder / "season.toml").write_text(head + '[[song]]\nsong = "song.wav"\n')
    return folder


@pytest.mark.skipif(sys.platform != "linux", reason="what other systems lack is hidden on the one that has most")
@pytest.mark.parametrize(("system", "job"), [("windows", JOB), ("macos", ON_MACOS)], ids=["windows", "macos"])
def test_nothing_that_another_system_lacks_is_needed(home: Path, tmp_path: Path, system: str, job: list[str]) -> None:
    (tmp_path / "site").mkdir()
    environment = like(system, tmp_path / "site") | {"XDG_DATA_HOME": str(tmp_path / "data")}
    command = [sys.executable, "-X", "warn_default_encoding", "-W", "always::EncodingWarning", "-c", WORK, *job]
    done = subprocess.run(command, cwd=home, env=environment, capture_output=True, text=True, timeout=600)
    ended = [line.split(maxsplit=2) for line in done.stdout.splitlines() if line.startswith("ended ")]
    assert [line for _, _, line in ended] == job
    # Only of a house without supplies is there something to say: 1.
    assert [line for _, code, line in ended if code != "0" and not line.startswith("limits")] == [], done.stderr
    assert "itself has a fault" not in done.stderr
    # Text is UTF-8 whatever a system's own encoding is (PEP 597).
    assert [line for line in done.stderr.splitlines() if "EncodingWarning" in line and "/eavesong/" in line] == []
    names = [path.relative_to(home).as_posix() for path in home.rglob("*")]
    assert len({name.lower() for name in names}) == len(names)
    parts = {part for name in names for part in name.lower().split("/")}
    assert not [part for part in parts if part.partition(".")[0] in RESERVED or set(part) & set('<>:"\\|?*')]
    assert not [part for part in parts if part.endswith((" ", "."))]


PROBE = """
import sys
asked = {"__name__": "eavesong.probe"}
for code in ("import fcntl", "import os; os.fork", "import os, signal; signal.SIGHUP",
             "import os; opened = open('a'); os.replace('b', 'a')", "import os; os.getpid(); from pathlib import Path"):
    try:
        exec(code, asked)
        print("there")
    except (ImportError, AttributeError, PermissionError) as fault:
        print(type(fault).__name__)
import fcntl, os
print(os.fork.__name__)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="what other systems lack is hidden on the one that has most")
def test_what_is_hidden_is_hidden_from_eavesong_alone(tmp_path: Path) -> None:
    for name in ("a", "b"):
        (tmp_path / name).touch()
    for system, told in (
        ("windows", "ModuleNotFoundError AttributeError AttributeError PermissionError there fork"),
        ("macos", "there there there there there fork"),
    ):
        done = subprocess.run(
            [sys.executable, "-c", PROBE], cwd=tmp_path, env=like(system, tmp_path), capture_output=True, text=True
        )
        assert done.stdout.split() == told.split(), done.stderr
