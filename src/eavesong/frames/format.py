"""What the frames file is made of: names, versions, sizes. ``docs/frames-file.md`` is the specification."""

from __future__ import annotations

import re
from itertools import permutations

FORMAT = "eavesong frames"
VERSION, IN_COLUMNS = 2, 2
"""The latest, raised only when an older reader would misread a file; further attributes and tables do not raise it.
Where every chunk holds whole frames a file is of version 1, as ever; wide frames lie in columns since version 2."""

CHUNK_BYTES = 1 << 20
"""Bytes of frames that are stored together, at most: the chunk cache of HDF5 1.x holds 1 MiB as it comes, and what does
not fit is unpacked once for every frame that is read from it."""

WIDE = 64 << 10
"""Bytes of a frame beyond which 1 MiB holds so few that handling their chunks would take longer than packing them."""

TOGETHER, MOST_TOGETHER = 48, 16 << 20
"""Wide frames are stored so many together, and in no more bytes."""

COLUMN_BYTES, WIDE_COLUMN_BYTES, MOST_COLUMNS = 16 << 10, (256 << 10) // TOGETHER, 64
"""Bytes of a frame in a chunk, and of a wide one, where there are no more than so many columns of them: a frame lies
within 32 KiB of the one before, as far as DEFLATE looks back (RFC 1951, 2), and what a change of the house does not
touch can be copied. A chunk of wide frames is of 256 KiB: it stays near the processor while it is packed."""

SKIP_DEFLATE = 0b01
"""Filter mask of a chunk that is stored as it is: filter 0 (DEFLATE) skipped, filter 1 (Fletcher-32) applied."""

LARGEST_TABLE = 256 << 20
"""Bytes of the largest table that is read into memory; a file is not to be trusted with more."""

LARGEST_CHUNK = 64 << 20
"""Bytes of the largest chunk that is read: a frame of 22 million pixels."""

LARGEST_TEXTS = 64 << 20
"""Bytes of all texts together; one of them is at most as large as a text file that is read."""

MOST_CHUNKS = 1 << 24
"""Chunks of frames: an hour and more of the widest at 40 a second."""

CHECKSUM_BYTES = 4
"""Of Fletcher-32, behind the data of a chunk."""

INFLATION = 1032
"""Bytes that a byte of DEFLATE makes at most: its longest match, 258 bytes, takes two bits (RFC 1951, 3.2.5)."""

LARGEST_ROWS = 64 << 20
"""Bytes of the largest table of props or patch rows, whose cells become Python objects."""

MOST_ROWS = 1 << 17
"""Rows of such a table: twice as many as E1.31 has universes."""

SLOWEST, FASTEST = 0.1, 1000.0
"""Frames per second. Below lies no picture that moves: ten seconds to a frame. Above, no controller follows, and what
is counted in frames of a second, as flashes are, stays small."""

LONGEST_SONG = 1e6
"""Seconds from the song's beginning to anything in it: eleven days, in which a float64 keeps a time to 1e-10 s."""

MOST_FRAMES = 100_000_000
"""Four days and more at 240 frames a second."""

LARGEST_SPAN = 1e6
"""Of places and metres: a house of a thousand kilometres."""

FARTHEST_ORIGIN = 1e8
"""Metres from the zero of a layout's places to its house: maps count from the equator, 10,000 km away, as far as places
go in a layout."""

LONGEST_NAME = 1000
"""Letters of the name of a prop, a tag, a controller, an address."""

LAST_UNIVERSE, SLOTS = 63999, 512
"""ANSI E1.31-2018, 6.2.7, and ANSI E1.11: universes that carry data, and slots of one."""

ORDERS = frozenset("".join(letters) for few in ("RGB", "RGBW") for letters in permutations(few))
"""Colour orders: each letter once."""

UNITS = {
    "frame_rate": "frames per second",
    "start": "seconds into the song at which frame 0 is shown",
    "song_seconds": "seconds",
    "origin": "metres; where the house frame's left, bottom, back corner lies in the layout's own places",
    "frames": "bytes as sent to the lights, row = frame, column = channel",
    "places": "x y z in 0..1 of the house frame: left to right, ground to top, back to street",
    "metres": "X Y Z in metres from the house frame's left, bottom, back corner",
    "patch": (
        "each row is a run of channels of a frame, sent to consecutive slots of one universe from `slot` on "
        "(universe 0: sent nowhere); a pixel split between two universes stands in two rows of its own"
    ),
    "props": "each row is a prop and its run of pixels, in the order of the layout",
    "texts": "the descriptions the frames were made from, UTF-8, each with its SHA-256",
}


def chunk_frames_for(channel_count: int, frame_count: int) -> int:
    """Frames that are stored together, at least 1; see CHUNK_BYTES and TOGETHER."""
    channels = max(1, channel_count)
    fit = CHUNK_BYTES // channels if channels <= WIDE else min(MOST_TOGETHER // channels, TOGETHER)
    return max(1, min(fit, frame_count))


def column_width_for(channel_count: int) -> int:
    """Channels in a chunk: all of them, or of wide frames a column, as many in each."""
    most = COLUMN_BYTES if channel_count <= WIDE else WIDE_COLUMN_BYTES
    columns = min(-(-channel_count // most), MOST_COLUMNS)
    return -(-channel_count // max(1, columns))


def link_name(name: str) -> str:
    """``name`` as HDF5 can hold it in a group: ``/``, ``%`` and a leading dot written as in URLs (RFC 3986)."""
    return re.sub(r"[%/\x00]|^\.", lambda found: f"%{ord(found[0]):02X}", name)


def plain_name(link: str) -> str:
    """The name that ``link_name`` made ``link`` from."""
    from urllib.parse import unquote

    return unquote(link)
