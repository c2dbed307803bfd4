"""The loop: frames at their moments, late ones skipped, trouble survived."""

import math
import threading
import uuid
from pathlib import Path

import numpy as np
import pytest

from eavesong.errors import FramesError, Problem
from eavesong.frames import PatchRow
from eavesong.playback import ahead
from eavesong.playback.clock import SongClock
from eavesong.playback.player import Player
from eavesong.playback.sender import Sender, Voice
from eavesong.playback.source import FileSource, Still, frame_at, one_colour, time_of
from eavesong.playback.status import Status
from eavesong.playback.stop import Stop
from eavesong.playback.wiring import wire
from playback.helpers import RememberingLinks, SimTime, house, moving, still, write_frames

Fired = list[tuple[int, float, float]]


@pytest.fixture
def fired() -> Fired:
    return []


@pytest.fixture
def player(network: RememberingLinks, time: SimTime, stop: Stop, silent: Status, fired: Fired) -> Player:
    sender = Sender(network, Voice(uuid.uuid4(), discovery=False), time)
    return Player(sender, time, stop, silent, fired=lambda *each: fired.append(each))


@pytest.fixture
def source(tmp_path: Path) -> FileSource:
    described = house(universes=1)
    return FileSource(write_frames(tmp_path / "frost.h5", described, moving(described, 80)))


def test_every_frame_at_its_moment(player: Player, source: FileSource, time: SimTime, fired: Fired) -> None:
    assert player.play(source, SongClock(time))
    assert [number for number, _, _ in fired] == list(range(80))
    assert all(here == pytest.approx(due, abs=1e-6) for _, due, here in fired)
    assert time.now == pytest.approx(1002.0)  # the last frame has its time too


def test_frames_that_begin_inside_the_song(player: Player, source: FileSource, time: SimTime, fired: Fired) -> None:
    source.start = 30.0
    player.play(source, SongClock(time, 29.0))
    assert fired[0] == (0, 30.0, pytest.approx(30.0))
    assert time.now == pytest.approx(1003.0)
    assert player.status.state.end == pytest.approx(32.0)  # counted in the song, as its place is


@pytest.mark.parametrize("offset", [0.08, -0.08])
def test_offset(player: Player, source: FileSource, time: SimTime, offset: float, network: RememberingLinks) -> None:
    player.offset = offset
    player.play(source, SongClock(time, -1.0))
    first = next(when for when, packet in network.data(1) if any(packet.slots))
    assert first == pytest.approx(1001.0 + offset)


def test_late_frames_are_skipped_never_queued(
    player: Player, source: FileSource, time: SimTime, fired: Fired, network: RememberingLinks
) -> None:
    # The computer halts for 0.3 s after half a second: twelve frames at 40 a second.
    time.at.append((1000.5, lambda: time.sleep(0.3)))
    player.play(source, SongClock(time))
    numbers = [number for number, _, _ in fired]
    punctual = player.status.state.punctuality
    assert (len(numbers), punctual.sent) == (80 - punctual.skipped, len(numbers))
    assert 11 <= punctual.skipped <= 12
    assert all(here - due < 0.025 for _, due, here in fired)
    gaps = np.diff([when for when, _ in network.data(1)])
    assert gaps.min() > 0.0125  # nothing was caught up in a burst


def test_a_reader_that_is_always_slow_still_shows_something(
    player: Player, source: FileSource, time: SimTime, fired: Fired, monkeypatch: pytest.MonkeyPatch
) -> None:
    read = source.read

    def slow(number: int) -> np.ndarray:
        time.halt(0.06)
        return read(number)

    monkeypatch.setattr(source, "read", slow)
    player.play(source, SongClock(time))
    # A frame is asked for up to 0.025 s after its moment, another read may be under way, and one of two is skipped.
    assert len(fired) >= 6
    assert all(here - due <= 0.025 + 0.06 + 0.06 + 1e-6 for _, due, here in fired)


def test_a_disk_that_does_not_answer_costs_frames_never_the_streams(
    player: Player, source: FileSource, time: SimTime, fired: Fired, network: RememberingLinks,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    read = source.read

    def hanging(number: int) -> np.ndarray:
        if number == 20:
            time.halt(1.3)
        return read(number)

    monkeypatch.setattr(source, "read", hanging)
    assert player.play(source, SongClock(time))
    numbers = [number for number, _, _ in fired]
    assert set(range(20)) <= set(numbers)
    assert not {*range(21, 50)} & {*numbers}
    assert numbers[-1] == 79
    gaps = np.diff([when for when, _ in network.data(1)])
    assert gaps.max() <= 1.0  # E1.31-2018, 6.6.2: signs of life all the while


def test_asked_to_stop_while_the_disk_does_not_answer(
    player: Player, source: FileSource, time: SimTime, stop: Stop, network: RememberingLinks,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.setattr(source, "read", lambda number: time.halt(100.0))
    monkeypatch.setattr(ahead, "LEAVING", 0.0)
    time.at.append((1005.0, stop.ask))
    assert not player.play(source, SongClock(time, -10.0))
    player.sender.finish()
    assert time.now <= 1006.0
    time.sleep(200.0)  # let the reader go


def test_a_disk_that_never_answers_again_ends_with_the_song(
    player: Player, source: FileSource, time: SimTime, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(source, "read", lambda number: time.halt(100.0))
    monkeypatch.setattr(ahead, "LEAVING", 0.0)
    assert player.play(source, SongClock(time))
    assert time.now == pytest.approx(1002.0, abs=0.11)
    time.sleep(200.0)


def test_frames_are_read_by_a_thread_of_their_own(
    player: Player, source: FileSource, time: SimTime, monkeypatch: pytest.MonkeyPatch
) -> None:
    read, readers = source.read, set()

    def noted(number: int) -> np.ndarray:
        readers.add(threading.current_thread())
        return read(number)

    monkeypatch.setattr(source, "read", noted)
    player.play(source, SongClock(time))
    assert threading.current_thread() not in readers


def test_a_slow_rate_still_shows_signs_of_life(
    player: Player, time: SimTime, tmp_path: Path, network: RememberingLinks
) -> None:
    described = house(universes=1, frame_rate=0.25)
    path = write_frames(tmp_path / "slow.h5", described, moving(described, 3))
    player.play(FileSource(path), SongClock(time))
    gaps = np.diff([when for when, _ in network.data(1)])
    assert gaps.max() <= 1.0  # E1.31-2018, 6.6.2


def test_asked_to_stop(player: Player, source: FileSource, time: SimTime, stop: Stop, fired: Fired) -> None:
    time.at.append((1001.0, stop.ask))
    assert not player.play(source, SongClock(time))
    assert len(fired) in (40, 41)


def test_until(player: Player, source: FileSource, time: SimTime, fired: Fired) -> None:
    assert not player.play(source, SongClock(time), until=lambda: time.now >= 1001.0)
    assert len(fired) in (40, 41)


def test_frames_that_cannot_be_read_leave_the_last_look_and_then_give_up(
    player: Player, source: FileSource, time: SimTime, network: RememberingLinks, monkeypatch: pytest.MonkeyPatch
) -> None:
    read = source.read
    monkeypatch.setattr(source, "read", lambda number: _broken() if number >= 40 else read(number))
    monkeypatch.setattr(source, "frame_count", 1000)
    with pytest.raises(FramesError, match="a scratch"):
        player.play(source, SongClock(time))
    assert 1002.9 <= time.now <= 1003.2  # two seconds of patience
    assert {packet.slots for when, packet in network.data(1) if when > 1001.0} == {network.data(1)[39][1].slots}


def _broken() -> np.ndarray:
    raise FramesError(Problem("frost.h5", "", "a scratch"))


def test_a_scratch_is_played_over(
    player: Player, source: FileSource, time: SimTime, fired: Fired, monkeypatch: pytest.MonkeyPatch
) -> None:
    read = source.read
    monkeypatch.setattr(source, "read", lambda number: _broken() if 30 <= number < 50 else read(number))
    assert player.play(source, SongClock(time))


def test_a_file_that_is_cut_while_it_plays(player: Player, time: SimTime, tmp_path: Path, fired: Fired) -> None:
    described = house(universes=8)
    noise = np.random.default_rng(1).integers(0, 256, (400, described.channel_count), np.uint8)
    path = write_frames(tmp_path / "frost.h5", described, noise)
    source = FileSource(path)
    time.at.append((1002.0, lambda: path.open("r+b").truncate(path.stat().st_size // 2)))
    with pytest.raises(FramesError, match="was cut short while it was played"):
        player.play(source, SongClock(time))
    assert len(fired) >= 80


def test_a_file_that_is_replaced_while_it_plays_goes_on_as_it_was(
    player: Player, time: SimTime, tmp_path: Path, network: RememberingLinks
) -> None:
    described = house(universes=1)
    path = write_frames(tmp_path / "frost.h5", described, still(described, 5, 80))
    other = write_frames(tmp_path / "new.h5", described, still(described, 200, 80))
    source = FileSource(path)
    time.at.append((1001.0, lambda: other.replace(path)))
    player.play(source, SongClock(time))
    assert {packet.slots[0] for _, packet in network.data(1)} == {5}


def test_a_loop_goes_round(player: Player, tmp_path: Path, time: SimTime, network: RememberingLinks) -> None:
    described = house(universes=1)
    frames = moving(described, 10)
    source = FileSource(write_frames(tmp_path / "idle.h5", described, frames), loop=True)
    player.play(source, SongClock(time), stop_at=time.now + 1.0)
    shown = [packet.slots[:510] for _, packet in network.data(1)]
    assert shown == [frames[n % 10].tobytes() for n in range(40)]


@pytest.mark.parametrize("rate", [23.976, 25.0, 29.97, 40.0, 43.7])
def test_frames_and_times_agree(rate: float) -> None:
    look = Still("x", wire(house().patch, 1020, "x"))
    look.frame_rate, look.start = rate, 12.3
    for number in range(0, 200_000, 997):
        assert frame_at(look, time_of(look, number)) == number


def test_a_still_look_lasts_as_long_as_asked(player: Player, time: SimTime) -> None:
    described = house(universes=1)
    wiring = wire(described.patch, described.channel_count, "x")
    player.play(Still("look", wiring, seconds=2.5), SongClock(time))
    assert time.now == pytest.approx(1002.5)
    assert Still("look", wiring).frame_count == math.inf


def test_one_colour_is_never_full() -> None:
    described = house(universes=1, pixels=2)
    assert one_colour(described.patch, 6, (1.0, 0.0, 0.5), 0.1).tolist() == [26, 0, 13] * 2
    assert one_colour(described.patch, 6, (1.0, 1.0, 1.0), 1.0).max() == 128  # half, whatever is asked for


def test_one_colour_keeps_to_the_wire_order_and_split_pixels() -> None:
    # Two GRBW pixels; the second one split over two universes after its first channel.
    rows = (
        PatchRow("eaves", 0, 1, 0, 4, "GRBW", 1, 509),
        PatchRow("eaves", 1, 1, 4, 1, "GRBW", 2, 512),
        PatchRow("eaves", 1, 1, 5, 3, "GRBW", 3, 1),
    )
    assert one_colour(rows, 8, (1.0, 0.5, 0.25), 0.4).tolist() == [51, 102, 26, 0] * 2
