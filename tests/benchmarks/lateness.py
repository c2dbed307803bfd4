"""How late frames leave, on a computer that is idle and on one that is busy, with the right to run first and without.

    python tests/benchmarks/lateness.py                    # about two minutes, half of them with every processor busy
    python tests/benchmarks/lateness.py --seconds 5 --ways # also: ways of being woken, taking turns

The player sends ten universes at 40 frames a second to addresses of this computer where nobody listens. Busy means two
programs for every processor that do nothing but count.
"""

from __future__ import annotations

import argparse
import contextlib
import ctypes
import json
import os
import platform
import random
import shutil
import struct
import subprocess
import sys
import tempfile
import time as clock
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

sys.path[0] = str(Path(__file__).parents[1])  # for `playback.helpers`

UNIVERSES, FRAME_RATE = 10, 40
STEP = 0.025
SCHED_SETATTR = {"x86_64": 314, "aarch64": 274}
"""Number of the system call sched_setattr(2), which Python does not have."""
SLICE = 100_000
"""Nanoseconds that a thread asks to run at a time: Linux from 6.12 on lets one that asks for little go sooner."""


def without_right() -> list[str]:
    """What a command is started by to lack the right to run first; nothing where it lacks it anyway."""
    if os.geteuid() or not shutil.which("setpriv"):
        return []
    return ["setpriv", "--inh-caps=-all", "--bounding-set=-all"]


@contextlib.contextmanager
def load(busy: bool) -> Iterator[None]:
    """Two programs for every processor that do nothing but count."""
    count = 2 * (os.cpu_count() or 1) if busy else 0
    running = [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(count)]
    try:
        yield
    finally:
        for each in running:
            each.kill()
            each.wait()


# --- the player -----------------------------------------------------------------------------------------------------


def write_frames(folder: Path, seconds: int) -> Path:
    """Frames that all differ, for ten universes at an address of this computer."""
    from playback.helpers import house, moving, write_frames

    pick = random.SystemRandom()
    described = house((f"127.{pick.randint(64, 250)}.{pick.randint(1, 250)}.7",), universes=UNIVERSES)
    return write_frames(folder / "frost.h5", described, moving(described, seconds * FRAME_RATE))


def play(path: Path, *, right: bool) -> dict[str, float]:
    """Play it in a process of its own; what its log says at the end."""
    log = path.with_suffix(".jsonl")
    log.unlink(missing_ok=True)
    command = [sys.executable, "-m", "eavesong", "play", str(path), "--silent", "--quiet", "--log", str(log)]
    subprocess.run([*([] if right else without_right()), *command], check=True)
    told = [json.loads(line) for line in log.read_text().splitlines()]
    withheld = any(each["event"] == "withheld" for each in told)
    return {**told[-1], "right": not withheld}


def players(seconds: int) -> None:
    """A line for each case."""
    print(f"{'player':<34} {'frames':>7} {'skipped':>8} {'median':>9} {'99 of 100':>10} {'latest':>9}")
    with tempfile.TemporaryDirectory() as folder:
        path = write_frames(Path(folder), seconds)
        for busy in (False, True):
            for right in (True, False):
                with load(busy):
                    told = play(path, right=right)
                if right and not told["right"]:
                    continue  # nobody has it here
                name = f"{'busy' if busy else 'as it is'}, {'with' if right else 'without'} the right"
                late = [f"{told[f'late_ms_{each}']:.1f} ms" for each in ("median", "p99", "worst")]
                print(f"{name:<34} {told['frames']:>7,} {told['skipped']:>8,} {late[0]:>9} {late[1]:>10} {late[2]:>9}")


# --- ways of being woken --------------------------------------------------------------------------------------------


def ways() -> dict[str, Callable[[float], None]]:
    """What may be done to be woken at a moment of CLOCK_MONOTONIC, without any right."""
    libc = ctypes.CDLL(None, use_errno=True)
    timer = libc.timerfd_create(1, 0)

    def slack(nanoseconds: int) -> None:
        libc.prctl(29, nanoseconds, 0, 0, 0)

    def short_slice(nanoseconds: int) -> None:
        wanted = struct.pack("IIQiIQQQ", 48, 0, 0, os.getpriority(os.PRIO_PROCESS, 0), 0, nanoseconds, 0, 0)
        if number := SCHED_SETATTR.get(platform.machine()):
            libc.syscall(number, 0, wanted, 0)

    def sleep(due: float, spin: float = 0.0) -> None:
        clock.sleep(max(0.0, due - spin - clock.monotonic()))
        while clock.monotonic() < due:
            pass

    def timed(due: float) -> None:
        libc.timerfd_settime(timer, 1, struct.pack("qqqq", 0, 0, int(due), int(due % 1 * 1e9)), None)
        os.read(timer, 8)

    def with_slack(due: float) -> None:
        slack(50_000)
        sleep(due)
        slack(1)

    def sliced(due: float) -> None:
        short_slice(SLICE)
        sleep(due)
        short_slice(0)

    return {
        "sleep": with_slack, "sleep, no slack": sleep, "timerfd": timed, "sleep, short slice": sliced,
        "sleep, and 0.5 ms of looking": lambda due: sleep(due, 0.0005),
    }  # fmt: skip


def compare(seconds: float) -> None:
    """Each way in its turn, frame by frame, so that all meet the same company; in this thread."""
    kinds = ways()
    late: dict[str, list[float]] = {name: [] for name in kinds}
    begin = clock.monotonic() + STEP
    for number in range(round(seconds / STEP)):
        name = list(kinds)[number % len(kinds)]
        due = begin + number * STEP
        if clock.monotonic() < due - STEP / 2:  # else the one before was so late that this one cannot be told
            kinds[name](due)
            late[name].append(clock.monotonic() - due)
    print(f"{'woken by':<34} {'times':>7} {'median':>18} {'99 of 100':>10} {'latest':>9}")
    for name, each in late.items():
        figures = [f"{1000 * float(np.percentile(each, share)):.2f} ms" for share in (50, 99, 100)]
        print(f"{name:<34} {len(each):>7,} {figures[0]:>18} {figures[1]:>10} {figures[2]:>9}")


def main() -> None:
    """Print the tables."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--seconds", type=int, default=30, help="of each case")
    options.add_argument("--ways", action="store_true", help="compare ways of being woken too")
    options.add_argument("--compare", type=float, help=argparse.SUPPRESS)
    chosen = options.parse_args()
    if chosen.compare:
        compare(chosen.compare)
        return
    print(f"{os.cpu_count()} processors, load {os.getloadavg()[0]:.1f}\n")
    players(chosen.seconds)
    if chosen.ways:
        command = [*without_right(), sys.executable, __file__, "--compare", str(5 * chosen.seconds)]
        for busy in (False, True):
            print(f"\nwithout the right, {'busy' if busy else 'as it is'}")
            with load(busy):
                subprocess.run(command, check=True)


if __name__ == "__main__":
    main()
