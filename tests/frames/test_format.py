"""Names and sizes of the frames file."""

from urllib.parse import quote

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eavesong.frames.format import CHUNK_BYTES, chunk_frames_for, link_name, plain_name


@given(st.text())
def test_any_name_comes_back(name):
    assert plain_name(link_name(name)) == name


@given(st.text(min_size=1))
def test_no_name_leads_elsewhere_in_a_group(name):
    """HDF5 User's Guide, chapter "Groups": ``/`` parts a path and a lone ``.`` is the group itself."""
    link = link_name(name)
    assert "/" not in link
    assert not link.startswith(".")


@pytest.mark.parametrize("name", ["effect frost/soft", "100%"])
def test_what_is_escaped_is_escaped_as_in_urls(name):
    """RFC 3986, 2.1, as Python's own library writes it."""
    assert link_name(name) == quote(name, safe=" ")


@pytest.mark.parametrize(
    ("channels", "frames", "chunk"),
    [(3 * 1000, 10_000, CHUNK_BYTES // 3000), (3, 7, 7), (9 * CHUNK_BYTES, 10_000, 1), (0, 10, 10), (3, 0, 1)],
)
def test_as_many_frames_lie_together_as_fit(channels, frames, chunk):
    assert chunk_frames_for(channels, frames) == chunk
