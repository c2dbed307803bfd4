"""DEFLATE for frames of light: pixels that equal the one beside them, and Huffman codes for the rest.

A general compressor looks for repeats at every distance, which is slow, and finds few in the frames of a lit house;
what repeats there repeats at one distance: the next pixel's, or the last frame's. Looking there only is faster and
finds more of it. Any inflater reads the result. Source: RFC 1951 (Deutsch, 1996); its sections are named beside
what they ask for.
"""

from __future__ import annotations

import numpy as np
from llvmlite.ir import Constant, IntType
from numba import njit, types
from numba.extending import intrinsic

from eavesong.kernels.store import kept

BLOCK = 1 << 17
"""Bytes that share one set of codes and one distance; a multiple of 64."""
SYMBOLS = 286
"""3.2.5: literals 0..255, end of block 256, lengths 257..285."""
LONGEST_CODE = 13
"""Bits of a code, at most: a match with its extra bits and its distance (5 + 1 + 13) then fits into 32 bits. 3.2.7
would allow 15."""
SHORTEST_MATCH = 4
"""DEFLATE knows matches of 3 too; one pixel that equals the last is sooner written out than announced."""
LONGEST_MATCH = 258
FARTHEST = 32768
HEAD_BYTES = 256
"""More than the head of a block takes."""

BITS = np.uint64(48)
ALL = np.uint64((1 << 48) - 1)
"""A code here is a number whose upper 16 bits say how many of the lower 48 are sent, the lowest first."""

ONE, TWO, SIX, SIXTY_FOUR = np.uint64(1), np.uint64(2), np.uint64(6), np.uint64(64)
LAST_OF_WORD = np.uint64(63)
LONGEST, BEHIND = np.uint64(LONGEST_MATCH), np.uint64(SHORTEST_MATCH - 1)
"""Places that are stepped through are unsigned: numba looks after negative ones at every access."""

GATHER = np.uint64(0x0102040810204080)


@intrinsic
def _low_zeros(typing, word):
    """How many bits of a 64-bit word, from the lowest on, are 0; 64 for the word 0."""

    def build(context, builder, signature, arguments):
        return builder.cttz(arguments[0], Constant(IntType(1), 0))

    return types.uint64(types.uint64), build


@njit(nogil=True)
def _best_distance(data, start, stop, distances):
    """The one of ``distances`` at which most bytes repeat, by an eighth of the block."""
    best, most = distances[0], -1
    for distance in distances:
        found = 0
        for piece in range(start, stop, 8192):
            if piece >= distance:
                end = min(piece + 1024, stop)
                here, there = data[piece:end], data[piece - distance : end - distance]
                for i in range(here.size):
                    found += here[i] == there[i]
        if found > most:
            best, most = distance, found
    return best


@njit(nogil=True)
def _find(data, start, stop, distance, begins):
    """Set ``begins[i]`` to 1 where SHORTEST_MATCH bytes from ``start + i`` on equal those ``distance`` before."""
    first = min(max(start, distance), stop)
    here = data[first:stop]
    there = data[first - distance : stop - distance]
    begins[: first - start] = 0
    flags = begins[first - start :]
    whole = max(0, here.size - (SHORTEST_MATCH - 1))
    for i in range(whole):
        front = (here[i] == there[i]) & (here[i + 1] == there[i + 1])
        back = (here[i + 2] == there[i + 2]) & (here[i + 3] == there[i + 3])
        flags[i] = np.uint8(front & back)
    flags[whole:] = 0


@njit(nogil=True)
def _gather(eights, marks):
    """The flags of ``_find``, each 0 or 1 and eight of them to a word of ``eights``, as bits of ``marks``."""
    for i in range(marks.size - 1):
        word = np.uint64(0)
        for k in range(8):
            # This product puts the lowest bit of byte j at bit 56 + j, and nothing else beside it.
            word |= (eights[8 * i + k] * GATHER >> np.uint64(56)) << np.uint64(8 * k)
        marks[i] = word


@njit(nogil=True)
def _window(marks, at):
    """64 flags from place ``at`` on, the first lowest; ``marks`` has a word more than there are flags."""
    word, shift = at >> SIX, at & LAST_OF_WORD
    return marks[word] >> shift | (marks[word + ONE] << ONE) << (LAST_OF_WORD - shift)


@njit(nogil=True)
def _run(marks, at, size):
    """Where the match that begins ``at`` ends: LONGEST_MATCH bytes on and at ``size`` at the latest."""
    ones = _low_zeros(~_window(marks, at))
    end = at + ones + BEHIND
    while ones == SIXTY_FOUR and end < at + LONGEST:
        ones = _low_zeros(~_window(marks, end - BEHIND))
        end += ones
    return min(end, at + LONGEST, size)


@njit(nogil=True)
def _length_symbol(length):
    """3.2.5: 0..28 for a match of 3..258 bytes, and how many extra bits go with it."""
    if length == LONGEST_MATCH:
        return 28, 0
    if length < 11:
        return length - 3, 0
    extra = 1
    while (length - 3) >> (extra + 3):
        extra += 1
    return 4 * extra + ((length - 3) >> extra), extra


@njit(nogil=True)
def _distance_symbol(distance):
    """3.2.5: 0..29 for a distance of 1..32768, and how many extra bits go with it."""
    before = distance - 1
    if before < 4:
        return before, 0
    extra = 1
    while before >> (extra + 2):
        extra += 1
    return 2 * (extra + 1) + ((before >> extra) & 1), extra


@njit(nogil=True)
def _count(block, marks, counts):
    """How often each symbol comes up in an eighth of the bytes, taken from all over; each at least once."""
    counts[:] = 1
    for piece in range(0, block.size, 4096):
        i = np.uint64(piece)
        end = np.uint64(min(piece + 512, block.size))
        while i < end:
            if _window(marks, i) & ONE:
                following = _run(marks, i, np.uint64(block.size))
                counts[257 + _length_symbol(np.int64(following - i))[0]] += 1
                i = following
            else:
                counts[block[i]] += 1
                i += ONE


@njit(nogil=True)
def _sort(counts, order, spare):
    """``order``: the symbols by rising ``counts``, all below 65536; by radix, as there are many equal ones."""
    places = spare[SYMBOLS:]
    for i in range(SYMBOLS):
        spare[i] = i
    for shift in (0, 8):
        places[:257] = 0
        for i in range(SYMBOLS):
            places[(counts[i] >> shift & 255) + 1] += 1
        for i in range(256):
            places[i + 1] += places[i]
        for i in range(SYMBOLS):
            symbol = spare[i]
            digit = counts[symbol] >> shift & 255
            order[places[digit]] = symbol
            places[digit] += 1
        for i in range(SYMBOLS):
            spare[i] = order[i]


@njit(nogil=True)
def _lengths(counts, lengths, work):
    """Bits of each symbol's code by Huffman's method (1952); counts are evened out until none is too long."""
    order, spare, weight, parent = work[0], work[1], work[2], work[3]
    deepest = LONGEST_CODE + 1
    while deepest > LONGEST_CODE:
        _sort(counts, order, spare)
        for i in range(SYMBOLS):
            weight[i] = counts[order[i]]
        leaf, inner = 0, SYMBOLS
        for node in range(SYMBOLS, 2 * SYMBOLS - 1):
            weight[node] = 0
            for _ in range(2):
                if leaf < SYMBOLS and (inner == node or weight[leaf] <= weight[inner]):
                    taken = leaf
                    leaf += 1
                else:
                    taken = inner
                    inner += 1
                weight[node] += weight[taken]
                parent[taken] = node
        # From the root down, the weights give way to depths.
        weight[2 * SYMBOLS - 2] = 0
        for node in range(2 * SYMBOLS - 3, -1, -1):
            weight[node] = weight[parent[node]] + 1
        deepest = weight[0]
        for i in range(SYMBOLS):
            lengths[order[i]] = weight[i]
            deepest = max(deepest, weight[i])
            counts[i] = (counts[i] + 1) >> 1


@njit(nogil=True)
def _codes(lengths, codes, following):
    """3.2.2: the codes for these lengths, turned round so that their first bit is lowest, as 3.1.1 asks."""
    following[: LONGEST_CODE + 1] = 0
    for length in lengths:
        following[length] += 1
    code, before = 0, 0
    for bits in range(1, LONGEST_CODE + 1):
        code = (code + before) << 1
        before = following[bits]
        following[bits] = code
    for symbol in range(SYMBOLS):
        code = following[lengths[symbol]]
        following[lengths[symbol]] += 1
        turned = 0
        for _ in range(lengths[symbol]):
            turned = turned << 1 | code & 1
            code >>= 1
        codes[symbol] = _bits(turned, lengths[symbol])


@njit(nogil=True)
def _match_codes(codes, distance, matches):
    """For each length 3..258 its code and extra bits, then those of the one ``distance``: 32 bits at most."""
    _, far = _distance_symbol(distance)
    rest = (distance - 1) & ((1 << far) - 1)
    for length in range(3, LONGEST_MATCH + 1):
        symbol, extra = _length_symbol(length)
        code = codes[257 + symbol]
        bits = code >> BITS
        # The one distance in use has the code 0, of one bit (3.2.7).
        behind = np.uint64((length - 3) & ((1 << extra) - 1) | rest << (extra + 1))
        matches[length] = (code & ALL) | behind << bits | (bits + np.uint64(extra + 1 + far)) << BITS


@njit(nogil=True)
def _bits(value, count):
    """A plain number of ``count`` bits as a code."""
    return np.uint64(value) | np.uint64(count) << BITS


@njit(nogil=True)
def _put(out, state, code):
    """Append ``code``. ``state``: words that are out, bits held back, how many; no branch that could be missed."""
    at, held, filled = state
    held |= (code & ALL) << filled
    filled += code >> BITS
    out[at] = np.uint32(held & np.uint64(0xFFFFFFFF))
    whole = filled >> np.uint64(5)
    return at + whole, held >> (whole << np.uint64(5)), filled & np.uint64(31)


@njit(nogil=True)
def _head(out, state, lengths, distance_symbol, final):
    """3.2.7: the head of a block; all code lengths are sent in 4 bits each, and of the distances one is in use."""
    state = _put(out, state, _bits(final | 2 << 1 | (SYMBOLS - 257) << 3 | distance_symbol << 8 | 15 << 13, 17))
    # Lengths 16..18, which stand for repeats, come first and go unused.
    for place in range(19):
        state = _put(out, state, _bits(0 if place < 3 else 4, 3))
    for i in range(SYMBOLS + distance_symbol + 1):
        length = lengths[i] if i < SYMBOLS else np.int64(i == SYMBOLS + distance_symbol)
        turned = (length & 1) << 3 | (length & 2) << 1 | (length & 4) >> 1 | (length & 8) >> 3
        state = _put(out, state, _bits(turned, 4))
    return state


@njit(nogil=True)
def _body(out, state, block, marks, codes, matches):
    """The block itself: literals up to the next place where a match begins, two in a step, then the match."""
    size, i = np.uint64(block.size), np.uint64(0)
    while i < size:
        stop = min(size, i + _low_zeros(_window(marks, i)))
        while i + ONE < stop:
            first, second = codes[block[i]], codes[block[i + ONE]]
            bits = first >> BITS
            both = (first & ALL) | (second & ALL) << bits
            state = _put(out, state, both | (bits + (second >> BITS)) << BITS)
            i += TWO
        # An odd last literal, or a code of no bits: what is not guessed cannot be guessed wrong.
        state = _put(out, state, codes[block[max(stop, ONE) - ONE]] * (stop - i))
        i = stop
        if i < size and _window(marks, i) & ONE:
            end = _run(marks, i, size)
            state = _put(out, state, matches[end - i])
            i = end
    return _put(out, state, codes[256])


def _deflate(data, distances, out, begins, eights, marks, work, tables):
    """The stream of all blocks into ``out``; the rest is room to work in. Returns its bytes."""
    counts, lengths, codes, matches = work[4][:SYMBOLS], work[5][:SYMBOLS], tables[0], tables[1]
    state = (np.uint64(0), np.uint64(0), np.uint64(0))
    for start in range(0, data.size, BLOCK):
        stop = min(start + BLOCK, data.size)
        block = data[start:stop]
        distance = _best_distance(data, start, stop, distances)
        _find(data, start, stop, distance, begins)
        _gather(eights, marks)
        _count(block, marks, counts)
        _lengths(counts, lengths, work)
        _codes(lengths, codes, work[0])
        _match_codes(codes, distance, matches)
        symbol, _ = _distance_symbol(distance)
        state = _head(out, state, lengths, symbol, np.int64(stop == data.size))
        state = _body(out, state, block, marks, codes, matches)
    at, held, filled = state
    out[at] = np.uint32(held)
    return np.int64(at) * 4 + (np.int64(filled) + 7) // 8


_kept_deflate = kept(
    _deflate,
    types.int64(
        types.Array(types.uint8, 1, "C", readonly=True), types.int64[::1], types.uint32[::1], types.uint8[::1],
        types.uint64[::1], types.uint64[::1], types.int64[:, ::1], types.uint64[:, ::1],
    ),
    nogil=True,
)  # fmt: skip


def deflate(data: np.ndarray, distances: tuple[int, ...], ahead: int = 0, behind: int = 0) -> np.ndarray:
    """``data``, uint8 (n,) contiguous, n > 0, as a raw DEFLATE stream, uint8 (m,); holds no lock while it works.

    ``distances``: how far back repeats are looked for, each 1..32768; every block takes the one at which most
    repeats. ``ahead`` and ``behind``: bytes left free on both sides of the stream for whoever wraps it. The stream
    depends on the arguments alone. It can be larger than ``data``, at most by 5 parts in 8 and 256 bytes for each
    block; whoever calls then keeps the data as they are.
    """
    if not distances or min(distances) < 1 or max(distances) > FARTHEST:
        raise ValueError(f"distances are 1 to {FARTHEST}, not {distances}")
    blocks = -(-data.size // BLOCK)
    lead = -(-ahead // 4)
    room = data.size * LONGEST_CODE // 32 + blocks * HEAD_BYTES // 4 + 2
    out = np.empty(lead + room + behind // 4 + 1, np.uint32)
    begins = np.zeros(BLOCK, np.uint8)
    marks = np.zeros(BLOCK // 64 + 1, np.uint64)
    work = np.empty((6, 2 * SYMBOLS), np.int64)
    tables = np.empty((2, SYMBOLS), np.uint64)
    size = _kept_deflate(
        data, np.array(distances, np.int64), out[lead:], begins, begins.view(np.uint64), marks, work, tables
    )
    return out.view(np.uint8)[4 * lead - ahead : 4 * lead + size + behind]
