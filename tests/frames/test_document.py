"""The readers shown in the specification, run as they stand there."""

import re
import shutil
import subprocess
import sys
from pathlib import Path

import h5py
import pytest

DOCUMENT = Path(__file__).parents[2] / "docs" / "frames-file.md"


def shown(language):
    """The first block of code in ``language``."""
    found = re.search(rf"```{language}\n(.*?)```", DOCUMENT.read_text(encoding="utf-8"), re.DOTALL)
    assert found is not None
    return found[1]


def test_the_reader_in_python_prints_patch_and_frames(written, tmp_path):
    path, _, frames = written
    script = tmp_path / "reader.py"
    script.write_text(shown("python"), encoding="utf-8")
    told = subprocess.run([sys.executable, script, path], capture_output=True, text=True, check=True).stdout
    rows, lines = told.splitlines()[:2], told.splitlines()[2:]
    assert rows == ["eaves 0 138 1 1", "lantern 138 16 0 0"]
    assert len(lines) == 60
    assert lines[20] == "2.500 " + " ".join(map(str, frames[20, :6]))


def test_the_reader_in_python_needs_h5py_only_and_is_ten_lines_long():
    code = [line for line in shown("python").splitlines() if line]
    assert len(code) <= 10
    assert {line for line in code if "import" in line} == {"import sys", "import h5py"}


@pytest.mark.skipif(shutil.which("h5dump") is None, reason="h5dump is not installed (package hdf5-tools)")
def test_the_lines_for_h5dump_work_as_they_stand(written):
    path, _, frames = written
    told = [
        subprocess.run(line.replace('"', "").split(), cwd=path.parent, capture_output=True, check=True).stdout.decode()
        for line in shown("sh").splitlines()
    ]
    assert '"eavesong frames 1"' in told[0]
    assert f"(11,0): {', '.join(map(str, frames[11, :12]))}" in told[1]
    assert '"lantern"' in told[2]
    assert "Ribbon of frost" in told[3]
    assert (path.parent / "frames.raw").read_bytes() == frames.tobytes()


def test_the_specification_names_all_that_is_in_the_file(written):
    path, _, _ = written
    text = DOCUMENT.read_text(encoding="utf-8")
    with h5py.File(path) as file:
        attributes = [name for name in file.attrs if not name.endswith(("_units", "_sha256"))]
        columns = [*file["patch"].dtype.names, *file["props"].dtype.names]
        names = [*attributes, *columns, *(f"/{name}" for name in file)]
    assert [name for name in names if f"`{name}`" not in text] == []
