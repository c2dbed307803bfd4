"""Files whose numbers and tables do not fit: told in plain words, before anything is computed with them."""

import math
import shutil
from functools import cache

import h5py
import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from eavesong.errors import FramesError
from eavesong.frames import open_frames
from eavesong.frames.summary import lines, summarise


def everything_in(path):
    """All that a file says once it is verified, or "told" where it is refused."""
    try:
        with open_frames(path) as file:
            file.verify()
            lines(summarise(file))
            said = (file.title, file.song, file.start, file.song_seconds, file.frame_rate, file.written_by)
            tables = (file.props, file.patch, file.texts, file.hashes)
            colours = file.colours(file.frames[:]).tobytes()
            return said, tables, colours, file.places.tobytes(), file.metres.tobytes()
    except FramesError:
        return "told"


def with_attribute(path, name, value):
    with h5py.File(path, "r+") as file:
        file.attrs[name] = value


def with_cell(path, table, row, column, value):
    """Replace a cell of a table; a text that is too long is cut."""
    with h5py.File(path, "r+") as file:
        content = file[table][()]
        if content.dtype.names:
            content[column][row] = value
        else:
            content[row, column] = value
        file[table][...] = content


@pytest.mark.parametrize(
    ("name", "value", "told"),
    [
        ("frame_rate", 1e-8, "a frame rate is 0.1 to 1,000 a second, not 1e-08"),
        ("frame_rate", math.nan, "not nan"),
        ("frame_rate", math.inf, "not inf"),
        ("frame_rate", 1e12, r"not 1e\+12"),
        ("frame_rate", -40.0, "not -40"),
        ("start", math.nan, "not at nan"),
        ("start", -1e300, r"not at -1e\+300"),
        ("song_seconds", math.inf, "not inf"),
        ("song_seconds", -1.0, "not -1"),
        ("origin_x", math.nan, "origin_x: a house begins within 100,000,000 m of its zero, not at nan"),
        ("origin_y", -math.inf, "origin_y: .* not at -inf"),
        ("origin_z", 2.0**62, r"origin_z: .* not at 4.61169e\+18"),
        ("frame_count", 61, "does not hold the 61 frames that are announced"),
    ],
)
def test_a_number_out_of_its_range_is_told_when_the_file_is_opened(written, name, value, told):
    path, _, _ = written
    with_attribute(path, name, value)
    with pytest.raises(FramesError, match=told):
        open_frames(path)


@pytest.mark.parametrize(
    ("table", "column", "value", "told"),
    [
        ("patch", "pixel_count", 2**62, r"/patch: a patch row of 'eaves' names pixel 4611686018427387903 of 50"),
        ("patch", "pixel_count", -3, "/patch: a patch row of 'eaves' names pixel -4 of 50"),
        ("patch", "first_pixel", -1, "/patch: a patch row of 'eaves' names pixel"),
        ("patch", "first_channel", -9, "runs beyond the 154 channels of a frame"),
        ("patch", "channel_count", -138, "runs beyond the 154 channels of a frame"),
        ("patch", "channel_count", 137, "does not go on with channel 0 of pixel 0"),
        ("patch", "order", b"GGG", "'GGG', which is not a colour order"),
        ("patch", "universe", 64000, "names universe 64000"),
        ("patch", "slot", 500, "leads from slot 500 out of its universe"),
        ("patch", "gamma", math.nan, "has the gamma nan"),
        ("patch", "brightness", 2.0, "has the brightness 2"),
        ("patch", "frame_rate_limit", -math.inf, "has the frame rate limit -inf"),
        ("patch", "prop", b"gable", "'gable' names no prop"),
        ("props", "pixel_count", 2**62, "/props: 'eaves' has pixels 0 to 4611686018427387903, where 0 of 50"),
        ("props", "first_pixel", 1, "/props: 'eaves' has pixels 1 to 46, where 0 of 50 is the next"),
        ("props", "pixel_count", 45, "/props: 'lantern' has pixels 46 to 49, where 45 of 50 is the next"),
        ("props", "name", b"lantern", "/props: two props have one name"),
        ("places", 1, math.nan, "/places: pixel 0 is nowhere"),
        ("metres", 2, math.inf, "/metres: pixel 0 is nowhere"),
    ],
)
def test_a_cell_that_does_not_fit_is_told_wherever_the_tables_are_asked_for(written, table, column, value, told):
    path, _, _ = written
    with_cell(path, table, 0, column, value)
    for name in ("places", "metres", "props", "patch"):
        with open_frames(path) as file, pytest.raises(FramesError, match=told):
            getattr(file, name)
    with open_frames(path) as file, pytest.raises(FramesError, match=told):
        file.rgb(0)
    with open_frames(path) as file, pytest.raises(FramesError, match=told):
        file.verify()


@cache
def what_is_in(path):
    return everything_in(path)


numbers = st.floats() | st.integers(-(2**63), 2**63 - 1) | st.binary(max_size=8).map(np.bytes_)


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(["frame_rate", "start", "song_seconds", "frame_count", "complete", "format", "title"]), numbers)
@example("frame_rate", 1e-8)
@example("frame_rate", 0.1)
def test_whatever_an_attribute_says_a_file_is_refused_or_in_range(tmp_path_factory, small_file, name, value):
    path = shutil.copy(small_file, tmp_path_factory.mktemp("edited") / "edited.h5")
    with_attribute(path, name, value)
    if (said := everything_in(path)) != "told":
        (_, _, start, seconds, rate, _), tables, *rest = said
        assert 0.1 <= rate <= 1000
        assert abs(start) <= 1e6 >= seconds >= 0
        assert (tables, rest) == (what_is_in(small_file)[1], list(what_is_in(small_file)[2:]))


@settings(max_examples=100, deadline=None)
@given(st.sampled_from(["props", "patch", "places", "metres"]), st.data())
def test_whatever_a_cell_says_a_file_is_refused_or_fits(tmp_path_factory, small_file, table, data):
    path = shutil.copy(small_file, tmp_path_factory.mktemp("edited") / "edited.h5")
    with h5py.File(path) as file:
        kinds = file[table].dtype
        row = data.draw(st.integers(0, len(file[table]) - 1))
    column = data.draw(st.sampled_from(kinds.names) if kinds.names else st.integers(0, 2))
    kind = (kinds[column] if kinds.names else kinds).kind
    values = {
        "i": st.integers(-4, 40) | st.integers(-(2**63), 2**63 - 1),
        "f": st.floats(width=64 if kinds.names else 32),
        "S": st.binary(max_size=20),
    }
    with_cell(path, table, row, column, data.draw(values[kind]))
    if (said := everything_in(path)) != "told":
        _, (props, patch, _, _), *_ = said
        assert [row.first_pixel for row in props] == [0, 4]
        assert sum(row.pixel_count for row in props) == sum(row.pixel_count for row in patch) == 8
        assert sum(row.channel_count for row in patch) == 28
        assert np.isfinite(np.frombuffer(said[3], np.float32)).all()
