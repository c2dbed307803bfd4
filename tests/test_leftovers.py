"""What killed runs leave is removed by the next one; what the living hold, and what others made, stays."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from eavesong.files import write_whole
from eavesong.leftovers import ABANDONED, LOCK, beside, clear_left, clear_once, fitting_name, mark

DRAFT = """
import sys, os
from pathlib import Path
from eavesong.files import whole_file
from eavesong.leftovers import marked_folder, LOCK
from eavesong.season.locks import held
folder = Path(sys.argv[1])
with held(folder / f".song.h5{LOCK}"), whole_file(folder / "song.h5") as draft, marked_folder("batch") as temporary:
    draft.write_text("half of it")
    Path(temporary, "0").write_text("rendering")
    Path(f"/dev/shm/sem.loky-{os.getpid()}-test").touch()
    print(os.getpid(), flush=True)
    sys.stdin.read()
"""


@pytest.fixture
def writer(tmp_path: Path):
    """A process in the middle of a file, its lock and a temporary folder below ``temporary``."""
    (tmp_path / "temporary").mkdir()
    process = subprocess.Popen(
        [sys.executable, "-c", DRAFT, str(tmp_path)], stdout=subprocess.PIPE, stdin=subprocess.PIPE, text=True,
        env={**os.environ, "TMPDIR": str(tmp_path / "temporary")},
    )  # fmt: skip
    assert process.stdout is not None
    assert int(process.stdout.readline()) == process.pid
    yield process
    process.kill()
    process.communicate(timeout=300)


def files_in(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.rglob("*") if path.is_file())


def test_what_the_living_write_stays_and_what_the_killed_left_goes(tmp_path: Path, writer: subprocess.Popen) -> None:
    clear_left(tmp_path)
    clear_left(tmp_path / "temporary")
    kept = files_in(tmp_path)
    assert len(kept) == 3
    writer.send_signal(signal.SIGKILL)
    writer.wait(300)
    assert files_in(tmp_path) == kept
    clear_left(tmp_path / "temporary")
    assert files_in(tmp_path) == [name for name in kept if name.startswith(".")]
    assert not Path(f"/dev/shm/sem.loky-{writer.pid}-test").exists()
    clear_left(tmp_path)
    assert files_in(tmp_path) == []


def test_whoever_writes_there_next_removes_it(tmp_path: Path, writer: subprocess.Popen) -> None:
    writer.send_signal(signal.SIGKILL)
    writer.wait(300)
    write_whole(tmp_path / "other.txt", "whole")
    assert files_in(tmp_path / "temporary") == ["0"]
    assert [name for name in files_in(tmp_path) if name != "0"] == ["other.txt"]


def test_a_number_given_out_again_is_not_the_process_that_had_it(tmp_path: Path) -> None:
    host, pid, born = mark().split("-")
    other = f"{int(born, 16) ^ 1:08x}"
    (tmp_path / f".a.h5.{mark()}.x.part").write_text("mine")
    (tmp_path / f".b.h5.{host}-{pid}-{other}.x.part").write_text("of somebody before me")
    clear_left(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == [f".a.h5.{mark()}.x.part"]


def test_another_computers_drafts_go_when_untouched_for_a_day(tmp_path: Path) -> None:
    old, new = (tmp_path / f".{name}.h5.00000000-1-0.x.part" for name in ("old", "new"))
    for path in (old, new):
        path.write_text("from elsewhere")
    os.utime(old, (time.time() - ABANDONED - 60,) * 2)
    clear_left(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == [new.name]


def test_what_others_made_stays(tmp_path: Path) -> None:
    names = ["song.part", ".download.part", ".yarn.lock", "eavesong-notes", ".a.1-2-3.x.part", "a.h5"]
    for name in names:
        (tmp_path / name).write_text("not ours")
    clear_left(tmp_path)
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(names)


def test_a_link_in_the_place_of_a_lock_is_not_followed(tmp_path: Path) -> None:
    (tmp_path / "diary.txt").write_text("dear diary")
    (tmp_path / f".a{LOCK}").symlink_to("diary.txt")
    clear_left(tmp_path)
    assert (tmp_path / "diary.txt").read_text() == "dear diary"


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    clear_left(tmp_path / "none")
    clear_once(tmp_path / "none")


@pytest.mark.parametrize("name", ["灯" * 84 + "x.h5", "a" * 251 + ".h5", "灯" * 120 + ".h5", "é" * 400])
def test_names_are_made_to_fit(tmp_path: Path, name: str) -> None:
    """NAME_MAX is 255 bytes on Linux (limits.h)."""
    fitting = fitting_name(name)
    assert len(fitting.encode()) <= 255
    assert (fitting == name) == (len(name.encode()) <= 255)
    assert Path(fitting).suffix == Path(name).suffix
    assert fitting_name("x" + name) != fitting
    write_whole(tmp_path / fitting, "written")
    beside(tmp_path / fitting, LOCK).write_text("")
    assert (tmp_path / fitting).read_text() == "written"
