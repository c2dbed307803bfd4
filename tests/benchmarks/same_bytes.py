"""Whether a change of structure changed a byte: hashes of frames that the command makes, held against earlier ones.

    python tests/benchmarks/same_bytes.py --write before.json
    python tests/benchmarks/same_bytes.py --against before.json

Uses the command line alone, so that it runs with any structure behind it.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import subprocess
import sys
import tempfile
from pathlib import Path

HOUSES = ("two-storey-2026.toml", "bungalow.toml")
TERMS = {
    "plain": (),
    "part": ("--from", "10", "--to", "14"),
    "props": ("--props", "arch", "--to", "4"),
    "soften": ("--soften", "--to", "8"),
    "limit": ("--limit", "house:150W", "--to", "8"),
    "both": ("--soften", "--limit", "house:200W", "--to", "8"),
    "rate": ("--fps", "25", "--to", "6"),
}


def eavesong(*arguments: str | Path) -> None:
    """Run the command; what it prints is thrown away unless it fails."""
    done = subprocess.run([sys.executable, "-m", "eavesong", *map(str, arguments)], capture_output=True, text=True)
    if done.returncode not in (0, 1):
        raise SystemExit(f"{arguments}: {done.stderr}")


def frames_hash(path: Path) -> str:
    """SHA-256 of what ``/frames`` holds."""
    import h5py

    with h5py.File(path) as file:
        return hashlib.sha256(file["frames"][()].tobytes()).hexdigest()[:16]


def hashes(folder: Path) -> dict[str, str]:
    """The hash of each file that is made in ``folder``, by what was asked for."""
    found: dict[str, str] = {}
    eavesong("demo", "--out", folder)
    for path in sorted(folder.glob("*.h5")):
        found[f"demo {path.stem}"] = frames_hash(path)
    song, show = folder / "lantern-walk.wav", folder / "street.show.toml"
    layouts = Path(__file__).parents[2] / "layouts"
    for house in HOUSES:
        for name, terms in TERMS.items():
            out = folder / "out.h5"
            eavesong("render", show, "-l", layouts / house, "-o", out, "--song", song, *terms, "-q")
            found[f"{house} {name}"] = frames_hash(out)
    for effect in sorted(Path(__file__).parents[2].glob("effects/*.toml")):
        one = folder / "one.show.toml"
        one.write_text(f'song = "{song.name}"\n[[cue]]\neffect = "{effect.stem}"\nblend = "screen"\n')
        eavesong("render", one, "-l", layouts / HOUSES[0], "-o", folder / "out.h5", "--from", "20", "--to", "22", "-q")
        found[f"effect {effect.stem}"] = frames_hash(folder / "out.h5")
    whole, moved = folder / "whole.h5", folder / "moved.h5"
    eavesong("render", show, "-l", layouts / HOUSES[0], "-o", whole, "--song", song, "-q")
    eavesong(
        "retarget", show, "--from", layouts / HOUSES[0], "--to", layouts / HOUSES[1], "--frames", whole, "-o", moved,
        "--song", song, "-q",
    )  # fmt: skip
    found["retargeted"] = frames_hash(moved)
    return found


def main() -> None:
    """Write the hashes, or hold them against those that were written."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--write", type=Path)
    parser.add_argument("--against", type=Path)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        found = hashes(Path(folder))
    if asked.write:
        asked.write.write_text(json.dumps(found, indent=1))
    if asked.against:
        before = json.loads(asked.against.read_text())
        apart = [name for name in before if found.get(name) != before[name]]
        print(f"{len(before)} compared, {len(apart)} differ", *apart, sep="\n")
        sys.exit(bool(apart))


if __name__ == "__main__":
    main()
