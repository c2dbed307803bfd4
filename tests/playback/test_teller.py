"""Telling never waits: papers that stand still, that are full, that are gone."""

import io
import json
import os
import threading
from pathlib import Path

import pytest

from eavesong.playback import teller
from eavesong.playback.status import Status
from eavesong.playback.teller import LogFile, Screen, Teller
from playback.helpers import SimTime


class Paper:
    """Takes what is written once it is let."""

    def __init__(self) -> None:
        self.free = threading.Event()
        self.texts: list[str] = []
        self.closed = False

    def write(self, text: str) -> bool:
        self.free.wait(60.0)
        self.texts.append(text)
        return True

    def close(self) -> None:
        self.closed = True


def test_everything_is_written_in_order() -> None:
    paper = Paper()
    paper.free.set()
    made = Teller(paper)
    for number in range(100):
        assert made.tell(str(number))
    assert made.close()
    assert (paper.texts, made.lost, paper.closed) == ([str(number) for number in range(100)], 0, True)


def test_a_paper_that_stands_still_is_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(teller, "PATIENCE", 0.01)
    paper = Paper()
    made = Teller(paper, room=5)
    told = [made.tell(str(number)) for number in range(100)]
    assert sum(told) in (5, 6)  # one may be in the writer's hand
    assert made.lost == 100 - sum(told)
    assert not made.close()
    paper.free.set()


def test_a_slow_paper_is_written_to_the_end() -> None:
    paper = Paper()
    made = Teller(paper)
    made.tell("last words")
    threading.Timer(0.05, paper.free.set).start()
    assert made.close()
    assert paper.texts == ["last words"]


def test_a_terminal_that_is_gone_is_left_alone() -> None:
    class Gone(io.StringIO):
        tries = 0

        def write(self, text: str) -> int:
            self.tries += 1
            raise BrokenPipeError

    out = Gone()
    screen = Screen(out)
    assert [screen.write("a"), screen.write("b")] == [False, False]
    assert out.tries == 1


def test_python_s_own_buffer_is_passed_by() -> None:
    # A thread that waits inside it would keep the interpreter from ending.
    reading, writing = os.pipe()
    with open(reading, "rb") as end, open(writing, "w", encoding="latin-1") as out:
        assert Screen(out).write("Frühling ❄\n")
        assert os.read(end.fileno(), 100) == "Frühling \\u2744\n".encode("latin-1")


def test_lines_that_a_full_disk_cut_do_not_spoil_the_next(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    log = LogFile(tmp_path / "log.jsonl")
    room = [100, 4, None, 100]

    class Disk:
        """write(2): fewer octets than asked for where there is no room for all, then ENOSPC."""

        def write(self, octets: bytes) -> int:
            left = room.pop(0)
            if left is None:
                raise OSError(28, "No space left on device")
            with (tmp_path / "log.jsonl").open("ab") as file:
                return file.write(octets[:left])

    monkeypatch.setattr(log, "_file", Disk())
    assert [log.write(f"line {number}\n") for number in range(4)] == [True, False, False, True]
    assert (tmp_path / "log.jsonl").read_text() == "line 0\nline\nline 3\n"


def test_the_log_says_how_many_lines_are_missing(
    tmp_path: Path, time: SimTime, monkeypatch: pytest.MonkeyPatch
) -> None:
    write, full = LogFile.write, True
    monkeypatch.setattr(LogFile, "write", lambda self, text: False if full else write(self, text))
    status = Status(time, log=tmp_path / "log.jsonl", quiet=True)
    for number in range(3):
        status.event("song", str(number))
    while status._log is not None and status._log.lost < 3:
        threading.Event().wait(0.001)
    full = False
    status.event("song", "3")
    status.close()
    told = [json.loads(line) for line in (tmp_path / "log.jsonl").read_text().splitlines()]
    assert [(each["event"], each.get("lines"), each.get("text")) for each in told] == [
        ("missing", 3, None), ("song", None, "3"),
    ]  # fmt: skip


def test_the_live_line_does_not_pile_up(time: SimTime, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(teller, "PATIENCE", 0.01)
    free = threading.Event()

    class Halted(io.StringIO):
        def isatty(self) -> bool:
            return True

        def write(self, text: str) -> int:
            free.wait(60.0)
            return len(text)

    status = Status(time, out=Halted())
    for _ in range(1000):
        status.show()
    assert status._screen is not None
    assert status._screen.waiting <= 1
    status.close()
    free.set()
