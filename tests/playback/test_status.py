"""What is told while playing: a line of 79 letters, and events."""

import io
import json
from pathlib import Path

from eavesong.playback.status import WIDTH, State, Status, line, plain
from playback.helpers import SimTime


def test_the_line_says_where_the_song_is() -> None:
    told = line(State(song="Frost", position=83.0, end=200.0, bar=12, sent=9, off=2))
    assert told.startswith("Frost  1:23/3:20  bar 12  sent 9  dropped 0")
    assert told.endswith("2 off")


def test_a_look_that_goes_on_has_no_length_and_no_bar() -> None:
    told = line(State(song="Look", position=-0.5))
    assert told.startswith("Look  0:00  sent 0")
    assert "bar" not in told


def test_a_long_title_gets_what_is_left() -> None:
    told = line(State(song="A very long title of a song " * 4, position=83.0))
    assert len(told) == WIDTH
    assert "…  1:23" in told


def test_what_commands_a_terminal_is_left_out() -> None:
    assert plain("Fro\x1b[2Jst\nnext") == "Fro [2Jst\nnext"


def test_events_go_to_plain_output_and_to_the_log(time: SimTime, tmp_path: Path) -> None:
    out, log = io.StringIO(), tmp_path / "log.jsonl"
    status = Status(time, log=log, out=out)
    status.event("song", "Frost begins", number=1)
    status.show()
    status.close()
    assert out.getvalue() == f"{time.wall():%H:%M:%S}  Frost begins\n"
    told = [json.loads(each) for each in log.read_text().splitlines()]
    assert {"event": "song", "text": "Frost begins", "number": 1}.items() <= told[0].items()
