"""How alike a show looks on two houses: near 1 for what eyes would call the same, well below for the rest."""

from pathlib import Path

import numpy as np
import pytest

from eavesong.frames import FramesFile, open_frames
from eavesong.render import Order, render
from eavesong.retarget.likeness import likeness
from street import Street

TENTH = "".join(
    f'[[prop]]\nname = "row {n}"\nshape = "line"\nat = [SHIFT, {n * 0.5 + 0.25}, 1]\nto = [9.6, 0, 0]\npixels = COUNT\n'
    for n in range(10)
)
"""Ten rows, one above the other."""


def house(count: int = 48, shift: float = 0.2, rows: str = TENTH) -> str:
    body = rows.replace("COUNT", str(count)).replace("SHIFT", f"{shift:g}")
    return f'title = "Rows"\n[frame]\nfrom = [0, 0, 0]\nto = [10, 5, 2]\n{body}'


LIVELY = (
    'song = "song.wav"\n[[cue]]\neffect = "crossing"\nparameters = { beats = 4, width = 0.5 }\npalette = "pine wood"\n'
)
OTHER = 'song = "song.wav"\n[[cue]]\neffect = "swell"\npalette = "lagoon"\n'


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("likeness")
    Street(path)
    (path / "lively.show.toml").write_text(LIVELY)
    (path / "other.show.toml").write_text(OTHER)
    return path


def made(folder: Path, text: str, show: str = "lively", **how: float) -> FramesFile:
    (folder / "house.toml").write_text(text)
    out = folder / f"{abs(hash((text, show, tuple(how))))}.h5"
    render(Order.of(folder / f"{show}.show.toml", folder / "house.toml", **how), out)
    return open_frames(out)


def test_the_same_frames_are_wholly_alike(folder: Path) -> None:
    assert likeness(made(folder, house()), made(folder, house())) == 1.0


@pytest.mark.parametrize(
    "text",
    [
        house(count=96),  # double density
        house(shift=0.3),  # half a pitch to the right
        house(rows=TENTH.replace("[SHIFT,", "[9.8,").replace("[9.6, 0, 0]", "[-9.6, 0, 0]")),  # wired the other way
        house(rows=TENTH[: TENTH.rindex("[[prop]]")]),  # nine of the ten rows
        house(rows=TENTH[TENTH.index("[[prop]]", 5) :]),
    ],
    ids=["double", "half a pitch", "other end", "without the top", "without the bottom"],
)  # fmt: skip
def test_what_eyes_call_the_same_stays_above_nineteen_twentieths(folder: Path, text: str) -> None:
    assert likeness(made(folder, house()), made(folder, text)) > 0.95


def test_a_house_mirrored_twice_is_the_house(folder: Path) -> None:
    once = TENTH.replace("at = [SHIFT,", "at = [-9.8,") + ""
    mirrored = house(rows=once.replace("pixels = COUNT\n", "pixels = COUNT\nmirror = { x = 0 }\n"))
    both = mirrored.replace("from = [0, 0, 0]", "from = [-10, 0, 0]").replace("to = [10, 5, 2]", "to = [10, 5, 2]")
    # A row mirrored at the middle, and that whole house mirrored at the middle again.
    again = both.replace("at = [-9.8,", "at = [9.8,").replace("to = [9.6, 0, 0]", "to = [-9.6, 0, 0]")
    assert likeness(made(folder, both), made(folder, again)) > 0.95


def test_an_unrelated_show_is_not_alike(folder: Path) -> None:
    assert likeness(made(folder, house()), made(folder, house(), "other")) < 0.9


def test_the_other_half_of_a_song_is_not_alike(folder: Path) -> None:
    whole = made(folder, house())
    assert likeness(whole, made(folder, house(), stop=1.0)) < 0.7


def test_it_does_not_matter_which_comes_first(folder: Path) -> None:
    a, b = made(folder, house()), made(folder, house(count=30), "other")
    assert likeness(a, b) == pytest.approx(likeness(b, a), abs=1e-12)


def test_another_frame_rate_or_dimmer_drive_looks_alike(folder: Path) -> None:
    usual = made(folder, house())
    assert likeness(usual, made(folder, house(), frame_rate=60.0)) > 0.95
    names = ", ".join(f'"row {n}"' for n in range(10))
    box = f'[[controller]]\nname = "box"\n[[controller.output]]\nnumber = 1\nbrightness = 0.5\nchain = [{names}]\n'
    assert likeness(usual, made(folder, house() + box)) > 0.95


def test_dark_houses_are_alike(folder: Path) -> None:
    (folder / "dark.show.toml").write_text('song = "song.wav"\n')
    dark = made(folder, house(), "dark")
    assert likeness(dark, dark) == 1.0
    assert likeness(dark, made(folder, house())) == pytest.approx(0.0)


def test_the_shares_of_a_pixel_add_up_to_one() -> None:
    from eavesong.retarget.likeness import CELLS, _spread

    places = np.random.default_rng(0).random((200, 2))
    places[:4] = [(0, 0), (1, 1), (0, 1), (1, 0)]
    cells, pixels, shares = _spread(places)
    np.testing.assert_allclose(np.bincount(pixels, shares), 1.0)
    assert 0 <= cells.min() <= cells.max() < CELLS[0] * CELLS[1]
    assert shares.min() >= 0
