"""Locks that only the living hold."""

import errno
import os
import signal
import subprocess
import sys
import threading
import time
import warnings
from pathlib import Path

import pytest

from eavesong.errors import OutputError
from eavesong.season.locks import NO_LOCKS, held

HOLD = "import sys, time; from pathlib import Path; from eavesong.season.locks import held\n"
HOLD += "with held(Path(sys.argv[1])):\n    print('held', flush=True)\n    time.sleep(60)\n"


def test_one_at_a_time_and_nothing_left(tmp_path: Path) -> None:
    path, inside, most = tmp_path / ".lock", [], []

    def work() -> None:
        with held(path):
            inside.append(1)
            most.append(len(inside))
            time.sleep(0.01)
            inside.pop()

    threads = [threading.Thread(target=work) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert most == [1] * 6
    assert list(tmp_path.iterdir()) == []


def test_a_killed_process_holds_nothing(tmp_path: Path) -> None:
    path = tmp_path / ".lock"
    process = subprocess.Popen([sys.executable, "-c", HOLD, str(path)], stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    assert process.stdout.readline() == "held\n"
    waited: list[str] = []
    killer = threading.Timer(0.3, process.send_signal, [signal.SIGKILL])
    killer.start()
    with held(path, lambda: waited.append("waiting")):
        assert waited == ["waiting"]
    process.wait(300)


def test_a_file_left_behind_holds_nothing(tmp_path: Path) -> None:
    path = tmp_path / ".lock"
    path.write_text("what some process wrote before it was killed")
    waited: list[str] = []
    with held(path, lambda: waited.append("waiting")):
        assert path.exists()
    assert waited == []
    assert not path.exists()


def test_an_error_inside_lets_go(tmp_path: Path) -> None:
    path = tmp_path / ".lock"
    with pytest.raises(OSError, match="disk"), held(path):
        raise OSError(errno.ENOSPC, "the disk is full")
    with held(path):
        assert path.exists()


@pytest.mark.parametrize("number", NO_LOCKS)
def test_a_folder_without_locks_is_used_without(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int) -> None:
    def refuse(*_: object) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr("fcntl.flock", refuse)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        with held(tmp_path / ".lock"), held(tmp_path / ".lock"):
            pass
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_may_only_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(errno.EROFS, "Read-only file system")

    monkeypatch.setattr("os.open", refuse)  # as root, no mode of a folder would stop us
    with pytest.raises(OutputError, match="cannot be written to: Read-only"), held(tmp_path / ".lock"):
        pass


def test_a_place_that_cannot_be_written_to(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="cannot be written to"), held(tmp_path / "missing" / ".lock"):
        pass
    assert not (tmp_path / "missing").exists()
