"""A small season: songs of a few seconds, a house of three props, a show of two cues; and a way to run the command."""

import hashlib
import io
import os
import subprocess
import sys
from collections.abc import Callable, Sequence
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from eavesong.cli import main
from eavesong.season import Outcome, Task, local
from eavesong.season.local import Seen
from eavesong.season.work import work
from playback.helpers import RememberingLinks, SimTime

HOUSE = """
title = "Hut"
[frame]
from = [0, 0, 0]
to = [6, 4, 2]
[[prop]]
name = "gutter"
shape = "line"
from = [0, 3, 1]
to = [6, 3, 1]
pixels = 60
tags = ["eaves", "roofline"]
[[prop]]
name = "arch"
shape = "arch"
at = [2, 0, 2]
width = 1
height = 1
pixels = 20
tags = ["arch", "ground"]
[[prop]]
name = "fir"
shape = "cone"
at = [5, 0, 1]
height = 2
base = 1
strings = 4
pixels = 10
tags = ["tree"]
"""

SHOW = """
title = "Two cues"
[[cue]]
effect = "gradient"
[[cue]]
effect = "crossing"
on = ["roofline", "upper"]
sections = "chorus"
blend = "plus-lighter"
"""

RATE = 8000


def write_song(path: Path, seconds: float = 4.0, pitch: float = 220.0, beats: bool = True) -> Path:
    """A tone that dies away on every beat, 120 a minute, with its texts beside it."""
    import soundfile

    t = np.arange(round(seconds * RATE)) / RATE
    sound = 0.5 * np.exp(-6 * (t % 0.5)) * np.sin(2 * np.pi * pitch * t)
    soundfile.write(path, sound.astype(np.float32), RATE, "PCM_16", format="WAV")
    if beats:
        count = int(seconds * 2)
        path.with_suffix(".beats").write_text("".join(f"{n / 2}\t{n % 4 + 1}\n" for n in range(count)))
        path.with_suffix(".sections").write_text(f"0.0\t{seconds / 2}\tverse\n{seconds / 2}\t{seconds}\tchorus\n")
    return path


@dataclass(frozen=True)
class Season:
    """A folder with a setlist and all it names."""

    folder: Path

    @property
    def setlist(self) -> Path:
        return self.folder / "season.toml"

    def write(self, songs: list[str], keys: str = "") -> Path:
        """A setlist of these songs, one show and one house for all; ``keys`` go to the top."""
        top = f'show = "two.show.toml"\nlayout = "hut.toml"\nframes = "frames"\n{keys}\n'
        self.setlist.write_text(top + "".join(f'[[song]]\nsong = "{name}"\n' for name in songs))
        return self.setlist

    def command(self, *more: str) -> list[str]:
        return [sys.executable, "-m", "eavesong", "batch", str(self.setlist), *more]

    def run(self, *more: str, **environment: str) -> subprocess.CompletedProcess[str]:
        """Run the command to its end."""
        return subprocess.run(
            self.command(*more), capture_output=True, text=True, timeout=300, env={**os.environ, **environment}
        )

    def here(self, *more: str) -> subprocess.CompletedProcess[str]:
        """The same in this process."""
        out, err = io.StringIO(), io.StringIO()
        with redirect_stdout(out), redirect_stderr(err), pytest.raises(SystemExit) as end:
            main(["batch", str(self.setlist), *more])
        return subprocess.CompletedProcess([], int(end.value.code or 0), out.getvalue(), err.getvalue())

    def digests(self) -> dict[str, str]:
        """SHA-256 of every file in the folder for frames, by name, hidden ones too."""
        files = sorted((self.folder / "frames").rglob("*"))
        return {file.name: hashlib.sha256(file.read_bytes()).hexdigest() for file in files if file.is_file()}


@pytest.fixture
def time() -> SimTime:
    """Simulated clocks."""
    return SimTime()


@pytest.fixture
def network(time: SimTime) -> RememberingLinks:
    """A network that remembers what was sent."""
    return RememberingLinks(time)


@pytest.fixture(autouse=True)
def _own_installation(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """No test touches the CID of whoever runs it."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path_factory.mktemp("data")))


@pytest.fixture
def in_process(monkeypatch: pytest.MonkeyPatch) -> None:
    """Songs are done one after the other in this process, by what workers do, where processes are not the point."""

    def run_local(tasks: Sequence[Task], workers: int, done: Callable[[Outcome], None], seen: Seen) -> None:
        for task in tasks:
            done(work(task, lambda stage, done, total, number=task.number: seen(number, stage, done, total)))

    monkeypatch.setattr(local, "run_local", run_local)


@pytest.fixture
def season(tmp_path: Path) -> Callable[..., Season]:
    """Makes a season of so many songs."""

    def make(count: int = 2, name: str = "season", seconds: float = 4.0) -> Season:
        folder = tmp_path / name
        folder.mkdir()
        (folder / "hut.toml").write_text(HOUSE)
        (folder / "two.show.toml").write_text(SHOW)
        made = Season(folder)
        songs = [write_song(folder / f"song-{n}.wav", seconds, 220.0 + 20 * n).name for n in range(count)]
        made.write(songs)
        return made

    return make
