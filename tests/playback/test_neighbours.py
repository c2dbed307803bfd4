"""Several players on one computer: each its own identifier, and word about universes that both send."""

import io
import os
import socket
import subprocess
import sys
import uuid
from pathlib import Path

import pytest

from eavesong.playback import neighbours
from eavesong.playback.identity import cid_of
from eavesong.playback.neighbours import Announcer, Meeting, Place
from eavesong.playback.packets import DataPacket, read_packet, universes_told
from eavesong.playback.session import Settings, on_stage
from eavesong.playback.source import Still
from eavesong.playback.status import Status
from eavesong.playback.wiring import Wiring, wire
from playback.helpers import SimTime, house, moving, write_frames


def wiring_of(universes: int, *addresses: str) -> Wiring:
    described = house(addresses or ("192.0.2.7",), universes=universes)
    return wire(described.patch, described.channel_count, "x")


def test_each_running_player_has_its_own_identifier_and_the_next_one_takes_it_over() -> None:
    # ANSI E1.31-2018, 5.6: a CID is one component's; 6.2.5, 6.2.6: sequence and end are counted for each source.
    first, second, other = Place("play"), Place("play"), Place("identify")
    assert len({first.cid, second.cid, other.cid}) == 3
    assert [first.cid, second.cid] == [cid_of("play", 1), cid_of("play", 2)]
    first.close()
    again = Place("play")
    assert again.cid == first.cid
    for place in (again, second, other):
        place.close()


def test_a_player_that_was_killed_leaves_its_place() -> None:
    code = "from eavesong.playback.neighbours import Place; p = Place('play'); print(p.cid, flush=True); input()"
    process = subprocess.Popen(
        [sys.executable, "-c", code], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env={**os.environ}
    )
    assert process.stdout is not None
    theirs = uuid.UUID(process.stdout.readline().strip())
    mine = Place("play")
    assert (theirs, mine.cid) == (cid_of("play", 1), cid_of("play", 2))
    process.kill()
    process.communicate()
    after = Place("play")
    assert after.cid == theirs
    mine.close()
    after.close()


def test_where_no_place_can_be_kept_each_identifier_is_new(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    one, two = Place("play", tmp_path / "file" / "x"), Place("play", tmp_path / "file" / "x")
    assert one.number == two.number == 0
    assert one.cid != two.cid
    one.write("Frost", 100, wiring_of(1))
    assert one.meetings(wiring_of(1)) == []
    one.close()


def test_disks_that_lock_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(file: object) -> bool:
        raise OSError("No locks available")

    monkeypatch.setattr(neighbours, "lock", refuse)
    assert Place("play", tmp_path).cid != Place("play", tmp_path).cid


def test_systems_without_fcntl(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # Windows locks octets of a file, with msvcrt; nobody else may read those.
    class Locks:
        LK_NBLCK = 2
        held: set[int] = set()  # noqa: RUF012

        def locking(self, descriptor: int, mode: int, count: int) -> None:
            where = os.fstat(descriptor).st_ino
            assert os.lseek(descriptor, 0, os.SEEK_CUR) == neighbours.LOCKED_AT
            if where in self.held:
                raise OSError(13, "Permission denied")
            self.held.add(where)

    monkeypatch.setitem(sys.modules, "fcntl", None)
    monkeypatch.setitem(sys.modules, "msvcrt", Locks())
    one, two = Place("play", tmp_path), Place("play", tmp_path)
    assert (one.number, two.number) == (1, 2)
    monkeypatch.setitem(sys.modules, "msvcrt", None)
    assert Place("play", tmp_path).number == 0


def test_which_universes_meet(tmp_path: Path) -> None:
    one, two, three = (Place("play", tmp_path) for _ in range(3))
    one.write("Ribbon of frost", 100, wiring_of(3))
    two.write("Bells", 110, wiring_of(2, "192.0.2.8"))
    assert three.meetings(wiring_of(2)) == [
        Meeting(os.getpid(), "Ribbon of frost", 100, (1, 2)), Meeting(os.getpid(), "Bells", 110, ()),
    ]  # fmt: skip
    one.close()
    assert [meeting.title for meeting in three.meetings(wiring_of(2))] == ["Bells"]
    two.close()
    three.close()


@pytest.mark.parametrize("note", ["", "{", "[]", '{"process": 1}', '{"streams": {"x": 1}, "process": 1}', "\0" * 50])
def test_notes_that_are_none(tmp_path: Path, note: str) -> None:
    one, two = Place("play", tmp_path), Place("play", tmp_path)
    (tmp_path / "play-1").write_text(note)
    assert two.meetings(wiring_of(1)) == []
    one.close()
    two.close()


@pytest.mark.parametrize(
    ("priority", "universes", "told"),
    [
        (100, (1, 2), "both send universes 1 to 2 at priority 100: receivers mix the two until one ends"),
        (90, (4,), "both send universe 4: receivers follow that one, at priority 100"),
        (120, (4,), "both send universe 4: receivers follow this one, at priority 120"),
        (100, (), "no universe is sent by both"),
    ],
)
def test_what_people_are_told(priority: int, universes: tuple[int, ...], told: str) -> None:
    # E1.31-2018, 6.2.3: receivers follow the highest priority; between equals they choose, or merge.
    words = Meeting(4711, "Frost", 100, universes).told(priority)
    assert words.startswith("another eavesong runs on this computer (process 4711, Frost)")
    assert told in words


def test_runs_of_universes() -> None:
    assert universes_told([7]) == "universe 7"
    assert universes_told([1, 2, 3, 9, 11, 12]) == "universes 1 to 3, 9, 11 to 12"
    assert universes_told(range(1, 64000)) == "universes 1 to 63999"
    assert universes_told(range(1, 64000, 2)).endswith("21, 23 and more")


def test_word_is_left_once_for_each_house(tmp_path: Path, time: SimTime) -> None:
    other, out = Place("play", tmp_path), io.StringIO()
    other.write("Bells", 100, wiring_of(1))
    status = Status(time, out=out)
    announcer = Announcer(Place("play", tmp_path), status, 100)
    for universes in (2, 2, 2, 1):
        announcer.taken(Still("Frost", wiring_of(universes)))
        assert announcer._thread is not None
        announcer._thread.join()
    status.close()
    assert out.getvalue().count("both send universe 1 ") == 2
    other.close()


def test_what_is_played_now_stands_in_the_word_that_is_left(tmp_path: Path, time: SimTime) -> None:
    """The next song on the same house is no new house, and has another title."""
    out = io.StringIO()
    status, place = Status(time, out=out), Place("play", tmp_path)
    announcer, other = Announcer(place, status, 100), Place("play", tmp_path)
    for title in ("Frost", "Bells"):
        announcer.taken(Still(title, wiring_of(1)))
        announcer.settle()
        assert [meeting.title for meeting in other.meetings(wiring_of(1))] == [title]
    status.close()
    other.close()


def test_who_waits_for_the_next_evening_is_met_by_nobody(tmp_path: Path, time: SimTime) -> None:
    status = Status(time, out=io.StringIO())
    announcer, other = Announcer(Place("play", tmp_path), status, 100), Place("play", tmp_path)
    for source, met in ((Still("Frost", wiring_of(1)), 1), (None, 0), (Still("Frost", wiring_of(1)), 1)):
        announcer.taken(source)
        announcer.settle()
        assert len(other.meetings(wiring_of(1))) == met
    status.close()
    other.close()


def test_a_rehearsal_meets_nobody_at_the_house(tmp_path: Path, time: SimTime) -> None:
    other, out = Place("play", tmp_path), io.StringIO()
    other.write("Bells", 100, wiring_of(1))
    status = Status(time, out=out)
    announcer = Announcer(Place("play", tmp_path), status, 100, to="127.0.0.1")
    announcer.taken(Still("Frost", wiring_of(1)))
    assert announcer._thread is not None
    announcer._thread.join()
    status.close()
    assert "no universe is sent by both" in out.getvalue()
    other.close()


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux answers to all of 127.0.0.0/8 as it comes")
def test_two_players_at_once(tmp_path: Path, receiver: socket.socket, address: str) -> None:
    """The first to stop does not end the other's stream, nor do its numbers disturb."""
    described = house((address,), universes=1)
    path = write_frames(tmp_path / "frost.h5", described, moving(described, 40 * 600))
    command = [sys.executable, "-m", "eavesong", "play", str(path), "--silent"]
    first = subprocess.Popen(command, stderr=subprocess.PIPE, text=True)
    receiver.recv(2048)
    with on_stage(Settings(sound=False, discovery=False, quiet=True)) as stage:
        second = stage.sender.voice.cid
        receiver_cids = set()
        first.terminate()
        first.communicate(timeout=60.0)
        stage.sender.use(wiring_of(1, address), 40.0)
        while True:
            stage.sender.black()
            packet = read_packet(receiver.recv(2048))
            assert isinstance(packet, DataPacket)
            receiver_cids.add(packet.cid)
            assert not (packet.terminated and packet.cid == second)
            if packet.cid == second:
                break
    assert receiver_cids == {cid_of("play", 1), cid_of("play", 2)}
