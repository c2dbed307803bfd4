"""The report: every figure in words, and none where there is none."""

from dataclasses import replace

import numpy as np

from eavesong.follow.figures import follow
from eavesong.follow.report import follow_text
from eavesong.frames import open_frames
from lamps import LAMPS, LAYOUT, TEXTS, WALL, house, write, write_click

BEATS = np.arange(0.25, 7.5, 0.5)


def test_every_figure_has_a_line(opened):
    text = follow_text(follow(opened).figures)
    for name in ("form", "energy", "loud", "longest", "stale", "beat", "alignment", "accent", "answered", "lit"):
        assert any(line.startswith(f"{name} ") for line in text.splitlines()), name
    assert "hardly lit: wall lights" in text


def test_what_is_wished_unlit_is_not_called_hardly_lit(tmp_path):
    write_click(tmp_path / "click.wav", BEATS)
    texts = TEXTS | {"layout": f'{LAYOUT}unlit = ["wall"]\n'}
    path = write(tmp_path / "lamps.h5", house(LAMPS + WALL, texts=texts), np.zeros((160, 162), np.uint8))
    with open_frames(path) as frames:
        assert follow(frames).figures.seldom == ("lamp row",)


def test_what_cannot_be_told_is_a_dash(opened):
    figures = replace(follow(opened).figures, form=None, answered=None, span=3.0, seldom=())
    lines = {line.split()[0]: line for line in follow_text(figures).splitlines() if line}
    assert lines["form"].split()[1] == "–"
    assert lines["answered"].split()[1] == "–"
    assert "spans 3 dB" in lines["energy"]
    assert "hardly" not in lines
