"""The song as the master: a device of our own making, with a crystal of its own, stands in for a sound card."""

import sys
import threading
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from eavesong.errors import AudioError
from eavesong.playback import audio
from eavesong.playback.audio import AudioClock, AudioUnavailableError
from eavesong.playback.player import Player
from eavesong.playback.sender import Sender, Voice
from eavesong.playback.source import FileSource
from eavesong.playback.status import Status
from eavesong.playback.stop import Stop
from playback.device import SimDevice, install
from playback.helpers import RememberingLinks, SimTime, house, moving, write_frames

RATE = 8000


@pytest.fixture
def song(tmp_path: Path) -> Path:
    """Ten seconds in which each sample says where it is."""
    import soundfile

    samples = (np.arange(10 * RATE) % 1000 / 2000).astype(np.float32)
    soundfile.write(tmp_path / "song.wav", np.stack([samples, samples], axis=1), RATE, subtype="FLOAT")
    return tmp_path / "song.wav"


@pytest.fixture
def device(time: SimTime, monkeypatch: pytest.MonkeyPatch) -> SimDevice:
    made = SimDevice(time)
    install(made, monkeypatch)
    return made


def test_the_song_is_played_sample_by_sample(song: Path, time: SimTime, device: SimDevice) -> None:
    import soundfile

    clock = AudioClock(song, time)
    for _ in range(220):
        device.run(0.05)
    clock.close()
    heard = np.concatenate(device.heard)
    wanted, _ = soundfile.read(song, dtype="float32")
    assert len(heard) > len(wanted)
    assert np.array_equal(heard[: len(wanted)], wanted)
    assert not heard[len(wanted) :].any()


def test_it_begins_where_the_frames_do(song: Path, time: SimTime, device: SimDevice) -> None:
    import soundfile

    clock = AudioClock(song, time, start=4.0)
    device.run(0.2)
    wanted, _ = soundfile.read(song, dtype="float32", start=4 * RATE, frames=len(device.heard[0]))
    assert np.array_equal(device.heard[0], wanted)
    assert clock.position() == pytest.approx(4.0 + device.position(), abs=0.002)
    clock.close()


@pytest.mark.parametrize("error", [-200e-6, 0.0, 200e-6])
def test_position_follows_the_devices_crystal(song: Path, time: SimTime, device: SimDevice, error: float) -> None:
    # Consumer crystals keep to about 100 parts in a million (common practice): 0.36 s in an hour. Here twice that.
    device.error = error
    clock = AudioClock(song, time)
    worst = 0.0
    for _ in range(20_000):
        device.run(0.05)
        worst = max(worst, abs(clock.position() - device.position()))
    assert time.now > 1990
    assert worst < 0.004
    clock.close()


def test_reports_that_jitter_are_evened_out(song: Path, time: SimTime, device: SimDevice) -> None:
    device.jitter = 0.010
    clock = AudioClock(song, time)
    device.run(2.0)
    errors = []
    for _ in range(2000):
        device.run(0.025)
        errors.append(clock.position() - device.position())
    assert np.abs(errors).max() < 0.006
    clock.close()


def test_light_never_runs_backwards(song: Path, time: SimTime, device: SimDevice) -> None:
    device.jitter = 0.015
    clock = AudioClock(song, time)
    positions = []
    for _ in range(2000):
        device.run(0.003)
        positions.append(clock.position())
    assert np.diff(positions).min() >= 0
    clock.close()


def test_a_device_that_halts_holds_the_light_up(song: Path, time: SimTime, device: SimDevice) -> None:
    clock = AudioClock(song, time)
    device.run(2.0)
    device.halt(0.5)
    device.run(2.0)
    assert clock.position() == pytest.approx(device.position(), abs=0.005)
    assert clock.fault == ""
    clock.close()


def test_a_device_that_goes_away_leaves_the_monotonic_clock_in_charge(
    song: Path, time: SimTime, device: SimDevice
) -> None:
    clock = AudioClock(song, time)
    device.run(2.0)
    before = clock.position()
    positions = []
    for _ in range(100):
        time.sleep(0.05)
        positions.append(clock.position())
    assert "going on without sound" in clock.fault
    assert positions[-1] == pytest.approx(before + 5.0, abs=0.06)
    clock.close()


def test_a_device_that_never_begins(song: Path, time: SimTime, device: SimDevice) -> None:
    clock = AudioClock(song, time)
    assert clock.position() < 0
    time.sleep(6.0)
    assert clock.position() == pytest.approx(0.0, abs=0.01)
    time.sleep(1.0)
    assert clock.position() == pytest.approx(1.0, abs=0.01)
    clock.close()


def test_light_and_sound_together(
    song: Path, time: SimTime, device: SimDevice, tmp_path: Path, network: RememberingLinks, stop: Stop, silent: Status
) -> None:
    """Both clocks recorded: where the device was each time a frame left."""
    import uuid

    device.error = 150e-6
    described = house(universes=1)
    source = FileSource(write_frames(tmp_path / "frost.h5", described, moving(described, 400)))
    recorded: list[tuple[int, float]] = []
    sender = Sender(network, Voice(uuid.uuid4(), discovery=False), time)
    player = Player(sender, time, stop, silent, fired=lambda n, due, here: recorded.append((n, device.position())))
    clock = AudioClock(song, time)
    device.drive()
    player.play(source, clock)
    clock.close()
    assert len(recorded) >= 395
    # Frame n belongs to n/40 s of the song; one frame is 25 ms.
    assert max(abs(position - number / 40) for number, position in recorded) < 0.025


@pytest.mark.parametrize(
    ("fault", "message"),
    [(ImportError("no"), r"pip install 'eavesong\[audio\]'"), (OSError("PortAudio library not found"), "PortAudio")],
)
def test_no_way_to_make_a_sound(
    song: Path, time: SimTime, monkeypatch: pytest.MonkeyPatch, fault: Exception, message: str
) -> None:
    class Missing:
        def find_spec(self, name: str, *_: object) -> None:
            if name == "sounddevice":
                raise fault

    monkeypatch.delitem(sys.modules, "sounddevice", raising=False)
    monkeypatch.setattr(sys, "meta_path", [Missing(), *sys.meta_path])
    with pytest.raises(AudioUnavailableError, match=message):
        AudioClock(song, time)


def test_no_device(song: Path, time: SimTime, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(**_: object) -> None:
        raise ValueError("No output device matching 'kitchen'")

    module = ModuleType("sounddevice")
    module.OutputStream = refuse  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "sounddevice", module)
    module.query_devices = lambda: [  # type: ignore[attr-defined]
        {"name": "Line in", "max_output_channels": 0}, {"name": "HDA Intel", "max_output_channels": 2},
    ]  # fmt: skip
    with pytest.raises(AudioUnavailableError, match="no sound device is called 'kitchen'; there are 1 'HDA Intel'"):
        AudioClock(song, time, device="kitchen")
    module.query_devices = lambda: []  # type: ignore[attr-defined]
    with pytest.raises(AudioUnavailableError, match="this computer has no sound device that may be used: plug one in"):
        AudioClock(song, time)


@pytest.mark.parametrize(
    ("fault", "chosen", "told"),
    [
        # As sounddevice 0.5 with PortAudio 19.6 says it; codes of PaErrorCode in portaudio.h.
        ("Error querying device 7", "7", "no sound device is called '7'; there are 0 'A', 3 'B'"),
        ("Multiple output devices found for 'b':", "b", "several sound devices are called 'b'; give the number"),
        (
            "Error opening OutputStream: Invalid sample rate [PaErrorCode -9997]",
            None,
            "does not play 22050 samples",
        ),
        ("Error opening OutputStream: Device unavailable [PaErrorCode -9985]", None, "another program holds the sound"),
        ("Error opening OutputStream: Invalid device [PaErrorCode -9996]", "b", "no sound device is called 'b'"),
        ("something else", None, "does not open (something else); there are 0 'A', 3 'B'"),
    ],
)
def test_faults_in_a_person_s_words(fault: str, chosen: str | None, told: str) -> None:
    assert told in audio.in_words(fault, chosen, 22050, {0: "A", 3: "B"})


def test_a_song_on_a_disk_that_does_not_answer(
    song: Path, time: SimTime, device: SimDevice, monkeypatch: pytest.MonkeyPatch
) -> None:
    answer = threading.Event()
    monkeypatch.setattr(audio, "SLOW_DISK", 0.01)
    monkeypatch.setattr(audio.Feeder, "_decode", lambda *_: answer.wait(60.0))
    with pytest.raises(AudioUnavailableError, match=r"song.wav has not been read within"):
        AudioClock(song, time)
    answer.set()


def test_a_song_that_is_not_there(tmp_path: Path, time: SimTime, device: SimDevice) -> None:
    with pytest.raises(AudioError, match="there is no such file"):
        AudioClock(tmp_path / "gone.wav", time)


def test_memory_stays_small(song: Path, time: SimTime) -> None:
    feeder = audio.Feeder(song, 0.0)
    assert feeder._blocks.maxsize == 3
    feeder.close()
    assert not feeder._thread.is_alive()


def test_device_names_and_numbers() -> None:
    assert (audio._device("3"), audio._device("kitchen"), audio._device(None)) == (3, "kitchen", None)


@pytest.mark.parametrize(("there", "told"), [(None, "install_player.py with --sound"), ("numba", r"eavesong\[audio\]")])
def test_where_only_the_player_is_installed_sound_needs_no_more(
    monkeypatch: pytest.MonkeyPatch, there: str | None, told: str
) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", None)  # importing it fails
    monkeypatch.setattr("importlib.util.find_spec", lambda name: there)
    with pytest.raises(AudioUnavailableError, match=told):
        audio._sounddevice()
