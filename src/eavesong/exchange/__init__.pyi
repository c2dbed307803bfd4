from .aligned import Alignment, align
from .pack import Packed, pack
from .place import Carried, placed_events, placed_grid
from .trace import Trace, read_trace, trace_of, trace_text
from .unpack import Found, Handed, Unpacked, find, read_pack, unpack
from .words import describe, sureness, why

__all__ = [
    "Alignment",
    "Carried",
    "Found",
    "Handed",
    "Packed",
    "Trace",
    "Unpacked",
    "align",
    "describe",
    "find",
    "pack",
    "placed_events",
    "placed_grid",
    "read_pack",
    "read_trace",
    "sureness",
    "trace_of",
    "trace_text",
    "unpack",
    "why",
]
