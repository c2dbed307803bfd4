"""The rows of the picture of a song: no part lies over another, and all lie within the row."""

from itertools import pairwise

from eavesong.preview import heard_rows as rows


def test_parts_follow_each_other_from_the_top_down():
    parts = [rows.PARTS, rows.NUMBERS, rows.TICKS, rows.WAVE, rows.BANDS, rows.STROKES, rows.LEAD, rows.SPANS,
             rows.SURENESS, rows.TIMES]  # fmt: skip
    for (top, height), (below, _) in pairwise(parts):
        assert top + height <= below
    assert parts[-1][0] + parts[-1][1] <= rows.ROW
