"""Run a command as a process of its own and tell how long it took and how much memory it had at most."""

import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

PIECE = bytes(range(256)) * (1 << 13)


@dataclass(frozen=True)
class Run:
    """A finished process: seconds by the clock, seconds of all processors together, largest resident memory in MB
    (1e6 bytes), what it printed."""

    seconds: float
    processor_seconds: float
    megabytes: float
    output: str


def run(command: Sequence[str], **environment: str) -> Run:
    """Run the command with more environment; RuntimeError with what it printed when it fails."""
    with tempfile.TemporaryFile("w+") as output:
        start = time.perf_counter()
        process = subprocess.Popen(command, stdout=output, stderr=output, env={**os.environ, **environment})
        _, status, usage = os.wait4(process.pid, 0)
        seconds = time.perf_counter() - start
        process.returncode = os.waitstatus_to_exitcode(status)
        output.seek(0)
        text = output.read()
    if process.returncode:
        raise RuntimeError(f"exit code {process.returncode} from {' '.join(map(str, command))}\n{text[-2000:]}")
    unit = 1 if sys.platform == "darwin" else 1024  # getrusage(2): bytes on macOS, kilobytes on Linux
    return Run(seconds, usage.ru_utime + usage.ru_stime, usage.ru_maxrss * unit / 1e6, text)


def median_run(runs: Sequence[Run]) -> Run:
    """The medians of the figures, each for itself; the last output."""
    columns = zip(*((one.seconds, one.processor_seconds, one.megabytes) for one in runs), strict=True)
    return Run(*(statistics.median(column) for column in columns), runs[-1].output)


def have_at_hand(folder: str | Path, size: int) -> None:
    """Have the system hold ``size`` bytes of free memory that was used just now: write a file of that size, remove it.

    A virtual machine gives memory that was free for some seconds back to its host, and is slow to get it again; this
    file run by itself tells how slow. Whatever is compared has the same at hand, just before its turn; and what was
    written in the turn before is on the disk by then, so that its writing takes nothing from this one.
    """
    os.sync()
    written = Path(folder) / "at-hand"
    _write(written, size)
    written.unlink()


def _write(path: Path, size: int) -> float:
    """Seconds to write a file of ``size`` bytes, without waiting for the disk."""
    start = time.perf_counter()
    with open(path, "wb", buffering=0) as file:
        for _ in range(0, size, len(PIECE)):
            file.write(PIECE)
    return time.perf_counter() - start


if __name__ == "__main__":
    target = Path(sys.argv[1]) / "written"
    for wait in (0, 6):
        have_at_hand(target.parent, 720_000_000)
        time.sleep(wait)
        print(f"720 MB into memory freed {wait} s before: {_write(target, 720_000_000):.2f} s")
        target.unlink()
