"""The score picture: what stands in it stands at its time and in its prop's rows."""

import numpy as np
import pytest

from eavesong.frames import open_frames
from eavesong.preview.score import TOP, score_picture
from eavesong.scene.reopen import Reopened
from lamps import LAMPS, house, write


@pytest.fixture(scope="module")
def sheet(three_lamps):
    with open_frames(three_lamps / "lamps.h5") as frames:
        return score_picture(Reopened(frames), width=1200)


def test_bar_lines_stand_at_their_times(sheet):
    """Bars begin at 0.25, 2.25, 4.25 and 6.25 s of 8 s; the line above the rows is the brightest column about."""
    above = sheet.picture[TOP - 3].sum(axis=1).astype(int)
    found = np.flatnonzero(above > 500)
    wanted = [sheet.left + at / 8 * (sheet.right - sheet.left) for at in (0.25, 2.25, 4.25, 6.25)]
    assert len(found) == 4
    assert np.abs(found - wanted).max() <= 1


def test_a_stretch_keeps_its_times(three_lamps):
    with open_frames(three_lamps / "lamps.h5") as frames:
        part = score_picture(Reopened(frames), 2.0, 6.0, width=1200)
    found = np.flatnonzero(part.picture[TOP - 3].sum(axis=1).astype(int) > 500)
    assert np.abs(found - [part.column(2.25), part.column(4.25)]).max() <= 1


def test_rows_show_their_props_light(sheet, three_lamps):
    """The first lamp is red, the second green, the third blue, all the way through."""
    name, top, bottom = sheet.rows[0]
    assert name == "lamp row"
    tall = (bottom - top) / 3
    for lamp in range(3):
        row = int(top + (lamp + 0.5) * tall)
        seen = sheet.picture[row, sheet.left + 5 : sheet.right - 5].mean(axis=0)
        assert seen.argmax() == lamp


def test_a_flash_stands_at_its_time(tmp_path):
    frames = np.zeros((160, 9), np.uint8)
    frames[93] = 255
    path = write(tmp_path / "flash.h5", house(LAMPS, texts={}), frames)
    with open_frames(path) as opened:
        sheet = score_picture(Reopened(opened), width=1200)
    _, top, bottom = sheet.rows[0]
    lit = np.flatnonzero(sheet.picture[(top + bottom) // 2, sheet.left : sheet.right].sum(axis=1) > 300) + sheet.left
    assert lit.min() >= sheet.column(93 / 20) - 1
    assert lit.max() <= sheet.column(94 / 20) + 1


def test_cues_have_lanes_as_long_as_they_last(sheet):
    """'Lamps glow' is on from bar 1 to 3, 'The wall answers' from bar 2 to 4: two lanes below the rows."""
    below = sheet.picture[sheet.rows[-1][2] + 10 :, sheet.left : sheet.right].astype(int)
    lit = below[..., 0] > 120
    spans = [np.flatnonzero(row) + sheet.left for row in lit if row.sum() > 50]
    wanted = {(2.25, 6.25), (0.25, 4.25)}
    seen = {
        next((pair for pair in wanted if abs(span.min() - sheet.column(pair[0])) <= 2
              and abs(span.max() - sheet.column(pair[1])) <= 2), None)
        for span in spans
    }  # fmt: skip
    assert seen == wanted


def test_names_too_long_for_their_place_keep_both_ends():
    """Names of cues that begin alike differ at their ends."""
    from PIL import Image, ImageDraw

    from eavesong.preview.ink import font
    from eavesong.preview.score import LABELS, _fitting

    pen = ImageDraw.Draw(Image.new("RGB", (8, 8)))
    names = [f"CHORUS: the night behind everything, part {number}" for number in range(3)]
    short = [_fitting(pen, name) for name in names]
    assert len(set(short)) == 3
    assert all(pen.textlength(each, font=font(13)) <= LABELS - 12 for each in short)
    assert _fitting(pen, "eaves") == "eaves"
