"""Marks are found where the standard library finds them."""

from hypothesis import given
from hypothesis import strategies as st

from eavesong.kernels.marks import where_marked

MARK = b"\x00\x00\xff\xff"
NEARLY = st.lists(st.sampled_from([MARK, b"\x00", b"\xff", b"\x00\xff", b"a" * 61, b""]), max_size=60).map(b"".join)


@given(data=NEARLY, most=st.integers(0, 30))
def test_every_mark_is_found(data: bytes, most: int) -> None:
    wanted, at = [], data.find(MARK)
    while at >= 0:
        wanted.append(at)
        at = data.find(MARK, at + 1)
    assert where_marked(data, most) == (wanted if len(wanted) <= most else None)
