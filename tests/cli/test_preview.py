"""``eavesong preview``: what it makes, and what it says of files and words it cannot use."""

import shutil
from types import SimpleNamespace

import av
import numpy as np
import pytest
from click.testing import CliRunner

from eavesong.cli.preview import command
from eavesong.cli.words import moment_in
from eavesong.errors import EavesongError
from eavesong.frames import open_frames
from eavesong.music import BeatGrid
from lamps import LAMPS, WALL, house, known_frames, write, write_click


@pytest.fixture(scope="module")
def three_lamps(tmp_path_factory):
    """A folder with ``lamps.h5`` (8 s at 20 frames a second) and ``click.wav``; to be read only."""
    folder = tmp_path_factory.mktemp("lamps")
    write(folder / "lamps.h5", house(LAMPS + WALL), known_frames())
    write_click(folder / "click.wav", [])
    return folder


def run(*words):
    return CliRunner().invoke(command, [str(word) for word in words])


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("a.gif", "--from", "7.5", "--to", "0:20"), "--to 0:20 is after the end, 0:08.0, and it goes on no further."),
        (("a.png", "--score", "--to", "20"), "--to 20 is after the end, 0:08.0, and it goes on no further."),
        (("a.gif", "--from", "7.5", "--to", "8"), ""),
        (("a.png", "--at", "1"), ""),
    ],
)
def test_an_end_after_the_last_frame_is_told(three_lamps, tmp_path, words, told):
    size = () if "--score" in words else ("--size", "160x90")
    done = run(three_lamps / "lamps.h5", "--out", tmp_path / words[0], *words[1:], *size)
    assert done.exit_code == 0, done.output
    assert (told in done.output) if told else ("is after" not in done.output)


def test_an_end_after_frames_of_a_part_of_the_song_is_told_as_theirs(tmp_path):
    write(tmp_path / "part.h5", house(LAMPS, start=1.0), known_frames()[:40, :9])
    done = run(tmp_path / "part.h5", "--out", tmp_path / "a.gif", "--from", "2.5", "--to", "5", "--size", "160x90")
    assert "--to 5 is after the end of these frames, 0:03.0, and it goes on no further." in done.output


def test_an_odd_size_is_told(three_lamps, tmp_path):
    for size, told in (("161x91", True), ("160x90", False)):
        done = run(three_lamps / "lamps.h5", "--out", tmp_path / "a.png", "--at", "1", "--size", size)
        assert ("have an even width and height: 160x90 for --size 161x91." in done.output) is told


@pytest.mark.parametrize("name", ["a.png", "a.webp"])
def test_a_picture(three_lamps, tmp_path, name):
    from PIL import Image

    done = run(three_lamps / "lamps.h5", "--out", tmp_path / name, "--at", "0:03", "--size", "320x180")
    assert done.exit_code == 0, done.output
    with Image.open(tmp_path / name) as picture:
        assert picture.size == (320, 180)


def test_a_bar_is_a_moment(three_lamps, tmp_path):
    """Bar 2 begins at 2.25 s."""
    for name, moment in (("bar.png", "bar 2"), ("second.png", "2.25")):
        run(three_lamps / "lamps.h5", "--out", tmp_path / name, "--at", moment, "--size", "320x180")
    assert (tmp_path / "bar.png").read_bytes() == (tmp_path / "second.png").read_bytes()


def test_a_bar_between_two_frames_is_the_first_frame_of_it():
    """Ten frames a second, bar 2 from 2.25 s: the frame at 2.2 s still shows bar 1."""
    grid = BeatGrid((0.25, 1.25, 2.25, 3.25), (1, 2, 1, 2), (), 4.0)
    source = SimpleNamespace(grid=grid, frames=SimpleNamespace(start=0.0, frame_rate=10.0))
    assert moment_in(source, "bar 2", "--at") == pytest.approx(2.3)


def test_strip_score_loop_and_clip(three_lamps, tmp_path):
    frames = three_lamps / "lamps.h5"
    for words in (
        ("strip.png", "--at", "bar 1", "--at", "bar 3", "--view", "corner"),
        ("score.png", "--score", "--from", "bar 2"),
        ("loop.webp", "--from", "1", "--to", "2"),
        ("clip.mp4", "--to", "1", "--view", "30,15"),
    ):
        done = run(frames, "--out", tmp_path / words[0], *words[1:], "--size", "320x180")
        assert done.exit_code == 0, done.output
        assert (tmp_path / words[0]).stat().st_size > 1000
    with av.open(str(tmp_path / "clip.mp4")) as clip:
        assert len(clip.streams.audio) == 1  # click.wav stands beside the frames


@pytest.mark.parametrize("size", ["64x64", "321x300", "322x64"])
@pytest.mark.parametrize("many", [2, 3, 4])
def test_a_filmstrip_is_as_wide_as_was_asked_for(three_lamps, tmp_path, size, many):
    """320 of 321: sizes are even, as for clips."""
    from PIL import Image

    moments = [word for second in range(many) for word in ("--at", str(second))]
    done = run(three_lamps / "lamps.h5", "--out", tmp_path / "a.png", *moments, "--size", size)
    assert done.exit_code == 0, done.output
    assert "Of --size the width counts here" in done.output
    assert "nothing here" not in done.output
    with Image.open(tmp_path / "a.png") as picture:
        assert picture.width == int(size.partition("x")[0]) // 2 * 2


@pytest.mark.parametrize("name", ["a.mp4", "a.html"])
def test_a_song_that_is_not_found_is_told_before_anything_is_made(three_lamps, tmp_path, name):
    shutil.copy(three_lamps / "lamps.h5", tmp_path)
    done = run(tmp_path / "lamps.h5", "--out", tmp_path / name, "--to", "0.5", "--size", "160x90")
    (problem,) = done.exception.problems
    assert "its song 'click.wav' is not found beside 'lamps.h5'" in problem.found
    assert "--song FILE" in problem.instead
    assert "--silent" in problem.instead
    assert not (tmp_path / name).exists()


def test_a_photo_that_is_not_found_is_told(tmp_path):
    texts = {"layout": 'title = "x"\nphoto = "house.jpg"\n'}
    path = write(tmp_path / "a.h5", house(LAMPS, texts=texts), known_frames()[:20, :9])
    done = run(path, "--out", tmp_path / "a.png", "--size", "160x90")
    assert done.exit_code == 0
    assert "The photo 'house.jpg' is not found beside 'a.h5'" in done.output
    assert "--photo FILE" in done.output


@pytest.mark.parametrize(("depth", "is_told"), [(0.0, True), (-4.0, False)])
def test_corners_on_one_plane_seen_from_straight_ahead_are_doubted(tmp_path, depth, is_told):
    """Two of four or more that lie farther back tell how far off the camera stood. A pinhole at (5, 1.6, 14)."""
    from PIL import Image

    Image.new("RGB", (400, 300)).save(tmp_path / "house.png")
    places = [(0, 0, 0), (10, 0, 0), (10, 3, 0), (0, 3, 0), (0, 6, depth), (10, 6, depth)]
    seen = [(200 + 300 * (x - 5) / (14 - z), 150 - 300 * (y - 1.6) / (14 - z)) for x, y, z in places]
    corners = ", ".join(f"{{ at = {[*at]}, house = {[*map(float, on)]} }}" for at, on in zip(seen, places, strict=True))
    texts = {"layout": f'title = "x"\nphoto = {{ file = "house.png", corners = [{corners}] }}\n'}
    path = write(tmp_path / "a.h5", house(LAMPS, texts=texts), known_frames()[:20, :9])
    done = run(path, "--out", tmp_path / "a.png", "--size", "160x90")
    assert done.exit_code == 0, done.output
    assert ("all lie on one plane" in done.output) == is_told


@pytest.mark.parametrize(("holds", "told"), [(None, "there is no such photo"), (b"no picture", "is no picture")])
def test_a_photo_that_was_asked_for_must_be_one(three_lamps, tmp_path, holds, told):
    if holds is not None:
        (tmp_path / "nope.jpg").write_bytes(holds)
    done = run(three_lamps / "lamps.h5", "--out", tmp_path / "a.png", "--photo", tmp_path / "nope.jpg")
    assert isinstance(done.exception, EavesongError)
    assert told in done.exception.problems[0].found
    assert not (tmp_path / "a.png").exists()


def test_a_silent_clip_has_no_sound(three_lamps, tmp_path):
    shutil.copy(three_lamps / "lamps.h5", tmp_path)
    done = run(tmp_path / "lamps.h5", "--out", tmp_path / "a.mp4", "--to", "0.5", "--size", "160x90", "--silent")
    assert done.exit_code == 0, done.output
    with av.open(str(tmp_path / "a.mp4")) as clip:
        assert not clip.streams.audio


def test_a_flashing_show_gets_a_warning(tmp_path):
    """All white every other frame, ten times in a second (WCAG 2.2, SC 2.3.1 allows three)."""
    frames = np.zeros((40, 9), np.uint8)
    frames[::2] = 255
    for name, shown in (("flash.h5", frames), ("calm.h5", np.full((40, 9), 90, np.uint8))):
        write(tmp_path / name, house(LAMPS), shown)
        done = run(tmp_path / name, "--out", tmp_path / f"{name}.html", "-q", "--silent")
        assert done.exit_code == 0, done.output
    page = (tmp_path / "flash.h5.html").read_bytes()
    assert b"photosensitive epilepsy" in page
    assert b"times in a second, first in the one from 0:00.00 on. More than" in page
    assert b"photosensitive epilepsy" not in (tmp_path / "calm.h5.html").read_bytes()


@pytest.fixture(scope="module")
def may_flash(tmp_path_factory):
    """Ten seconds: flash.h5 flashes five times a second, said.h5 says that it may, calm.h5 does neither."""
    folder, steady = tmp_path_factory.mktemp("flashes"), np.full((200, 9), 40, np.uint8)
    flashing = steady.copy()
    flashing[::4] = 255
    said = {"show": 'title = "Lamps"\nallow_flashes = true\n'}
    write(folder / "flash.h5", house(LAMPS, song_seconds=10.0), flashing)
    write(folder / "said.h5", house(LAMPS, song_seconds=10.0, texts=said), steady)
    write(folder / "calm.h5", house(LAMPS, song_seconds=10.0), steady)
    return folder


def amber(picture):
    """Whether words stand at the upper left, in an amber that no sky has."""
    corner = picture[: len(picture) // 8].astype(int)
    return bool((corner[..., 0] - corner[..., 2] > 70).any())


@pytest.mark.parametrize(("name", "warned"), [("flash.h5", True), ("said.h5", True), ("calm.h5", False)])
def test_a_clip_of_a_show_that_may_flash_says_so_at_its_beginning(may_flash, tmp_path, name, warned):
    done = run(may_flash / name, "--out", tmp_path / "a.mp4", "--size", "640x360", "--silent")
    assert done.exit_code == 0, done.output
    assert ("Warning: This show" in done.output) == warned
    with av.open(str(tmp_path / "a.mp4")) as clip:
        seen = [amber(frame.to_ndarray(format="rgb24")) for frame in clip.decode(video=0)]
    assert len(seen) == 200
    assert all(seen[:120]) == warned  # for 6 s, at 20 frames a second
    assert not any(seen[120:])


@pytest.mark.parametrize("ending", ["webp", "gif"])
@pytest.mark.parametrize(("name", "warned"), [("flash.h5", True), ("said.h5", True), ("calm.h5", False)])
def test_a_loop_of_a_show_that_may_flash_says_so(may_flash, tmp_path, name, warned, ending):
    from PIL import Image, ImageSequence

    out = tmp_path / f"a.{ending}"
    done = run(may_flash / name, "--out", out, "--from", "1", "--to", "2", "--size", "640x360")
    assert ("Warning: This show" in done.output) == warned
    with Image.open(out) as loop:
        pictures = [np.asarray(picture.convert("RGB")) for picture in ImageSequence.Iterator(loop)]
    assert [amber(picture) for picture in pictures] == [warned] * len(pictures)


def test_a_page_of_a_show_that_says_it_may_flash_warns(may_flash, tmp_path):
    done = run(may_flash / "said.h5", "--out", tmp_path / "a.html", "--silent")
    assert "Warning: This show may flash" in done.output
    assert b"This show may flash more than three times a second." in (tmp_path / "a.html").read_bytes()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--out", "a.tiff"), "ends with none of .png"),
        (("--out", "a.png", "--view", "fornt"), "Did you mean 'front'"),
        (("--out", "a.png", "--at", "bar 9"), "Write 'bar 1' to 'bar 4'"),
        (("--out", "a.png", "--at", "noon"), "is not a time"),
        (("--out", "a.png", "--at", "0:08.1"), "'0:08.1' is after the end, 0:08.0. Write an earlier moment"),
        (("--out", "a.png", "--at", "1", "--at", "99"), "'99' is after the end"),
        (("--out", "a.png", "--size", "big"), "is no size"),
        (("--out", "a.mp4", "--at", "1"), "let --out end with .png"),
        (("--out", "a.html", "--score"), "let --out end with .png"),
    ],
)
def test_wrong_words_are_told(three_lamps, words, told):
    done = run(three_lamps / "lamps.h5", *words)
    assert done.exit_code == 2
    assert told in done.output


def fault(path, *words):
    done = run(path, *words)
    assert isinstance(done.exception, EavesongError), done.output
    return str(done.exception)


def test_a_file_cut_short_is_told(three_lamps, tmp_path):
    data = (three_lamps / "lamps.h5").read_bytes()
    (tmp_path / "cut.h5").write_bytes(data[: len(data) // 2])
    assert "is cut short" in fault(tmp_path / "cut.h5", "--out", tmp_path / "a.html")


def test_a_newer_format_is_told(tmp_path):
    import h5py

    path = write(tmp_path / "newer.h5", house(LAMPS), known_frames()[:20, :9])
    with h5py.File(path, "r+") as file:
        file.attrs.modify("format", np.bytes_("eavesong frames 3"))
    assert "Install a newer eavesong" in fault(path, "--out", tmp_path / "a.png")


def test_a_song_that_is_none_is_told(three_lamps, tmp_path):
    (tmp_path / "song.wav").write_text("la la la")
    frames = three_lamps / "lamps.h5"
    for out in ("a.mp4", "a.html"):
        assert "is not sound" in fault(frames, "--out", tmp_path / out, "--song", tmp_path / "song.wav")
        assert not (tmp_path / out).exists()


def test_a_folder_that_is_not_there_is_told(three_lamps, tmp_path):
    for out in ("a.png", "a.mp4", "a.html", "a.webp"):
        words = ("--out", tmp_path / "nowhere" / out, "--to", "0.2")
        assert "cannot be written" in fault(three_lamps / "lamps.h5", *words, "--size", "160x90")


def test_one_pixel(tmp_path):
    path = write(tmp_path / "one.h5", house([[0, 0, 0]], texts={}), np.full((20, 3), 90, np.uint8))
    for out in ("a.png", "score.png", "a.mp4", "a.html"):
        words = ["--score"] if out == "score.png" else ["--silent"]
        done = run(path, "--out", tmp_path / out, "--size", "160x90", *words)
        assert done.exit_code == 0, done.output


def test_half_a_million_pixels(tmp_path):
    metres = np.random.default_rng(2).random((500_000, 3)) * [40, 9, 20]
    path = write(tmp_path / "many.h5", house(metres, texts={}), np.full((2, 1_500_000), 50, np.uint8))
    done = run(path, "--out", tmp_path / "a.png", "--size", "640x360")
    assert done.exit_code == 0, done.output
    with open_frames(path) as frames:
        assert len(frames.metres) == 500_000


def test_texts_that_cannot_be_read_stop_nothing(tmp_path):
    """Broken beats, show and layout leave out what they would have told."""
    texts = {"layout": "= nonsense", "beats": "one two", "sections": "a b c", "show": "[[cue]]\neffect = 7\n"}
    path = write(tmp_path / "odd.h5", house(LAMPS, texts=texts), known_frames()[:40, :9])
    for out, words in (("a.html", ("--silent",)), ("a.png", ("--score",))):
        done = run(path, "--out", tmp_path / out, *words)
        assert done.exit_code == 0, done.output


def test_a_photo_and_a_song_stand_beside_the_frames_or_nowhere(tmp_path):
    """A file name from a stranger's file does not lead out of its folder."""
    from eavesong.scene import Reopened

    (tmp_path / "inner").mkdir()
    (tmp_path / "secret.wav").write_bytes(b"")
    (tmp_path / "secret.jpg").write_bytes(b"")
    texts = {"layout": 'title = "x"\nphoto = "../secret.jpg"\n'}
    path = write(tmp_path / "inner" / "a.h5", house(LAMPS, texts=texts, song="../secret.wav"), known_frames()[:20, :9])
    with open_frames(path) as frames:
        assert Reopened(frames).song is None
        assert Reopened(frames).photo is None


@pytest.mark.parametrize("name", ["own.html", "own.mp4", "own.png"])
def test_what_somebody_else_made_is_not_replaced(three_lamps, tmp_path, name):
    (tmp_path / name).write_text("mine")
    done = run(three_lamps / "lamps.h5", "--out", tmp_path / name, "--silent", "--at", "0:03")
    assert "is there already, and is not, or no longer, as eavesong wrote it" in str(done.exception)
    assert (tmp_path / name).read_text() == "mine"
