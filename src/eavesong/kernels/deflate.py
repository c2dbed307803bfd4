"""DEFLATE for frames of light: pixels that equal the one beside them, and Huffman codes for the rest.

A general compressor looks for repeats at any distance and finds few in the frames of a lit house; what repeats there
repeats at one distance, the next pixel's or the last frame's. Looking there only is several times as fast and finds
more of it. Any inflater reads the result. Source: RFC 1951 (Deutsch, 1996), numbered in the comments.
"""

from __future__ import annotations

import numpy as np
from numba import njit, types

BLOCK = 1 << 17
"""Bytes that share one set of codes."""
SYMBOLS = 286
"""3.2.5: literals 0..255, end of block 256, lengths 257..285."""
LONGEST_CODE = 15
"""3.2.7: bits of a code, at most."""
LONGEST_MATCH = 258
FARTHEST = 32768

BYTES = types.Array(types.uint8, 1, "C", readonly=True)
WORDS = types.Array(types.uint32, 1, "C")
COUNTS = types.Array(types.int64, 1, "C")

BITS = np.uint64(48)
ALL = np.uint64((1 << 48) - 1)
"""A code is a number whose upper 16 bits say how many of the lower 48 are sent, the lowest first."""


@njit(nogil=True)
def _find(data, start, stop, distance, begins):
    """Set ``begins[i]`` where the three bytes from ``start + i`` on equal those ``distance`` before."""
    first = max(start, distance)
    for i in range(start, min(first, stop)):
        begins[i - start] = 0
    here = data[first:stop]
    there = data[first - distance : stop - distance]
    marks = begins[first - start :]
    for i in range(max(0, here.size - 2)):
        same = (here[i] == there[i]) & (here[i + 1] == there[i + 1]) & (here[i + 2] == there[i + 2])
        marks[i] = np.uint8(same)
    for i in range(max(0, here.size - 2), here.size):
        marks[i] = 0


@njit(nogil=True)
def _run(begins, at, stop):
    """Length of the match that begins at ``at``, at most up to ``stop`` and LONGEST_MATCH, never leaving 1 or 2."""
    end = at + 3
    last = min(stop, at + LONGEST_MATCH)
    while end < last and begins[end - 2]:
        end += 1
    return end - at


@njit(nogil=True)
def _count(data, begins, start, stop, counts):
    """How often each symbol comes up in a quarter of the bytes, taken from all over; every symbol at least once."""
    counts[:] = 1
    size = stop - start
    for piece in range(0, size, 4096):
        i = piece
        end = min(piece + 1024, size)
        while i < end:
            if begins[i]:
                length = _run(begins, i, size)
                counts[257 + _length_code(length)] += 1
                i += length
            else:
                counts[data[start + i]] += 1
                i += 1


@njit(nogil=True)
def _length_code(length):
    """3.2.5: 0..28 for a match of 3..258 bytes."""
    if length == LONGEST_MATCH:
        return 28
    if length < 11:
        return length - 3
    extra = 1
    while (length - 3) >> (extra + 3):
        extra += 1
    return 4 * extra + ((length - 3) >> extra)


@njit(nogil=True)
def _lengths(counts, lengths):
    """Bits of each symbol's code by Huffman's method (1952), at most LONGEST_CODE; flattens ``counts`` for that."""
    n = counts.size
    weight = np.empty(2 * n, np.int64)
    parent = np.empty(2 * n, np.int64)
    while True:
        order = np.argsort(counts)
        for i in range(n):
            weight[i] = counts[order[i]]
        leaf, inner = 0, n
        for node in range(n, 2 * n - 1):
            weight[node] = 0
            for _ in range(2):
                if inner == node or (leaf < n and weight[leaf] <= weight[inner]):
                    taken = leaf
                    leaf += 1
                else:
                    taken = inner
                    inner += 1
                weight[node] += weight[taken]
                parent[taken] = node
        weight[2 * n - 2] = 0
        for node in range(2 * n - 3, -1, -1):
            weight[node] = weight[parent[node]] + 1
        deepest = 0
        for i in range(n):
            lengths[order[i]] = weight[i]
            deepest = max(deepest, weight[i])
        if deepest <= LONGEST_CODE:
            return
        for i in range(n):
            counts[i] = (counts[i] + 1) >> 1


@njit(nogil=True)
def _codes(lengths, codes):
    """3.2.2: the codes for these lengths, as they are sent, first bit lowest; from bit BITS on: how many bits."""
    per_length = np.zeros(LONGEST_CODE + 1, np.int64)
    for length in lengths:
        per_length[length] += 1
    following = np.zeros(LONGEST_CODE + 1, np.int64)
    code = 0
    for bits in range(1, LONGEST_CODE + 1):
        code = (code + (per_length[bits - 1] if bits > 1 else 0)) << 1
        following[bits] = code
    for symbol in range(lengths.size):
        code = following[lengths[symbol]]
        following[lengths[symbol]] += 1
        turned = 0
        for _ in range(lengths[symbol]):
            turned = turned << 1 | code & 1
            code >>= 1
        codes[symbol] = np.uint64(turned) | np.uint64(lengths[symbol]) << BITS


@njit(nogil=True)
def _match_codes(codes, matches):
    """For each length 3..258 its code and extra bits in one."""
    for length in range(3, LONGEST_MATCH + 1):
        symbol = _length_code(length)
        extra = 0 if symbol < 8 or symbol == 28 else symbol // 4 - 1
        code = codes[257 + symbol]
        bits = code >> BITS
        rest = np.uint64((length - 3) & ((1 << extra) - 1))
        matches[length] = (code & ALL) | rest << bits | (bits + np.uint64(extra)) << BITS


@njit(nogil=True)
def _distance_code(distance):
    """3.2.5: the symbol for a distance, its extra bits and how many they are."""
    before = distance - 1
    if before < 4:
        return before, 0, 0
    extra = 0
    while before >> (extra + 2):
        extra += 1
    return 2 * (extra + 1) + ((before >> extra) & 1), before & ((1 << extra) - 1), extra


@njit(nogil=True)
def _put(out, state, code):
    """Append the bits of ``code`` to what is held back; whole words of 32 bits go out, without a branch."""
    at, held, filled = state
    held |= (code & ALL) << filled
    filled += code >> BITS
    out[at] = np.uint32(held & np.uint64(0xFFFFFFFF))
    whole = filled >> np.uint64(5)
    return at + whole, held >> (whole << np.uint64(5)), filled & np.uint64(31)


@njit(nogil=True)
def _plain(value, bits):
    return np.uint64(value) | np.uint64(bits) << BITS


@njit(nogil=True)
def _head(out, state, lengths, distance_symbol, final):
    """3.2.7: the head of a block: the lengths of all codes, each in 4 bits; of the distances one is in use."""
    state = _put(out, state, _plain(final | 2 << 1, 3))
    state = _put(out, state, _plain(SYMBOLS - 257 | distance_symbol << 5 | (19 - 4) << 10, 14))
    for place in range(19):
        state = _put(out, state, _plain(0 if place < 3 else 4, 3))
    for i in range(SYMBOLS + distance_symbol + 1):
        length = lengths[i] if i < SYMBOLS else (1 if i == SYMBOLS + distance_symbol else 0)
        turned = (length & 1) << 3 | (length & 2) << 1 | (length & 4) >> 1 | (length & 8) >> 3
        state = _put(out, state, _plain(turned, 4))
    return state


@njit(nogil=True)
def _body(out, state, data, begins, start, stop, codes, matches, distance):
    """The block itself: matches where they begin, literals between them, two at a time where they are many."""
    size = stop - start
    i = 0
    while i < size:
        if begins[i]:
            length = _run(begins, i, size)
            state = _put(out, state, matches[length])
            state = _put(out, state, distance)
            i += length
        elif i + 1 < size and not begins[i + 1]:
            first, second = codes[data[start + i]], codes[data[start + i + 1]]
            bits = first >> BITS
            both = (first & ALL) | (second & ALL) << bits
            state = _put(out, state, both | (bits + (second >> BITS)) << BITS)
            i += 2
        else:
            state = _put(out, state, codes[data[start + i]])
            i += 1
    return _put(out, state, codes[256])


@njit(nogil=True)
def _best_distance(data, start, stop, distances, begins):
    """The one of ``distances`` at which most bytes repeat, by an eighth of the block."""
    best, most = distances[0], -1
    for distance in distances:
        found = 0
        for piece in range(max(start, distance), stop, 8192):
            end = min(piece + 1024, stop)
            here, there = data[piece:end], data[piece - distance : end - distance]
            for i in range(here.size):
                found += here[i] == there[i]
        if found > most:
            best, most = distance, found
    return best


@njit(types.int64(BYTES, COUNTS, WORDS), nogil=True, cache=True)
def _deflate(data, distances, out):
    begins = np.empty(BLOCK, np.uint8)
    counts, lengths = np.empty(SYMBOLS, np.int64), np.empty(SYMBOLS, np.int64)
    codes, matches = np.empty(SYMBOLS, np.uint64), np.empty(LONGEST_MATCH + 1, np.uint64)
    state = (np.uint64(0), np.uint64(0), np.uint64(0))
    for start in range(0, data.size, BLOCK):
        stop = min(start + BLOCK, data.size)
        distance = _best_distance(data, start, stop, distances, begins)
        _find(data, start, stop, distance, begins)
        _count(data, begins, start, stop, counts)
        _lengths(counts, lengths)
        _codes(lengths, codes)
        _match_codes(codes, matches)
        symbol, rest, extra = _distance_code(distance)
        state = _head(out, state, lengths, symbol, 1 if stop == data.size else 0)
        far = _plain(rest << 1, extra + 1)
        state = _body(out, state, data, begins, start, stop, codes, matches, far)
    at, held, filled = state
    out[at] = np.uint32(held)
    return np.int64(at) * 4 + (np.int64(filled) + 7) // 8


def deflate(data: np.ndarray, distances: tuple[int, ...]) -> np.ndarray:
    """``data``, uint8 (n,), n > 0, as a raw DEFLATE stream, uint8 (m,); holds no lock while it works.

    ``distances``: how far back repeats are looked for, each 1..32768, nearest first; every block takes the best.
    Noise grows by a fifth at most; whoever calls keeps such data as they are.
    """
    out = np.empty(data.size // 2 + 512 * (data.size // BLOCK + 1), np.uint32)
    size = _deflate(data, np.array(distances, np.int64), out)
    return out.view(np.uint8)[:size]
