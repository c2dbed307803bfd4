"""Room on the disk: estimated before anything is rendered, so that a batch does not stop half-way through the night."""

from __future__ import annotations

import os
import shutil
from collections import defaultdict
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from eavesong.errors import OutputError, Problem
from eavesong.season.fresh import stored_share

if TYPE_CHECKING:
    from eavesong.season.plan import Plan, Task

MARGIN = 1.1
"""What is added to the share that earlier frames of the same show and house took."""
BESIDE = 1 << 20
"""Bytes beside the frames: places, patch and texts."""


def seconds_of(song: str) -> float:
    """How long a song is by its file's own word; 0 where that cannot be read without decoding it."""
    import soundfile

    from eavesong.music.hush import quiet

    try:
        with quiet():
            return float(soundfile.info(song).duration)
    except (OSError, RuntimeError, TypeError, ValueError):
        return 0.0


def estimate(plan: Plan, due: Sequence[Task], seconds: Mapping[int, float]) -> dict[Path, int]:
    """Bytes that the frames of the ``due`` tasks will take, by the folder they go to.

    As many as frames of the same show and house took before, and a tenth; their full size, which they never exceed
    by more than a thousandth, where there are none yet. An old file stays until its new one is whole.
    """
    shares: dict[tuple[str, str], float] = {}
    for task in plan.tasks:
        if (share := stored_share(task)) is not None:
            pair = (task.show, task.layout)
            shares[pair] = max(shares.get(pair, 0.0), share)
    needed: dict[Path, int] = defaultdict(int)
    for task in due:
        full = seconds[task.number] * task.frame_rate * plan.layouts[task.layout].patch.channel_count
        share = min(1.0, MARGIN * shares.get((task.show, task.layout), 1.0))
        needed[Path(task.out).parent] += round(full * share * 1.001) + BESIDE
    return dict(needed)


def refuse_if_full(needed: Mapping[Path, int]) -> None:
    """Raise OutputError where a disk has less room than the frames need that go to it."""
    disks: dict[int, list[Path]] = defaultdict(list)
    for folder in needed:
        disks[os.stat(folder).st_dev].append(folder)
    problems = []
    for folders in disks.values():
        wanted, free = sum(needed[folder] for folder in folders), shutil.disk_usage(folders[0]).free
        if wanted > free:
            found = f"the frames need about {size_text(wanted)}, and {size_text(free)} are free"
            problems.append(
                Problem(str(folders[0]), "", found, "Make room, write elsewhere, or go on with --ignore-space.")
            )
    if problems:
        raise OutputError(problems)


def size_text(count: float) -> str:
    """``512 kB``, ``4.3 GB``: powers of 1000, as disks are sold."""
    for unit in ("B", "kB", "MB", "GB"):
        if count < 1000:
            return f"{count:.0f} {unit}" if count >= 10 or unit == "B" else f"{count:.1f} {unit}"
        count /= 1000
    return f"{count:.1f} TB"
