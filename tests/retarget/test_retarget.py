"""The whole job without old frames, and what is kept of frames that are there."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from eavesong.errors import FramesError, OutputError
from eavesong.frames import open_frames
from eavesong.render import Order, render
from eavesong.retarget import retarget
from eavesong.scene import Reopened
from street import PROPS, Street, house_text

OLD = Path(__file__).parents[1] / "frames" / "data"
LOST = "not kept: a limit or a softening that earlier frames may have had"


@pytest.fixture(scope="module")
def street(tmp_path_factory: pytest.TempPathFactory) -> Street:
    return Street(tmp_path_factory.mktemp("street"))


@pytest.fixture(scope="module")
def new(street: Street) -> Path:
    return street.layout("new.toml", house_text(PROPS, "GRB"))


def test_without_old_frames_everything_is_rendered_and_without_out_nothing(
    street: Street, new: Path, tmp_path: Path
) -> None:
    assert retarget(street.show, street.old, new).rendered is None
    done = retarget(street.show, street.old, new, tmp_path / "out.h5", fps=20.0)
    assert done.rendered is not None
    assert (done.rendered.frame_count, len(done.computed), done.misfit) == (40, 4, "")
    assert done.rendered.notes == ()


def test_the_limit_of_frames_that_are_there_is_kept_and_told(street: Street, new: Path, tmp_path: Path) -> None:
    out = tmp_path / "out.h5"
    render(Order.of(street.show, new, limit=("house:5W",), soften=True), out)
    done = retarget(street.show, street.old, new, out)
    assert done.rendered is not None
    assert done.rendered.notes[0] == "kept as it was asked for before: limit house:5W; softened"
    with open_frames(out) as file:
        assert (Reopened(file).terms.limit, Reopened(file).terms.soften) == (("house:5W",), True)


@pytest.mark.parametrize("make", ["damaged", "old"])
def test_terms_that_cannot_be_known_are_told(street: Street, new: Path, tmp_path: Path, make: str) -> None:
    out = tmp_path / "out.h5"
    if make == "old":
        out.write_bytes((OLD / "first-dimmed.h5").read_bytes())
    else:
        render(Order.of(street.show, new, soften=True), out)
        with open_frames(out) as file:
            where = file.frames.dataset.parent["texts/order"].id.get_chunk_info(0).byte_offset
        data = bytearray(out.read_bytes())
        data[where] ^= 255
        out.write_bytes(data)
    done = retarget(street.show, street.old, new, out)
    assert done.rendered is not None
    assert done.rendered.notes[0].startswith(LOST)


def test_the_song_of_the_old_frames_is_kept_or_asked_for(street: Street, new: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.wav"
    soundfile.write(other, np.zeros(24000, np.float32), 8000)
    (tmp_path / "other.beats").write_text("".join(f"{n / 2}\t{n % 4 + 1}\n" for n in range(6)))
    (tmp_path / "other.sections").write_text("0.0\t3.0\tall\n")
    render(Order.of(street.show, street.old, other), tmp_path / "old.h5")
    done = retarget(street.show, street.old, new, tmp_path / "new.h5", frames=tmp_path / "old.h5")
    assert done.rendered is not None
    assert (done.rendered.frame_count, done.misfit) == (120, "")
    other.unlink()
    with pytest.raises(FramesError, match=r"is not where it was: .*other\.wav\n    Say where it is now: --song FILE"):
        retarget(street.show, street.old, new, tmp_path / "new.h5", frames=tmp_path / "old.h5")


def test_frames_are_never_written_over_what_is_read(street: Street, new: Path, tmp_path: Path) -> None:
    frames = tmp_path / "frames.h5"
    render(Order.of(street.show, street.old), frames)
    before = frames.read_bytes()
    for out in (frames, tmp_path / "same.h5"):
        if out != frames:
            out.symlink_to(frames)
        with pytest.raises(OutputError, match="is read here"):
            retarget(street.show, street.old, new, out, frames=frames, overwrite=True)
    assert frames.read_bytes() == before
