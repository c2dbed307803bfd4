"""Equal input makes equal files, to the byte."""

import numpy as np
import pytest

from eavesong.frames import Description, FramesWriter, PatchRow, PropRow, encode_frames, writer


def write(path):
    places = np.linspace(0, 1, 60, dtype=np.float32).reshape(20, 3)
    texts = {name: name * 40 for name in ("layout", "show", "beats", "sections", "effect one", "effect two")}
    described = Description(
        "Equal", 40.0, places, places, (PropRow("wire", 0, 20),), (PatchRow("wire", 0, 20, 0, 60, "RGB"),), texts=texts
    )
    frames = np.random.default_rng(0).integers(0, 4, (9, 60)).astype(np.uint8)
    with FramesWriter(path, description=described, frame_count=9) as file:
        file.append(encode_frames(frames, 9))
    return path.read_bytes()


@pytest.mark.parametrize("late", [0, 1, 3, 5])
def test_when_python_frees_a_table_does_not_show_in_the_file(tmp_path, monkeypatch, late):
    usual = write(tmp_path / "usual.h5")
    held = []
    table = writer._table

    def freed_later(*what):
        made = table(*what)
        if len(held) <= late:
            held.append(made)
        return made

    monkeypatch.setattr(writer, "_table", freed_later)
    assert write(tmp_path / "late.h5") == usual
