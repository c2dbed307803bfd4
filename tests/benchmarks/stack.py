"""Compare eavesong's speed with other array tools on the six-cue stack: python tests/benchmarks/stack.py

Each contender runs in a process of its own; the timed rounds take turns, so that a slow moment of the machine hits
all alike. Before that each contender is checked against a plain float64 reference (see stack/reference.py).
Contenders that this Python lacks are looked for in the interpreters given with --also.
"""

import argparse
import json
import subprocess
import sys
import tempfile
from pathlib import Path
from statistics import median

import numpy as np
from stack import CONTENDERS, reference

HERE = Path(__file__).parent
CHECKED = (0, 1234, 3999, 7000)  # first frames of the checked spans
SPAN = 3


class Contender:
    """A worker process; `reason` tells why it does not take part, `first` how long its first call took."""

    def __init__(self, key, pythons, places, log):
        for python in pythons:
            command = [python, "-m", "stack.worker", key, str(places)]
            pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "stderr": log, "text": True}
            self.process = subprocess.Popen(command, cwd=HERE, **pipes)
            greeting = json.loads(self.process.stdout.readline() or '{"reason": "did not start"}')
            self.key, self.name, self.reason = key, greeting.get("name", key), greeting["reason"]
            self.rates, self.first, self.apart, self.sparkle = [], None, None, None
            if not self.reason:
                break
            self.close()

    def render(self, first, count, **options):
        """Seconds for frames first .. first + count; None, and the contender is out, if it fails."""
        self.process.stdin.write(json.dumps({"first": first, "count": count, **options}) + "\n")
        self.process.stdin.flush()
        answer = self.process.stdout.readline()
        if not answer:
            self.reason = f"failed, exit code {self.process.wait()}; see the log"
            return None
        return json.loads(answer)["seconds"]

    def close(self):
        self.process.stdin.close()
        self.process.wait()


def main():
    options = _options()
    generator = np.random.default_rng(0)
    places = {key: generator.random(options.pixels, dtype=np.float32) for key in ("x", "y", "u", "seed")}
    with tempfile.TemporaryDirectory() as folder, open(Path(folder) / "log.txt", "w+") as log:
        file = Path(folder) / "places.npz"
        np.savez(file, **places)
        contenders = [Contender(key, [sys.executable, *options.also], file, log) for key in options.contenders]
        for contender in contenders:
            if not contender.reason:
                check(contender, places, Path(folder) / "bytes.npy")
        for number in range(options.rounds):
            for contender in contenders:
                if not contender.reason:
                    _time(contender, options)
            print(f"round {number + 1} of {options.rounds} done", file=sys.stderr)
        for contender in contenders:
            if not contender.reason:
                contender.close()
        if any("failed" in (contender.reason or "") for contender in contenders):
            log.seek(0)
            print(log.read()[-3000:], file=sys.stderr)
    expected = expected_sparkle(places)
    print(table(contenders, expected, options))
    sys.exit(any(one.rates and not agrees(one, expected) for one in contenders))


def _options():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--pixels", type=int, default=10_000)
    parser.add_argument("--frames", type=int, default=7_200)
    parser.add_argument("--rounds", type=int, default=3, help="timed rounds; the median counts (default 3)")
    parser.add_argument(
        "--contenders", type=lambda text: text.split(","), default=CONTENDERS, help=",".join(CONTENDERS)
    )
    parser.add_argument("--also", action="append", default=[], help="another Python, for contenders not installed here")
    return parser.parse_args()


def _time(contender, options):
    seconds = contender.render(0, options.frames)
    if seconds:
        contender.rates.append(options.pixels * options.frames / seconds / 1e6)


def check(contender, places, file):
    """Fill in `apart`, the largest difference of a byte without sparkle, and `sparkle`: (share, change) here."""
    apart, changes = 0, []
    for first in CHECKED:
        frames = range(first, first + SPAN)
        plain = reference.render(places, frames, sparkle=False).astype(int)
        clear = ~reference.near_jump(places, frames)
        seconds = contender.render(first, SPAN, sparkle=False, save=str(file))
        if seconds is None:
            return
        contender.first = contender.first or seconds
        apart = max(apart, np.abs(np.load(file) - plain)[clear].max())
        contender.render(first, SPAN, sparkle=True, save=str(file))
        changes.append(np.abs(np.load(file) - plain)[clear])
    contender.apart, contender.sparkle = apart, spread(np.concatenate(changes))


def expected_sparkle(places):
    """What `spread` is for the reference, with a random generator in place of a hash."""
    changes = []
    for first in CHECKED:
        frames = range(first, first + SPAN)
        lit, plain = (reference.render(places, frames, sparkle=on).astype(int) for on in (True, False))
        changes.append(np.abs(lit - plain)[~reference.near_jump(places, frames)])
    return spread(np.concatenate(changes))


def spread(change):
    """Share of pixels that the sparkle changes, and its mean change of a byte there."""
    changed = change.max(axis=-1) > 1
    return changed.mean(), change[changed].mean() if changed.any() else 0.0


def agrees(contender, expected):
    """Bytes within 1 without the sparkle; with it, as many pixels changed, and by as much, within a tenth."""
    pairs = zip(contender.sparkle, expected, strict=True)
    return contender.apart <= 1 and all(abs(here - wanted) <= 0.1 * wanted for here, wanted in pairs)


def table(contenders, expected, options):
    """The results as text, 80 columns wide."""
    ours = next((one.rates for one in contenders if one.key == "eavesong"), [])
    lines = [
        f"Six-cue stack, {options.pixels:,} pixels, {options.frames:,} frames, median of {options.rounds} rounds",
        "",
        f"{'':<22}{'M pixel-':>10}{'eavesong':>10}{'first':>9}{'':>10}{'bytes':>7}{'':>4}sparkle",
        f"{'contender':<22}{'frames/s':>10}{'is':>10}{'call':>9}{'agrees':>10}{'apart':>7}{'':>4}share, change",
    ]
    for one in contenders:
        if one.reason or not one.rates:
            lines.append(f"{one.name:<25}{one.reason or 'no result'}")
            continue
        ratio = f"{median(a / b for a, b in zip(ours, one.rates, strict=True)):.2f} x" if ours else "-"
        verdict = "yes" if agrees(one, expected) else "NO"
        figures = f"{median(one.rates):>10.1f}{ratio:>10}{one.first:>7.2f} s{verdict:>10}{one.apart:>7}"
        lines.append(f"{one.name:<22}{figures}{'':>4}{one.sparkle[0]:.1%}, {one.sparkle[1]:.0f}")
    lines += [
        "",
        "agrees: every byte within 1 of a float64 reference with the sparkle off (left out:",
        f"pixels within {reference.JUMP_MARGIN} of a jump in the wash or the chase), and with it on as many",
        f"pixels changed, by as much, as in the reference: {expected[0]:.1%}, {expected[1]:.0f}",
    ]
    return "\n".join(lines)


if __name__ == "__main__":
    main()
