"""What people see of a batch, on a terminal and in a log."""

import pytest

from eavesong.scene import Order
from eavesong.season import Outcome, Task
from eavesong.season.fresh import FORCED, NEW
from eavesong.season.watch import Progress, outcome_line


class Clock:
    now = 100.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def told() -> list[str]:
    return []


def watch(told: list[str], clock: Clock, live: bool) -> Progress:
    tasks = [Task(n, name, Order("", "", ""), "") for n, name in enumerate(("Bells", "Frost", "A name " * 9))]
    return Progress(tasks, told.append, live, {0: 100.0, 1: 100.0, 2: 200.0}, clock)


def test_a_log_gets_a_plain_line_for_each_beginning_and_end(told: list[str]) -> None:
    seen = watch(told, Clock(), live=False)
    for stage, done in (("reading", 0), ("listening", 0), ("rendering", 0), ("rendering", 2000)):
        seen.seen(0, stage, done, 4000)
    seen.finished(Outcome(0, "Bells", "", "rendered", "", seconds=2.0, song_seconds=100.0, frames=4000, attempts=2))
    seen.seen(0, "rendering", 4000, 4000)  # a late word of a song that is done already
    seen.finished(Outcome(1, "Frost", "", "failed", "frost.wav: is empty"))
    assert told == [
        "begun       Bells",
        "rendered    Bells: 4,000 frames in 2.0 s (50 x real time, attempt 2)",
        "failed      Frost: frost.wav: is empty",
    ]
    assert not any("\x1b" in line for line in told)


def test_the_table_shows_stage_rate_and_time_left(told: list[str]) -> None:
    clock = Clock()
    seen = watch(told, clock, live=True)
    seen.seen(0, "rendering", 0, 4000)
    clock.now += 2.0
    seen.seen(0, "rendering", 1000, 4000)
    seen.seen(2, "listening", 0, 0)
    rows = seen.table()
    # 1,000 frames in 2 s are 500 a second: 12.5 times 40; 3,000 are left: 6 s.
    assert rows[0].split() == ["Bells", "rendering", "25%", "12", "x", "0:06"]
    assert rows[1].split()[-1] == "listening"
    # 25 of 400 seconds of song in 2 s: 30 s more.
    assert rows[2] == "0 of 3 done, about 0:30 left"
    assert max(map(len, rows)) < 80


def test_the_table_is_drawn_over_and_rubbed_out(told: list[str]) -> None:
    seen = watch(told, Clock(), live=True)
    seen.seen(0, "reading", 0, 0)
    seen.seen(1, "reading", 0, 0)
    assert told[-1].startswith("\x1b[2A\r\x1b[J")  # ECMA-48: two lines up, erase to the end
    assert told[-1].count("\n") == 2
    seen.end()
    assert "\x1b[J" in told[-1]


def test_up_to_date_says_it_once_and_no_more() -> None:
    assert outcome_line(Outcome(0, "Bells", "", "up to date", "all is as it was")) == "up to date  Bells"


@pytest.mark.parametrize("why", ["the show changed", "its checksum does not fit", NEW, FORCED])
def test_what_is_rendered_anew_says_why_where_nobody_knows_it_already(why: str) -> None:
    line = outcome_line(Outcome(0, "Bells", "", "rendered", why, seconds=2.0, song_seconds=100.0, frames=4000))
    assert ("since " in line) == (why not in (NEW, FORCED))
    assert line.endswith("(50 x real time)") or line.endswith(f"\n            since {why}")


def test_what_is_only_looked_at_was_not_begun(told: list[str]) -> None:
    seen = watch(told, Clock(), live=False)
    for stage in ("waiting", "reading", "checking", "its page"):
        seen.seen(0, stage, 0, 0)
    assert told == []


def test_the_house_at_the_end_of_a_long_name_is_not_cut_off(told: list[str]) -> None:
    seen = watch(told, Clock(), live=True)
    seen.names[2] = "O winter tree, live & more of it (2), larch"
    seen.seen(2, "listening", 0, 0)
    assert ", larch  listening" in seen.table()[0]
    assert len(seen.table()[0]) < 80
