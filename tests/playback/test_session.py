"""One run from file to end, its log and its live line; and the commands as they are typed."""

import hashlib
import io
import json
import re
import socket
import subprocess
import sys
import threading
import time as clock
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from click.testing import CliRunner

from eavesong.cli import group, main
from eavesong.errors import AudioError, FramesError, OutputError
from eavesong.playback import session
from eavesong.playback.session import Settings, end_of, nth, play, song_beside
from eavesong.playback.source import FileSource
from eavesong.playback.status import State, Status, line
from playback.device import SimDevice, install
from playback.helpers import RememberingLinks, SimTime, house, moving, write_frames

RATE = 8000
SILENT = Settings(sound=False, discovery=False)


@pytest.fixture
def frost(tmp_path: Path) -> Path:
    described = house(song="bells.wav")
    return write_frames(tmp_path / "frost.h5", described, moving(described, 120))


@pytest.fixture
def bells(tmp_path: Path) -> Path:
    import numpy as np
    import soundfile

    soundfile.write(tmp_path / "bells.wav", np.zeros(3 * RATE, np.float32), RATE)
    return tmp_path / "bells.wav"


@pytest.fixture(autouse=True)
def _network(network: RememberingLinks, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(session, "Links", lambda **_: network)


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_the_log_tells_the_evening_in_json_lines(frost: Path, tmp_path: Path, time: SimTime) -> None:
    log = tmp_path / "log.jsonl"
    play(frost, Settings(sound=False, log=log, quiet=True, discovery=False), time=time)
    told = [json.loads(each) for each in log.read_text().splitlines()]
    assert [each["event"] for each in told] == ["song", "state", "end"]
    assert told[0]["title"] == "bells · Ribbon of frost"
    assert set(told[1]) == {
        "time", "event", "song", "position", "bar", "frame", "sent", "dropped", "frames", "skipped", "late_ms_median",
        "late_ms_p99", "late_ms_worst",
    }  # fmt: skip
    assert (told[2]["sent"], told[2]["frames"], told[2]["skipped"]) == (240, 120, 0)
    assert all(re.fullmatch(r"2026-12-04T16:00:0\d\.\d{3}\+00:00", each["time"]) for each in told)


def test_the_log_begins_where_playing_does(frost: Path, tmp_path: Path, time: SimTime) -> None:
    log = tmp_path / "log.jsonl"
    play(frost, Settings(sound=False, log=log, quiet=True, discovery=False), start=2.0, time=time)
    first = next(told for told in map(json.loads, log.read_text().splitlines()) if told["event"] == "state")
    assert first["position"] == pytest.approx(2.0, abs=0.5)
    assert first["frame"] == pytest.approx(80, abs=20)


def test_the_live_line(frost: Path, time: SimTime, monkeypatch: pytest.MonkeyPatch) -> None:
    shown: list[str] = []
    show = Status.show
    monkeypatch.setattr(Status, "show", lambda status: (shown.append(line(status.state)), show(status))[1])
    out = Terminal()
    play(frost, Settings(sound=False, discovery=False), time=time, out=out)
    assert len(shown) >= 12  # four times a second
    # Beats in the file: bars begin at 0, 1 and 2 s.
    assert any(re.match("bells · Ribbon.*  0:01/0:03  bar 2  sent", each) for each in shown)
    assert all(len(each) <= 79 for each in shown)
    assert shown[0] in out.getvalue()  # how many of the others depends on how fast the terminal is


def test_the_line_tells_trouble() -> None:
    state = State("A song with a name that goes on and on", 65, 200, 12, 2600, sent=62400, dropped=7, off=1)
    for behind in (0.0001,) * 98 + (0.0042, 0.0042):
        state.punctuality.note(behind)
    state.punctuality.note(0.0001, 3)
    assert line(state) == "A song …  1:05/3:20  bar 12  sent 62400  dropped 7  skipped 3  late 4.2 ms  1 off"


def test_titles_cannot_command_the_terminal(tmp_path: Path, time: SimTime) -> None:
    described = house(title="\x1b[2JFrost\x07")
    out = Terminal()
    play(write_frames(tmp_path / "x.h5", described, moving(described, 40)), SILENT, time=time, out=out)
    assert "Frost" in out.getvalue()
    assert not {"\x1b", "\x07"} & set(out.getvalue())


def test_from_another_thread(frost: Path, time: SimTime, network: RememberingLinks) -> None:
    thread = threading.Thread(target=play, args=(frost, SILENT), kwargs={"time": time, "out": io.StringIO()})
    thread.start()
    thread.join()
    assert [packet.terminated for _, packet in network.data(1)][-4:] == [False, True, True, True]


def test_a_terminal_that_is_closed_does_not_stop_the_lights(
    frost: Path, time: SimTime, network: RememberingLinks
) -> None:
    class Gone(Terminal):
        def write(self, text: str) -> int:
            raise BrokenPipeError

    play(frost, Settings(sound=False, discovery=False), time=time, out=Gone())
    assert len(network.data(1)) == 124


def test_a_log_on_a_full_disk_does_not_stop_the_lights(time: SimTime) -> None:
    full = Path("/dev/full")
    if not full.exists():
        pytest.skip("this system has no /dev/full")
    status = Status(time, log=full, quiet=True)
    status.event("song", "x")
    status.event("song", "y")


def test_a_log_that_cannot_be_written(frost: Path, tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="cannot be written: No such file or directory"):
        play(frost, Settings(sound=False, log=tmp_path / "no" / "log.jsonl"))


def test_the_song_that_lies_beside_the_frames(frost: Path, bells: Path, tmp_path: Path) -> None:
    source = FileSource(frost)
    assert song_beside(source) == bells
    source.file.song = "../../etc/bells.wav"
    assert song_beside(source) == bells  # only its name counts
    source.file.song = "..\\other.wav"
    assert song_beside(source) is None


def test_the_song_leads(
    frost: Path, bells: Path, time: SimTime, network: RememberingLinks, monkeypatch: pytest.MonkeyPatch
) -> None:
    device = SimDevice(time, error=-0.01)  # far slower than any real one
    install(device, monkeypatch)
    device.drive()
    play(frost, Settings(quiet=True, discovery=False), time=time)
    lit = [when for when, packet in network.data(1) if any(packet.slots)]
    assert lit[-1] - lit[0] == pytest.approx(119 / 40 * 1.01, abs=0.015)


def test_light_and_sound_begin_inside_the_song(
    frost: Path, bells: Path, time: SimTime, network: RememberingLinks, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of 120 frames, at 40 a second, those from 2 s on: 40, and black at the end."""
    device = SimDevice(time)
    install(device, monkeypatch)
    device.drive()
    play(frost, Settings(quiet=True, discovery=False), start=2.0, time=time)
    assert len(network.data(1)) == pytest.approx(40 + 4, abs=3)


@pytest.mark.parametrize("start", [3.0, 60.0])
def test_nothing_is_played_from_beyond_the_end(frost: Path, time: SimTime, start: float) -> None:
    with pytest.raises(FramesError, match=r"has nothing from .* on: it begins at 0:00\.00 and ends at 0:03"):
        play(frost, Settings(sound=False), start=start, time=time)


def test_without_a_device_the_light_goes_on(
    frost: Path, bells: Path, time: SimTime, network: RememberingLinks, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", None)  # import gives ImportError
    out = io.StringIO()
    play(frost, Settings(discovery=False), time=time, out=out)
    assert "no sound: sounddevice is not installed: pip install 'eavesong[audio]'" in out.getvalue()
    assert len(network.data(1)) == 124


def test_a_song_that_is_gone_is_told(frost: Path, time: SimTime, network: RememberingLinks) -> None:
    out = io.StringIO()
    play(frost, Settings(discovery=False), time=time, out=out)
    assert "is neither beside the frames nor where it was; say where it is with --song FILE" in out.getvalue()
    out = io.StringIO()
    play(frost, Settings(discovery=False, sound=False), time=time, out=out)
    assert "no sound" not in out.getvalue()


def test_a_song_that_is_another_file_than_the_frames_were_made_to_is_told(
    bells: Path, tmp_path: Path, time: SimTime, network: RememberingLinks, monkeypatch: pytest.MonkeyPatch
) -> None:
    install(SimDevice(time), monkeypatch)
    hashes = {"audio": hashlib.sha256(b"another master").hexdigest()}  # FIPS 180-4
    described = replace(house(song="bells.wav"), hashes=hashes)
    frames = write_frames(tmp_path / "frost.h5", described, moving(described, 20))
    out = io.StringIO()
    play(frames, Settings(discovery=False), time=time, out=out)
    assert "is not the file that these frames were made to, so light may not fit it" in out.getvalue()


def test_a_song_that_was_asked_for_must_be_there(
    frost: Path, tmp_path: Path, time: SimTime, monkeypatch: pytest.MonkeyPatch
) -> None:
    install(SimDevice(time), monkeypatch)
    with pytest.raises(AudioError, match="there is no such file"):
        play(frost, Settings(quiet=True), song=tmp_path / "gone.wav", time=time)


def test_faster_frames_than_a_line_takes_are_told(tmp_path: Path, time: SimTime) -> None:
    described = house(frame_rate=60.0)
    path = write_frames(tmp_path / "fast.h5", described, moving(described, 12))
    out = io.StringIO()
    play(path, Settings(sound=False, discovery=False), time=time, out=out)
    assert "60 frames a second are more than a universe takes; every 2nd is sent\n" in out.getvalue()


def test_a_controller_that_takes_fewer_frames_is_told_as_such(tmp_path: Path, time: SimTime) -> None:
    described = house(("192.0.2.7", "192.0.2.8"), frame_rate=40.0)
    slow = replace(described.patch[1], frame_rate_limit=20.0)
    path = write_frames(
        tmp_path / "slow.h5", replace(described, patch=(described.patch[0], slow)), moving(described, 12)
    )
    out = io.StringIO()
    play(path, Settings(sound=False, discovery=False), time=time, out=out)
    told = "40 frames a second are more than a controller is said to take; every 2nd is sent to 1 of 2 universes"
    assert told in out.getvalue()


@pytest.mark.parametrize(
    ("number", "word"), [(2, "2nd"), (3, "3rd"), (11, "11th"), (12, "12th"), (21, "21st"), (4, "4th")]
)
def test_ordinals(number: int, word: str) -> None:
    assert nth(number) == word


def test_an_unfinished_file_is_refused(frost: Path) -> None:
    octets = bytearray(frost.read_bytes())
    frost.write_bytes(octets[: len(octets) // 2])
    with pytest.raises(FramesError, match="is cut short"):
        play(frost, Settings(sound=False))


# --- commands -------------------------------------------------------------------------------------------------------


def typed(*words: str) -> tuple[int, str]:
    result = CliRunner().invoke(group, list(words), standalone_mode=False)
    if result.exception and not isinstance(result.exception, SystemExit):
        return 1, str(result.exception)
    return result.exit_code, result.output


def test_a_public_address_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    described = house(("8.8.8.8",))
    path = write_frames(tmp_path / "frost.h5", described, moving(described, 4))
    with pytest.raises(SystemExit) as ended:
        main(["play", str(path)])
    assert ended.value.code == 3
    told = capsys.readouterr().err
    assert "controller 'box 1': 8.8.8.8 is a public address" in told
    assert "Add --allow-public if the controller really stands there." in told


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("play", "FROST", "--now"), "are for setlists"),
        (("play", "FROST", "--offset", "99999"), "between -10000 and 10000"),
        (("play", "FROST", "--offset", "nan"), "between -10000 and 10000"),
        (("play", "FROST", "--interface", "eth0"), "'eth0' is not an IPv4 address"),
        (("play", "FROST", "--priority", "201"), "201 is not in the range 0<=x<=200"),
        (("listen",), "Name universes"),
        (("listen", "0-4"), r"'0-4' is not in 1 to 63999"),
        (("listen", "front"), "'front' is neither a universe nor a range"),
        (("identify", "arch"), "layout"),
        (("play", "FROST", "--to", "239.0.0.1"), "nothing can be sent to 239.0.0.1 alone"),
        (("play", "FROST", "--to", "8.8.8.8"), "8.8.8.8 is a public address"),
        (("play", "FROST", "--from", "half"), "'half' is not a time"),
        (("play", "FROST", "--from", "1", "--calibrate"), "leave --from out"),
    ],
)
def test_what_is_typed_wrongly(frost: Path, words: tuple[str, ...], message: str) -> None:
    code, told = typed(*(str(frost) if word == "FROST" else word for word in words))
    assert code != 0
    assert message in told


def test_play_from_the_command_line(frost: Path, network: RememberingLinks, tmp_path: Path) -> None:
    short = write_frames(tmp_path / "short.h5", house(), moving(house(), 4))
    code, told = typed("play", str(short), "--silent", "--no-discovery", "--source-name", "Porch", "--priority", "90")
    assert code == 0, told
    assert {(packet.source_name, packet.priority) for packet in (each for each in _read(network))} == {("Porch", 90)}


@pytest.mark.parametrize("to", ["127.0.0.1", "192.0.2.99"])
def test_a_rehearsal_reaches_no_controller(frost: Path, network: RememberingLinks, time: SimTime, to: str) -> None:
    out = io.StringIO()
    play(frost, Settings(sound=False, sync_address=9, to=to), time=time, out=out)
    assert {where for _, where, _ in network.packets} == {to}  # discovery and synchronisation included
    assert len(network.data(1)) == 124
    assert f"2 universes to {to}, a rehearsal" in out.getvalue()


def test_nobody_listens_to_a_rehearsal(
    frost: Path, network: RememberingLinks, time: SimTime, monkeypatch: pytest.MonkeyPatch
) -> None:
    link = network.to("127.0.0.1")
    monkeypatch.setattr(link, "housekeep", lambda: True)
    link.trouble = "Connection refused"
    out = io.StringIO()
    play(frost, Settings(sound=False, to="127.0.0.1"), time=time, out=out)
    assert "nobody listens there yet: eavesong listen 1-2 --address 127.0.0.1" in out.getvalue()


def test_a_rehearsal_from_the_command_line(network: RememberingLinks, tmp_path: Path) -> None:
    short = write_frames(tmp_path / "short.h5", house(), moving(house(), 4))
    code, told = typed("play", str(short), "--silent", "--to", "127.0.0.1")
    assert code == 0, told
    assert {where for _, where, _ in network.packets} == {"127.0.0.1"}


@pytest.mark.parametrize(
    ("name", "text", "told"),
    [
        ("street.show.toml", "", "is a show; what is played are frames\n    Make its frames for a house, and play "
         "those: eavesong render FILE --layout HOUSE --out street.h5 && eavesong play street.h5"),
        ("street.toml", '[[cue]]\neffect = "glow"\n', "is a show"),
        ("house.toml", '[[prop]]\nname = "x"\n', "is a layout; what is played are frames"),
        ("sweep.toml", 'code = "level = 1"\n', "is an effect"),
        ("bells.flac", "", "is a song; what is played are frames"),
        ("list.toml", "[[song]]\n", "frames"),
        ("broken.toml", "[[", "TOML"),
        ("frost.txt", "x", "is not an HDF5 file"),
    ],
)  # fmt: skip
def test_what_is_wanted_instead(
    tmp_path: Path, name: str, text: str, told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / name).write_text(text)
    with pytest.raises(SystemExit) as ended:
        main(["play", str(tmp_path / name)])
    assert ended.value.code == 3
    wanted = told.replace("FILE", str(tmp_path / name)).replace("street.h5", str(tmp_path / "street.h5"))
    assert wanted in capsys.readouterr().err


def _read(network: RememberingLinks) -> list:  # type: ignore[type-arg]
    from eavesong.playback.packets import DataPacket, read_packet

    return [packet for _, _, octets in network.packets if isinstance(packet := read_packet(octets), DataPacket)]


def test_a_dry_run_from_the_command_line(tmp_path: Path, frost: Path, network: RememberingLinks) -> None:
    (tmp_path / "december.toml").write_text(
        '[evening]\nstart = "dusk"\nend = "23:00"\nlatitude = 60.2\nlongitude = 24.9\ntimezone = "Europe/Helsinki"\n'
        '[[song]]\nframes = "frost.h5"\n'
    )
    code, told = typed("play", str(tmp_path / "december.toml"), "--dry-run")
    assert (code, network.packets) == (0, [])
    assert "(dusk)" in told
    assert "frost" in told


def test_listen_from_the_command_line(address: str) -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "eavesong", "listen", "1,2", "--address", address, "--seconds", "1.5"],
        stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    from eavesong.playback.packets import data_packet

    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
        sequence = 0
        while process.poll() is None:
            sequence = (sequence + 1) % 256
            sender.sendto(
                data_packet(1, b"\1\2\3", cid=bytes(15) + b"\1", source_name="Porch", sequence=sequence),
                (address, 5568),
            )
            clock.sleep(0.02)
    told = process.communicate()[0].splitlines()
    assert re.match(r"\s+1  Porch\s+100\s+\d+\.\d\s+\d+\s+0\s+0", told[1])
    assert told[2].strip() == "nothing in universe 2"


def test_identify_from_the_command_line(tmp_path: Path, network: RememberingLinks) -> None:
    (tmp_path / "house.toml").write_text(
        'title = "x"\n[[prop]]\nname = "eaves"\nshape = "line"\nto = [5, 3]\npixels = 3\n'
        '[[controller]]\nname = "attic"\naddress = "192.0.2.7"\n[[controller.output]]\nnumber = 1\nchain = ["eaves"]\n'
    )
    code, told = typed("identify", "-l", str(tmp_path / "house.toml"), "eaves", "--seconds", "0.2")
    assert code == 0, told
    assert max(max(packet.slots) for packet in _read(network)) == 26


def test_playing_starts_light() -> None:
    heavy = ("numba", "librosa", "scipy", "PIL", "soundfile", "pydantic", "av")
    code = (
        "import sys, eavesong.cli.play, eavesong.playback.session, eavesong.playback.source, eavesong.frames\n"
        f"print([name for name in {heavy} if name in sys.modules])"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert told.strip() == "[]"


def test_the_end_of_a_song_counts_the_packets_of_that_song_that_reached_nobody() -> None:
    state = State(song="Frost", dropped_before=40)
    state.punctuality.note(0.0)
    stage: Any = SimpleNamespace(status=SimpleNamespace(state=state), sender=SimpleNamespace(links=SimpleNamespace()))
    stage.sender.links.dropped = 1185
    source: Any = SimpleNamespace(title="Frost")
    assert end_of(stage, source, True).startswith("end of Frost: 1 frames sent, 0 skipped")
    assert end_of(stage, source, True).endswith("; 1,145 packets reached nobody")
    stage.sender.links.dropped = 40
    assert "nobody" not in end_of(stage, source, True)
    for position, told in ((65.2, "1:05"), (-2.0, "0:00")):  # before its first frame, too
        state.position = position
        assert end_of(stage, source, False).startswith(f"Frost stopped at {told}: 1 frames sent")
