"""Install what plays frames, and nothing that makes them: for the small computer on site.

    python3 docs/install_player.py FOLDER            # frames and setlists, without sound
    python3 docs/install_player.py FOLDER --sound    # with the song, through a sound card

FOLDER becomes a virtual environment with the command eavesong in it. pip cannot leave out what a package asks for in
any case, so eavesong is installed without its dependencies, and then those alone that its extra 'player' names.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import venv
from pathlib import Path

WANTED = """
import json, re
from importlib.metadata import requires
asked = [line.partition(";") for line in requires("eavesong")]
extras = [f'extra == "{name}"' for name in %r]
print(json.dumps([name.strip() for name, _, when in asked if when.strip().replace("'", '"') in extras]))
"""


def _quietly(command: list[str]) -> str:
    """What a command prints; what it complains of, as pip does of what is left out, only where it fails."""
    done = subprocess.run(command, capture_output=True, text=True)
    if done.returncode:
        sys.exit(done.stderr or done.stdout)
    return done.stdout


def main() -> None:
    """Make the environment and say what is in it."""
    parser = argparse.ArgumentParser(description="Install eavesong for playing only.")
    parser.add_argument("folder", type=Path, help="the virtual environment to make")
    parser.add_argument("--sound", action="store_true", help="also what plays songs")
    here = Path(__file__).resolve().parents[1]
    parser.add_argument("--source", default=str(here), help="eavesong: a folder, a wheel, a name; else this one")
    asked = parser.parse_args()
    venv.create(asked.folder, with_pip=True)
    python = asked.folder / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    pip = [str(python), "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    _quietly([*pip, "--no-deps", asked.source])
    extras = ["player", "audio"] if asked.sound else ["player"]
    _quietly([*pip, *json.loads(_quietly([str(python), "-c", WANTED % (extras,)]))])
    size = sum(file.stat().st_size for file in asked.folder.rglob("*") if file.is_file() and not file.is_symlink())
    print(f"{asked.folder}: {size / 1e6:.0f} MB. Play with {python.with_name('eavesong')} play FRAMES")


if __name__ == "__main__":
    main()
