"""The whole job: two files and a song in, one frames file out, or every problem told and nothing written."""

import math
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import h5py
import numpy as np
import pytest
import soundfile

from eavesong.errors import EavesongError, EffectError, LayoutError, OutputError, ShowError
from eavesong.frames import open_frames
from eavesong.render import Order, render
from eavesong.scene import Terms

EFFECT = '''
title = "Runner"
about = "A point of light on every wire."
code = """
level = band(wrap(u - beat / 4), 0, 0.2) + 0.2 * bass
colour = palette(fract(x + 0.1 * bar))
"""
'''
SHOW = """
title = "Small show"
song = "song.wav"
[[cue]]
effect = "runner.toml"
[[cue]]
effect = "runner.toml"
on = "gable"
blend = "screen"
"""
LAYOUT = """
title = "Small house"
[[prop]]
name = "eaves"
shape = "line"
from = [0, 3, 0]
to = [8, 3, 0]
pixels = 700
tags = ["roofline"]
[[prop]]
name = "gable"
shape = "polyline"
points = [[0, 3, 1], [4, 5, 1], [8, 3, 1]]
pixels = 500
tags = ["roofline", "upper"]
[[prop]]
name = "lamp"
shape = "spot"
at = [4, 0, 2]
[[controller]]
name = "box"
universe = 1
[[controller.output]]
number = 1
order = "GRB"
gamma = 2.2
chain = ["eaves", "gable"]
[[controller.output]]
number = 2
order = "RGBW"
chain = ["lamp"]
"""
SECONDS = 4.0


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A folder with a show, a layout and four seconds of sound with its beats."""
    folder = tmp_path_factory.mktemp("show")
    (folder / "runner.toml").write_text(EFFECT)
    (folder / "small.show.toml").write_text(SHOW)
    (folder / "house.toml").write_text(LAYOUT)
    at = np.arange(round(SECONDS * 8000)) / 8000
    soundfile.write(folder / "song.wav", 0.5 * np.sin(2 * np.pi * 80 * at) * (at % 0.5 < 0.2), 8000)
    (folder / "song.beats").write_text("".join(f"{0.5 * n:.3f}\t{n % 4 + 1}\n" for n in range(8)))
    (folder / "song.sections").write_text("0.0\t2.0\tverse\n2.0\t4.0\tchorus\n")
    return folder


@pytest.fixture
def files(made, tmp_path):
    """The same in a folder of the test's own."""
    return Path(shutil.copytree(made, tmp_path / "show"))


def rendered(folder, name="out.h5", workers=None, **how):
    out = folder / name
    render(Order.of(folder / "small.show.toml", folder / "house.toml", **how), out, workers=workers)
    with open_frames(out) as frames:
        return frames.frames[:]


@pytest.fixture(scope="module")
def whole(made, tmp_path_factory):
    folder = Path(shutil.copytree(made, tmp_path_factory.mktemp("whole") / "show"))
    return rendered(folder)


def test_a_show_becomes_a_frames_file(files, whole):
    told = render(Order.of(files / "small.show.toml", files / "house.toml", frame_rate=40), files / "out.h5")
    assert (told.first_frame, told.frame_count, told.frame_rate) == (0, 160, 40.0)
    assert (told.pixel_count, told.cue_count) == (1201, 2)
    with open_frames(files / "out.h5") as frames:
        assert frames.complete
        assert (frames.title, frames.song, frames.frame_rate) == ("Small show", "song.wav", 40.0)
        assert (frames.frame_count, frames.channel_count) == (160, 3 * 1200 + 4)
        assert frames.texts["show"] == SHOW
        assert frames.texts["layout"] == LAYOUT
        assert EFFECT in frames.texts.values()
        assert frames.verify() is None
        np.testing.assert_array_equal(frames.frames[:], whole)
    assert whole.max() == 255
    assert (whole[1:] != whole[:-1]).any(axis=1).all()


def test_rendering_twice_gives_the_same_dataset(files):
    """Chunk by chunk the same compressed bytes, whoever computed them."""
    for name, workers in (("one.h5", 1), ("two.h5", 3)):
        render(Order.of(files / "small.show.toml", files / "house.toml"), files / name, workers=workers)

    def chunks(name):
        with h5py.File(files / name) as file:
            dataset = file["frames"]
            stored = (dataset.id.get_chunk_info(index) for index in range(dataset.id.get_num_chunks()))
            return [dataset.id.read_direct_chunk(info.chunk_offset) for info in stored]

    assert chunks("one.h5") == chunks("two.h5")


@pytest.mark.parametrize("workers", [1, 2, 3])
def test_any_number_of_workers(files, whole, workers):
    np.testing.assert_array_equal(rendered(files, workers=workers), whole)


@pytest.mark.parametrize(
    ("start", "stop"), [(0.0, 1.0), (1.0, 3.0), (2.025, 2.05), (3.97, None), (None, 0.025), (-5.0, 99.0)]
)
def test_any_part_of_the_song(files, whole, start, stop):
    first, end = math.ceil(40 * max(0.0, start or 0.0) - 1e-6), math.ceil(40 * min(4.0, stop or 4.0) - 1e-6)
    part = rendered(files, start=start, stop=stop)
    np.testing.assert_array_equal(part, whole[first:end])
    with open_frames(files / "out.h5") as frames:
        assert frames.start == first / 40


@pytest.mark.parametrize(("props", "names"), [(("gable",), {1}), (("roofline",), {0, 1}), (("lamp", "upper"), {1, 2})])
def test_any_of_the_props_by_name_or_tag(files, whole, props, names):
    part = rendered(files, props=props)
    prop = np.repeat([0, 1, 2], [2100, 1500, 4])
    lit = np.isin(prop, list(names))
    np.testing.assert_array_equal(part[:, lit], whole[:, lit])
    assert not part[:, ~lit].any()


def test_another_frame_rate_shows_other_moments_of_the_same_show(files, whole):
    np.testing.assert_array_equal(rendered(files, frame_rate=20), whole[::2])
    np.testing.assert_array_equal(rendered(files, frame_rate=80)[::2], whole)


def test_progress_is_told(files):
    told = []
    render(
        Order.of(files / "small.show.toml", files / "house.toml"), files / "out.h5", progress=lambda *n: told.append(n)
    )
    assert told[-1] == (160, 160)
    assert [done for done, _ in told] == sorted(done for done, _ in told)


# --- what cannot be done ---------------------------------------------------------------------------------------------


def left(folder):
    """What stands in a folder, hidden files too."""
    return sorted(path.name for path in folder.iterdir())


def refused(folder, error=EavesongError, **how):
    """The problems of a render that must leave the folder as it is."""
    before = left(folder)
    with pytest.raises(error) as caught:
        render(Order.of(folder / "small.show.toml", folder / "house.toml", **how), folder / "out.h5")
    assert left(folder) == before
    return caught.value.problems


@pytest.mark.parametrize("fps", [0.0, -40.0, 0.999, 240.5, 1e9, math.nan, math.inf])
def test_frame_rates_that_no_pixel_shows(files, fps):
    (problem,) = refused(files, ShowError, frame_rate=fps)
    assert problem.found.endswith("frames a second")
    assert problem.instead == "Choose from 1 to 240."


@pytest.mark.parametrize(
    ("start", "stop"),
    [(3.0, 2.0), (2.0, 2.0), (4.0, None), (99.0, None), (None, 0.0), (1.0, -1.0), (math.inf, None), (0.0, math.nan)],
)
def test_parts_of_the_song_that_hold_no_frame(files, start, stop):
    (problem,) = refused(files, ShowError, start=start, stop=stop)
    assert problem.found.startswith("there are no frames between")
    assert problem.instead == "Choose a start before the end, inside the song."


def test_decimal_seconds_are_whole_frames():
    """0.1 s times 30 is 3.0000000000000004 in binary: it is frame 3, not 4."""
    assert Terms(frame_rate=30.0, start=0.1, stop=0.2).frame_range(10.0) == (3, 3)
    assert Terms().frame_range(10.0) == (0, 400)
    assert Terms(frame_rate=1.0, start=0.5).frame_range(9.99) == (1, 9)


def test_unknown_props_and_what_they_may_be(files):
    problems = refused(files, LayoutError, props=("gabel", "roofline", "xyzzy"))
    assert [(problem.found, problem.instead[:24]) for problem in problems] == [
        ("no prop is called or tagged 'gabel'", "Did you mean 'gable'?"),
        ("no prop is called or tagged 'xyzzy'", "Known names: eaves, gabl"),
    ]


def test_a_show_without_a_song(files):
    (files / "small.show.toml").write_text(SHOW.replace('song = "song.wav"\n', ""))
    (problem,) = refused(files, ShowError)
    assert "names no song" in problem.found
    assert "song =" in problem.instead


def test_a_song_that_is_not_there(files):
    (files / "song.wav").unlink()
    (problem,) = refused(files)
    assert Path(problem.file).name == "small.show.toml"
    assert problem.place == "line 3, song"
    assert "song.wav" in problem.found


def test_problems_of_both_files_come_together(files):
    (files / "small.show.toml").write_text(SHOW.replace("blend", "blnd"))
    (files / "house.toml").write_text(LAYOUT.replace('shape = "spot"', 'shape = "spt"').replace("gamma", "gama"))
    found = {(Path(problem.file).name, problem.found) for problem in refused(files)}
    assert ("small.show.toml", "'blnd' is not a key here") in found
    assert ("house.toml", "'spt' is no shape") in found
    assert ("house.toml", "'gama' is not a key here") in found


def test_a_wrong_effect_is_told_with_its_place(files):
    (files / "runner.toml").write_text(EFFECT.replace("beat / 4", "beet / 4"))
    problems = refused(files, (EffectError, ShowError))
    assert ("line 5, column 23", "nothing is called 'beet'") in {(p.place, p.found) for p in problems}


OLD = (Path(__file__).parents[1] / "frames" / "data" / "first-plain.h5").read_bytes()
"""Begins as a frames file does; anything else would be refused at once."""


def test_an_old_file_stays_when_a_new_one_fails(files):
    (files / "out.h5").write_bytes(OLD)
    refused(files, frame_rate=0.0)

    def fail(done, count):
        raise RuntimeError("pulled the plug")

    before = left(files)
    with pytest.raises(RuntimeError, match="pulled the plug"):
        render(Order.of(files / "small.show.toml", files / "house.toml"), files / "out.h5", progress=fail)
    assert left(files) == before
    assert (files / "out.h5").read_bytes() == OLD


def test_a_folder_that_is_not_there(files):
    with pytest.raises(OutputError, match="cannot be written"):
        render(Order.of(files / "small.show.toml", files / "house.toml"), files / "none" / "out.h5")
    assert "none" not in left(files)


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")
def test_an_interrupted_render_leaves_nothing(files):
    """A minute of song, and an interrupt from the keyboard once the first frames are done."""
    code = (
        "import signal, sys, eavesong.render as r\n"
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"  # a job in the background inherits none
        "try:\n"
        "    order = r.Order('small.show.toml', 'house.toml', frame_rate=240)\n"
        "    r.render(order, 'out.h5', progress=lambda *n: print(*n, flush=True))\n"
        "except KeyboardInterrupt:\n"
        "    sys.exit(130)\n"
    )
    at = np.arange(60 * 8000) / 8000
    soundfile.write(files / "song.wav", 0.1 * np.sin(2 * np.pi * 80 * at), 8000)
    before = left(files)
    process = subprocess.Popen([sys.executable, "-c", code], cwd=files, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert process.stdout.readline().strip()
    process.send_signal(signal.SIGINT)
    _, complaint = process.communicate(timeout=300)
    assert process.returncode == 130, complaint.decode()
    assert left(files) == before
