"""How fast frames files are written and read, and what chunk sizes and compressors do for them.

    python tests/benchmarks/frames_io.py                     # the whole file: write, sync, verify
    python tests/benchmarks/frames_io.py --compressors       # one thread, memory only
    python tests/benchmarks/frames_io.py --chunks            # bytes in a chunk
    python tests/benchmarks/frames_io.py --pixels 10000 --frames 7200 --threads 2 --folder /tmp

Rates are raw bytes of frames per second. Frames are made beforehand and used in turn, so that making them is not
measured. Wall-clock time unless it says CPU.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
import zlib
from collections import deque
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np

from eavesong.frames import Description, FramesWriter, PatchRow, PropRow, encode_frames, open_frames
from eavesong.frames.encode import encode_chunk
from eavesong.frames.format import CHUNK_BYTES, column_width_for

HELD = 24
"""Different frames that take turns."""


def house(pixels: int, waves: float, sparkle: float) -> np.ndarray:
    """HELD frames, uint8 (frame, channel): plane waves over straight props of 50 pixels, strewn over a house.

    ``waves``: how many lie across the house; 0.5 is a soft gradient, 6 changes from pixel to pixel. ``sparkle``:
    share of pixels that glitter, others every 4 frames.
    """
    random = np.random.default_rng(0)
    props = -(-pixels // 50)
    wire = np.arange(50) / 50
    angle, length = random.random(props) * 2 * np.pi, random.uniform(0.01, 0.1, props)
    x = (random.random(props)[:, None] + (np.cos(angle) * length)[:, None] * wire).ravel()[:pixels]
    y = (random.random(props)[:, None] + (np.sin(angle) * length)[:, None] * wire).ravel()[:pixels]
    frames = np.empty((HELD, pixels, 3), np.uint8)
    for frame in range(HELD):
        for channel, (right, up, speed) in enumerate([(1, 0.7, 0.3), (0.6, 1.3, 0.5), (0.9, 0.4, 0.8)]):
            phase = 2 * np.pi * (waves * (right * x + up * y) + speed * frame / 40) + channel
            frames[frame, :, channel] = (0.5 + 0.5 * np.sin(phase)) ** 2.2 * 255 + 0.5
        glitter = np.random.default_rng(frame // 4).random(pixels)
        lit = glitter < sparkle
        frames[frame, lit] = (255 * glitter[lit] / max(sparkle, 1e-9))[:, None]
    return frames.reshape(HELD, -1)


def band(pixels: int) -> np.ndarray:
    """A band of light over a tenth of a house that is dark otherwise."""
    frames = house(pixels, 0.5, 0.0).reshape(HELD, pixels, 3)
    x = np.linspace(0, 1, pixels)
    for frame in range(HELD):
        frames[frame, np.abs(x - frame / HELD) > 0.05] = 0
    return frames.reshape(HELD, -1)


def palette(pixels: int) -> np.ndarray:
    """A soft wave over the house in the colours between two."""
    share = house(pixels, 0.5, 0.0).reshape(HELD, pixels, 3)[:, :, :1] / 255
    return (share * [255, 120, 10] + (1 - share) * [10, 60, 200]).astype(np.uint8).reshape(HELD, -1)


KINDS: dict[str, Callable[[int], np.ndarray]] = {
    "dark": lambda pixels: np.zeros((HELD, 3 * pixels), np.uint8),
    "band on dark": band,
    "two colours": palette,
    "soft gradient": lambda pixels: house(pixels, 0.5, 0.0),
    "soft, sparkle": lambda pixels: house(pixels, 0.5, 0.05),
    "waves, sparkle": lambda pixels: house(pixels, 6, 0.05),
    "noise": lambda pixels: np.random.default_rng(0).integers(0, 256, (HELD, 3 * pixels), np.uint8),
}


def describe(pixels: int) -> Description:
    places = np.random.default_rng(0).random((pixels, 3), np.float32)
    patch = (PatchRow("house", 0, pixels, 0, 3 * pixels, "RGB"),)
    return Description("benchmark", 40.0, places, places, (PropRow("house", 0, pixels),), patch)


def write(path: Path, frames: np.ndarray, count: int, threads: int, chunk: int | None) -> tuple[float, float]:
    """Write ``count`` frames; seconds until the last chunk was appended, and until the file was safe on the disk."""
    description = describe(frames.shape[1] // 3)
    began = time.perf_counter()
    with (
        FramesWriter(path, description=description, frame_count=count, chunk_frames=chunk) as writer,
        ThreadPoolExecutor(threads) as workers,
    ):
        size = writer.chunk_frames
        waiting: deque = deque()
        for first in range(0, count, size):
            many = min(size, count - first)
            at = first % max(1, HELD - many)
            source = frames[at : at + many] if many <= HELD else frames[np.arange(first, first + many) % HELD]
            waiting.append(workers.submit(encode_frames, source, size))
            if len(waiting) > 2 * threads:
                writer.append(waiting.popleft().result())
        while waiting:
            writer.append(waiting.popleft().result())
        appended = time.perf_counter() - began
    return appended, time.perf_counter() - began


def whole_files(options: argparse.Namespace) -> None:
    raw = options.pixels * 3 * options.frames
    print(f"{raw / 1e6:,.0f} MB of frames, {options.threads} compressing threads; best of {options.repeats}")
    print(f"{'':15} {'appended':>10} {'on disk':>10} {'CPU':>8} {'stored':>7} {'verify':>10}")
    for name, make in KINDS.items():
        frames = make(options.pixels)
        with tempfile.TemporaryDirectory(dir=options.folder) as folder:
            path = Path(folder) / "frames.h5"
            runs = []
            for _ in range(options.repeats):
                cpu = time.process_time()
                runs.append((*write(path, frames, options.frames, options.threads, None), time.process_time() - cpu))
            appended, on_disk, cpu = (min(column) for column in zip(*runs, strict=True))
            stored = os.path.getsize(path) / raw
            began = time.perf_counter()
            with open_frames(path) as file:
                file.verify()
            read = time.perf_counter() - began
        print(
            f"{name:15} {raw / appended / 1e9:5.2f} GB/s {raw / on_disk / 1e9:5.2f} GB/s"
            f" {cpu / raw * 1e9:4.2f} s/GB {stored:7.1%} {raw / read / 1e9:5.2f} GB/s"
        )


def best_cpu(work: Callable[[], object], repeats: int) -> float:
    """Least CPU seconds of this thread that ``work`` takes."""
    taken = []
    for _ in range(repeats):
        began = time.thread_time()
        work()
        taken.append(time.thread_time() - began)
    return min(taken)


def compressors(options: argparse.Namespace) -> None:
    from isal import isal_zlib

    ways: dict[str, Callable[[np.ndarray], object]] = {
        **{f"isal {level}": lambda data, level=level: isal_zlib.compress(data, level) for level in range(4)},
        "zlib 1": lambda data: zlib.compress(data, 1),
        "chosen": lambda data: encode_chunk(data, data.shape).data,
    }
    print("one thread, 16 frames: MB/s of CPU time, and the share that is left; the last with checksum and choice")
    print(f"{'':15}" + "".join(f"{way:>16}" for way in ways))
    for name, make in KINDS.items():
        frames, width = make(options.pixels)[:16], column_width_for(3 * options.pixels)
        parts = [np.ascontiguousarray(frames[:, at : at + width]) for at in range(0, frames.shape[1], width)]
        cells = []
        for compress in ways.values():
            left = sum(len(compress(part)) for part in parts) / frames.size  # type: ignore[arg-type]
            seconds = best_cpu(lambda compress=compress, parts=parts: [*map(compress, parts)], options.repeats)
            cells.append(f"{frames.size / seconds / 1e6:8,.0f} {left:7.2%}")
        print(f"{name:15}" + "".join(cells))


def chunk_sizes(options: argparse.Namespace) -> None:
    print(f"bytes together: encoding on one thread (CPU), share left, reading one frame; default {CHUNK_BYTES:,}")
    for pixels in (500, 5_000, options.pixels):
        for name in ("soft, sparkle", "band on dark"):
            frames = KINDS[name](pixels)
            for size in sorted(
                {max(1, want // (3 * pixels)) for want in (1 << 16, 1 << 18, 1 << 19, 1 << 20, 1 << 22)}
            ):
                chunk = np.ascontiguousarray(frames[np.arange(size) % HELD])
                seconds = best_cpu(lambda chunk=chunk, size=size: encode_frames(chunk, size), options.repeats * 3)
                left = sum(part.data.size for part in encode_frames(chunk, size).chunks) / chunk.size
                with tempfile.TemporaryDirectory(dir=options.folder) as folder:
                    path = Path(folder) / "frames.h5"
                    write(path, frames, 3 * size, 1, size)
                    with open_frames(path) as file:
                        began = time.perf_counter()
                        _ = file.frames[size]
                        one = time.perf_counter() - began
                print(
                    f"{pixels:8,} pixels, {name:14} {size:6} frames {chunk.size / 1024:7,.0f} KiB"
                    f" {chunk.size / seconds / 1e6:7,.0f} MB/s {left:7.2%} {one * 1e3:7.2f} ms"
                )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--pixels", type=int, default=100_000)
    parser.add_argument("--frames", type=int, default=2_400)
    parser.add_argument("--threads", type=int, default=2)
    parser.add_argument("--repeats", type=int, default=3)
    parser.add_argument("--folder", help="where to write; default: the system's folder for temporary files")
    parser.add_argument("--compressors", action="store_true", help="compare compressors in memory")
    parser.add_argument("--chunks", action="store_true", help="compare sizes of chunks")
    options = parser.parse_args()
    encode_frames(np.arange(200_000, dtype=np.uint32).view(np.uint8).reshape(1, -1), 1)  # compile
    print(f"Python {sys.version.split()[0]}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
    if options.compressors:
        compressors(options)
    elif options.chunks:
        chunk_sizes(options)
    else:
        whole_files(options)


if __name__ == "__main__":
    main()
