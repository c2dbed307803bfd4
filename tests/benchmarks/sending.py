"""Playback on one machine: full load over loopback, light against sound, memory over hours. Prints a table.

    python tests/benchmarks/sending.py                       # about four minutes
    python tests/benchmarks/sending.py --seconds 10 --hours 0.5 --minutes 3

Nothing leaves 127.0.0.0/8. Sender and receiver are processes of their own; the receiver is ours.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import resource
import selectors
import socket
import struct
import subprocess
import sys
import tempfile
import time as clock
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

sys.path[0] = str(Path(__file__).parents[1])  # for `playback.helpers`

UNIVERSES, FRAME_RATE, CONTROLLERS = 240, 40, 8
SO_TIMESTAMPNS = 35
"""Linux: the kernel's time of arrival, with each packet; Python has no name for it."""
ERROR, JITTER = 100e-6, 0.005
"""Of the simulated audio device: a crystal 100 parts in a million off (common practice), reports 5 ms off at most."""


def addresses() -> list[str]:
    """Eight addresses of this computer."""
    pick = random.SystemRandom()
    return [f"127.{pick.randint(64, 250)}.{pick.randint(1, 250)}.{n + 1}" for n in range(CONTROLLERS)]


# --- full load ------------------------------------------------------------------------------------------------------


def write_load(path: Path, places: list[str], seconds: int) -> None:
    """Frames in which every universe changes in every frame: bands that move, as shows have them."""
    from eavesong.frames import FramesWriter, encode_frames
    from playback.helpers import house

    described = house(tuple(places), universes=UNIVERSES, frame_rate=float(FRAME_RATE))
    count = seconds * FRAME_RATE
    channel = np.arange(described.channel_count)
    with FramesWriter(path, description=described, frame_count=count) as writer:
        for first in range(0, count, writer.chunk_frames):
            frame = np.arange(first, min(first + writer.chunk_frames, count))[:, None]
            writer.append(encode_frames((((channel // 3 + frame) % 97) * 2).astype(np.uint8), writer.chunk_frames))


def receive(places: list[str], seconds: float) -> None:
    """Count what arrives for ``seconds``, by universe: packets, losses, packets out of order; and when frames begin."""
    selector = selectors.DefaultSelector()
    for place in places:
        made = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        made.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4 << 20)
        made.bind((place, 5568))
        made.setblocking(False)
        selector.register(made, selectors.EVENT_READ)
    stamped = next(iter(selector.get_map().values())).fileobj  # universe 1 goes there
    stamped.setsockopt(socket.SOL_SOCKET, SO_TIMESTAMPNS, 1)  # type: ignore[union-attr]
    print("ready", flush=True)
    last: dict[int, int] = {}
    counts = {"data": 0, "terminated": 0, "lost": 0, "out_of_order": 0}
    starts: list[float] = []
    end = clock.monotonic() + seconds
    while clock.monotonic() < end and counts["terminated"] < 3 * UNIVERSES:
        for key, _ in selector.select(0.5):
            _drain(key.fileobj, key.fileobj is stamped, last, counts, starts)  # type: ignore[arg-type]
    print(json.dumps(counts | {"starts": starts}), flush=True)


def _drain(
    made: socket.socket, stamped: bool, last: dict[int, int], counts: dict[str, int], starts: list[float]
) -> None:
    while True:
        try:
            octets, extra, _, _ = made.recvmsg(700, 64) if stamped else (made.recv(700), [], 0, 0)
        except BlockingIOError:
            return
        if len(octets) < 126:
            continue
        universe, sequence = int.from_bytes(octets[113:115], "big"), octets[111]
        step = (sequence - last.get(universe, sequence - 1)) % 256
        last[universe] = sequence
        counts["lost"] += (step - 1) % 256 if 0 < step < 128 else 0
        counts["out_of_order"] += not 0 < step < 128
        counts["terminated" if octets[112] & 0x40 else "data"] += 1
        if universe == 1 and not octets[112] & 0x40:
            seconds, nanoseconds = struct.unpack("qq", extra[0][2][:16])
            starts.append(seconds + nanoseconds / 1e9)


def send(path: str) -> None:
    """Play the file; say how many packets were sent, the processor time, and when each frame began."""
    from eavesong.playback.session import Settings, play

    fired: list[tuple[int, float]] = []
    began = clock.monotonic()
    before = resource.getrusage(resource.RUSAGE_SELF)
    with tempfile.NamedTemporaryFile(suffix=".jsonl") as log:
        settings = Settings(sound=False, discovery=False, quiet=True, log=Path(log.name))
        play(path, settings, fired=lambda number, due, here: fired.append((number, here - due)))
        told = [json.loads(line) for line in Path(log.name).read_text().splitlines()]
    after = resource.getrusage(resource.RUSAGE_SELF)
    end = told[-1]
    print(json.dumps({
        "sent": end["sent"], "dropped": end["dropped"], "late": end["skipped"], "frames": len(fired),
        "seconds": clock.monotonic() - began,
        "processor": after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime,
        "numbers": [number for number, _ in fired], "behind": [behind for _, behind in fired],
    }))  # fmt: skip


def full_load(seconds: int) -> list[tuple[str, str, str, bool]]:
    """Sender and receiver side by side."""
    places = addresses()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "load.h5"
        write_load(path, places, seconds)
        receiver = _start("receive", str(seconds + 30), *places)
        assert receiver.stdout is not None
        receiver.stdout.readline()
        sender = _start("send", str(path))
        sent = json.loads(sender.communicate()[0].splitlines()[-1])
        got = json.loads(receiver.communicate()[0].splitlines()[-1])
    data, black = got["data"], UNIVERSES  # one black packet in each universe at the end
    starts = np.array(got["starts"][: sent["frames"]])
    spread = starts - np.array(sent["numbers"][: len(starts)]) / FRAME_RATE
    spread = 1000 * (spread - spread.min())
    p99 = float(np.percentile(spread, 99))
    share = sent["processor"] / sent["seconds"]
    received = f"{data - black:,} of {sent['sent']:,}"
    complete = data - black == sent["sent"] and not got["lost"] and not sent["dropped"]
    return [
        (f"{UNIVERSES} universes, {FRAME_RATE} fps, {seconds} s: packets", received, "all", complete),
        ("  out of order", f"{got['out_of_order']}", "none", not got["out_of_order"]),
        ("  frames skipped as late", f"{sent['late']} of {FRAME_RATE * seconds:,}", "", True),
        ("  spread of frame start, p99", f"{p99:.2f} ms", "2 ms", p99 <= 2),
        ("  spread of frame start, median / largest", f"{np.median(spread):.2f} / {spread.max():.2f} ms", "", True),
        ("  sender's processor time", f"{share:.1%} of a core", "40 %", share <= 0.4),
    ]  # fmt: skip


def _start(*words: str) -> subprocess.Popen[str]:
    command = [sys.executable, __file__, *words]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True)


# --- light against sound --------------------------------------------------------------------------------------------


def light_and_sound(minutes: float) -> list[tuple[str, str, str, bool]]:
    """Where the audio device was, by its own samples, each time a frame left; in simulated time."""
    import uuid
    import wave

    from eavesong.playback.audio import AudioClock
    from eavesong.playback.player import Player
    from eavesong.playback.sender import Sender, Voice
    from eavesong.playback.source import Still
    from eavesong.playback.status import Status
    from eavesong.playback.stop import Stop
    from eavesong.playback.wiring import wire
    from playback.device import SimDevice
    from playback.helpers import RememberingLinks, SimTime, house

    rate, time = 8000, SimTime()
    device = SimDevice(time, ERROR, JITTER)
    device.keep = 0
    with tempfile.TemporaryDirectory() as folder:
        with wave.open(f"{folder}/song.wav", "wb") as file:
            file.setparams((1, 2, rate, 0, "NONE", ""))
            file.writeframes(bytes(2 * round(minutes * 60 * rate)))
        _install(device)
        described = house(universes=1, pixels=10)
        look = Still("song", wire(described.patch, described.channel_count, "x"), seconds=1.0)
        look.frame_rate, look.frame_count = float(FRAME_RATE), minutes * 60 * FRAME_RATE
        recorded: list[float] = []
        network = RememberingLinks(time)
        sender = Sender(network, Voice(uuid.uuid4(), discovery=False), time)

        def fired(number: int, due: float, here: float) -> None:
            recorded.append(device.position() - number / FRAME_RATE)
            network.packets.clear()

        device.drive()
        sound = AudioClock(Path(f"{folder}/song.wav"), time)
        Player(sender, time, Stop(), Status(time, quiet=True), fired=fired).play(look, sound)
        sound.close()
    error = np.array(recorded) * FRAME_RATE
    worst = float(np.abs(error).max())
    drift = ERROR * minutes * 60 * FRAME_RATE
    return [
        (f"light against sound, {minutes:g} simulated min", f"{worst:.2f} frames", "±1 frame", worst <= 1),
        ("  what the clocks drifted apart meanwhile", f"{drift:.1f} frames", "", True),
        ("  frames sent", f"{len(recorded):,}", "", True),
    ]


def _install(device: object) -> None:
    from types import ModuleType

    from playback.device import _Stream

    module = ModuleType("sounddevice")
    module.OutputStream = lambda **options: _Stream(device, options)  # type: ignore[attr-defined, arg-type]
    sys.modules["sounddevice"] = module


# --- memory ---------------------------------------------------------------------------------------------------------


def write_evening(folder: Path, hours: float) -> tuple[str, datetime]:
    """A setlist of three songs of about three minutes; the address they go to, and when the evening begins."""
    from playback.helpers import house, moving, write_frames

    place, begin = addresses()[0], datetime(2026, 12, 4, 12, tzinfo=UTC)
    described = house((place,), universes=2)
    for n in range(3):
        write_frames(folder / f"{n}.h5", described, moving(described, 40 * 170 + 400 * n))
    songs = "".join(f'[[song]]\nframes = "{n}.h5"\n' for n in range(3))
    until = begin + timedelta(hours=hours + 1)
    keys = f'start = "12:00"\nend = "{until:%H:%M}"\norder = "shuffle"\npause = 10\nidle = "gold"\n'
    (folder / "list.toml").write_text(f"[evening]\n{keys}{songs}")
    return place, begin


def evening(folder: Path, place: str, begin: datetime, hours: float) -> None:
    """An evening in simulated time, over real sockets; resident memory after a sixth of it and at the end."""
    from eavesong.playback.session import Settings
    from eavesong.season.evening import run_evening
    from eavesong.season.setlist import load_setlist
    from playback.helpers import SimTime

    ear = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    ear.bind((place, 5568))  # never read: what does not fit is thrown away by the kernel
    time, seen = SimTime(begin), {}

    def early() -> None:
        seen["early"] = _resident()

    def late() -> None:
        seen["late"] = _resident()
        raise KeyboardInterrupt

    time.at = [(1000 + 600 * hours, early), (1000 + 3600 * hours, late)]
    log = folder / "log.jsonl"
    try:
        run_evening(load_setlist(folder / "list.toml"), Settings(quiet=True, log=log), time=time, local=UTC)
    except KeyboardInterrupt:
        print(json.dumps(seen | {"songs": log.read_text().count('"event": "song"')}))
    ear.close()


def _resident() -> int:
    """Resident memory in bytes (proc(5), statm: pages)."""
    return int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE")


def memory(hours: float) -> list[tuple[str, str, str, bool]]:
    """Memory at two moments of a long evening."""
    with tempfile.TemporaryDirectory() as folder:
        place, begin = write_evening(Path(folder), hours)
        process = _start("evening", folder, place, begin.isoformat(), str(hours))
        seen = json.loads(process.communicate()[0].splitlines()[-1])
    growth = seen["late"] / seen["early"] - 1
    early, late = (f"{seen[name] / 1e6:.1f} MB" for name in ("early", "late"))
    return [
        (f"memory after {hours / 6:g} h and {hours:g} h, simulated", f"{early}, {late}", "", True),
        ("  growth", f"{growth:+.2%}", "±2 %", abs(growth) <= 0.02),
        ("  songs played meanwhile", f"{seen['songs']}", "", True),
    ]


def main() -> None:
    """All figures, as a table; the exit code says whether every bar was met."""
    if len(sys.argv) > 1 and sys.argv[1] in ("receive", "send", "evening"):
        word, rest = sys.argv[1], sys.argv[2:]
        if word == "receive":
            receive(rest[1:], float(rest[0]))
        elif word == "send":
            send(rest[0])
        else:
            evening(Path(rest[0]), rest[1], datetime.fromisoformat(rest[2]), float(rest[3]))
        return
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--seconds", type=int, default=60, help="of full load")
    options.add_argument("--minutes", type=float, default=30, help="of light against sound, simulated")
    options.add_argument("--hours", type=float, default=6, help="of an evening, simulated")
    chosen = options.parse_args()
    rows = full_load(chosen.seconds) + light_and_sound(chosen.minutes) + memory(chosen.hours)
    print(f"{'what':<48} {'measured':<24} {'bar':<9}")
    for what, measured, bar, met in rows:
        print(f"{what:<48} {measured:<24} {bar:<9} {'' if not bar else 'met' if met else 'NOT MET'}")
    sys.exit(0 if all(row[3] for row in rows) else 1)


if __name__ == "__main__":
    main()
