"""``eavesong info`` as people and programs see it."""

import json
from dataclasses import replace

import h5py
import numpy as np
from click.testing import CliRunner

from eavesong.cli.info import command
from eavesong.errors import FramesError
from eavesong.frames import PatchRow
from eavesong.frames.summary import _sources


def info(*arguments):
    return CliRunner().invoke(command, [str(argument) for argument in arguments])


def test_the_table_tells_what_the_file_is_within_80_columns(written):
    path, _, _ = written
    shown = info(path)
    assert shown.exit_code == 0
    assert shown.output.splitlines()[:5] == [
        "Ribbon of frost",
        "  song        Ribbon of frost, 0:30.0",
        "  frames      60 at 40 a second, from 0:02.0 to 0:03.5",
        "  house       2 props, 50 pixels, 154 channels",
        "  sent to     1 controller, universe 1",
    ]
    assert "  complete    yes\n" in shown.output
    assert max(map(len, shown.output.splitlines())) <= 80


def test_a_source_that_was_not_there_is_told_as_none():
    """That of no text, which has its length before it: ``head -c8 /dev/zero | sha256sum`` (coreutils) prints it."""
    nothing = "af5570f5a1810b7af78caf4bc70a660f0df51e42baf91d4de5b2328de0e83dfc"
    hashes = {"beats file": nothing, "audio": 64 * "a", "show": 64 * "b"}
    lines = _sources({"texts": {"show": 12}, "hashes": hashes})
    assert [line.split()[-2] for line in lines[1:]] == ["inside", "none", "12"]


def test_verify_says_that_every_checksum_fits(written):
    path, _, _ = written
    assert "complete    yes, and every checksum fits" in info(path, "--verify").output


def test_verify_names_the_damaged_frames(written):
    path, _, _ = written
    with h5py.File(path) as file:
        at = file["frames"].id.get_chunk_info(1).byte_offset
    data = bytearray(path.read_bytes())
    data[at] ^= 0xFF
    path.write_bytes(data)
    failed = info(path, "--verify")
    assert isinstance(failed.exception, FramesError)
    assert "frames 8 to 15, 0:02.20 to 0:02.40" in str(failed.exception)


def test_json_tells_the_same_to_programs(written):
    """The hash is what ``printf 'title = "Ribbon of frost"\\n' | sha256sum`` (coreutils) prints."""
    path, _, frames = written
    told = json.loads(info(path, "--json", "--verify").output)
    assert told["duration"] == 1.5
    assert told["raw_bytes"] == frames.size
    assert told["universes"] == [1]
    assert told["verified"] is True
    assert told["texts"]["layout"] == len('title = "Gärten"\n'.encode())
    assert told["hashes"]["show"] == "a672b1ff86b804b04a6110cb9c4b6565a946fa673658a3e50a6adbfb64a5da08"
    assert told["file_bytes"] == path.stat().st_size


def test_a_title_from_a_stranger_commands_no_terminal(tmp_path, house, write, make_frames):
    """ECMA-48: ESC [ begins a control sequence."""
    description = house(title="\x1b[2JFrost")
    path = write(tmp_path / "f.h5", description, make_frames(description, 3), chunk_frames=3)
    assert info(path).output.startswith("\\x1b[2JFrost\n")


def test_a_file_of_many_universes_names_them_as_ranges(tmp_path, house, write):
    rows = [PatchRow("eaves", pixel, 1, 3 * pixel, 3, "RGB", universe, 1) for pixel, universe in
            enumerate([1, 2, 3, 7, 9, 10])]  # fmt: skip
    rows.append(PatchRow("eaves", 6, 44, 18, 132, "RGB"))
    description = replace(house(), patch=tuple(rows))
    path = write(tmp_path / "f.h5", description, np.zeros((3, 150), np.uint8), chunk_frames=3)
    assert "universes 1-3, 7, 9-10\n" in info(path).output
