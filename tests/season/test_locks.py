"""Locks that only the living hold."""

import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from eavesong.season.locks import held
from eavesong.season.work import clear_drafts
from eavesong.errors import OutputError

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
    process.wait(10)


def test_a_place_that_cannot_be_written_to(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="cannot be written to"), held(tmp_path / "missing" / ".lock"):
        pass


def test_only_the_drafts_of_one_file_are_cleared(tmp_path: Path) -> None:
    names = (
        ".a.h5.batch",
        "..a.h5.batch.x1.part",
        "..a.h5.batch.x2.part",
        "..b.h5.batch.x3.part",
        ".a.h5.x4.part",
        "a.h5",
    )
    for name in names:
        (tmp_path / name).write_text("")
    clear_drafts(tmp_path / ".a.h5.batch")
    assert {path.name for path in tmp_path.iterdir()} == {"..b.h5.batch.x3.part", ".a.h5.x4.part", "a.h5"}
