"""What describes each beat of a candidate: from it, and from its neighbours', the model judges the beat."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from eavesong.music.bands import FRAME_RATE
from eavesong.music.blocks import in_blocks
from eavesong.music.figures import MIDDLE_TEMPO, PARTS, Traces, accents, beat_rows
from eavesong.music.novelty import likeness, running_mean

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]
    Rows = tuple[Floats, Floats, Floats]

AT_ONCE = 1 << 12
"""Beats whose surroundings are described together, for memory in long recordings."""
NEAR = 8
"""Beats over which what falls between beats is averaged."""
AROUND = 24
"""Beats over which what is usual is taken."""
SPANS = (1, 2, 3, 4)
"""Beats before and after a beat whose notes and sound are compared."""
LAGS = (1, 2, 3, 4, 6, 8)
"""Beats after which a bar may repeat."""
OFFSETS = (0, 1 / 2, 1 / 3, 2 / 3, 1 / 4, 3 / 4)
"""Parts of a beat at which the pulse is asked for beats."""
RATIOS = (1, 2, 1 / 2, 3 / 2, 2 / 3, 3, 1 / 3)
"""Times a beat's own tempo that the pulse is asked for."""
FAINTEST = -8.0
"""Log odds of the pulse below which nothing gets less likely."""
OPENING = 8
"""Likenesses whose mean stands in at the first beats, before which there is nothing to be like."""
KINDS = {
    "how it differs from what is usual": slice(0, 30),
    "what falls between the beats around": slice(30, 110),
    "the tempo": slice(110, 124),
    "what falls between it and the next": slice(124, 192),
    "how like the beats before it is": slice(192, 210),
    "the pulse": slice(210, 226),
}
"""Which of a beat's figures are which."""
COUNT = 226
"""How many there are."""


def beat_figures(beats: Floats, traces: Traces) -> Singles:
    """What describes each of ``beats`` (n,) in frames: (n, 226), in the order of `KINDS`."""
    gaps = np.append(np.diff(beats), beats[-1] - beats[-2])
    places = beats[:, None] + np.arange(PARTS) / PARTS * gaps[:, None]
    at = np.clip(np.rint(places), 0, len(traces.curves) - 1).astype(np.int64)
    curves, change = traces.curves[at], traces.change[at[:, ::3]]
    del places, at
    rows = beat_rows(beats, traces)
    table, filled = np.empty((len(beats), COUNT), np.float32), 0

    def add(*columns: Floats | Singles) -> None:
        """Fill the next columns of the table, as they come: all of a long song's at once would take much memory."""
        nonlocal filled
        for column in columns:
            wide = column.reshape(len(beats), -1)
            table[:, filled : filled + wide.shape[1]] = wide
            filled += wide.shape[1]

    add(_accents(beats, gaps, rows, traces))
    add(in_blocks(len(beats), AT_ONCE, NEAR, lambda part: _around(curves[part], change[part])), *_local_tempo(gaps))
    add(np.log(0.2 + curves), np.log(0.05 + change))
    for parts in (curves.reshape(len(beats), -1), *rows[1:]):
        add(*(_alike(parts, lag) for lag in LAGS))
    add(*_pulsed(beats, gaps, traces))
    return table


def _pulsed(beats: Floats, gaps: Floats, traces: Traces) -> list[Floats]:
    """What the pulse says of each beat and of the places between (n, 8), of its tempo (n, 7), and of its beginning a
    bar beside the beats around (n,)."""
    pulse = traces.pulse
    told = [pulse_near(pulse.beat, beats + offset * gaps) for offset in OFFSETS]
    down = pulse_near(pulse.downbeat, beats)
    told += [down, pulse_near(pulse.downbeat, beats + gaps / 2)]
    tempo = 60 * FRAME_RATE / running_mean(gaps, NEAR)
    told += [pulse.tempo_odds(ratio * tempo) for ratio in RATIOS]
    return [*told, down - running_mean(down, AROUND)]


def pulse_near(odds: Singles, places: Floats) -> Floats:
    """The greatest of the log odds (f,) within 30 ms of each place (n,) in frames."""
    last = len(odds) - 1
    at = np.rint(places).astype(np.int64)
    near = np.max([odds[np.clip(at + step, 0, last)] for step in (-3, -1, 0, 1, 3)], axis=0)
    return np.asarray(np.maximum(near.astype(np.float64), FAINTEST))


def _around(curves: Singles, change: Singles) -> Singles:
    """What begins at each twelfth (n, 12, 5) of the eight beats around, against all that begins in them (n, 80)."""
    begun, changed = running_mean(curves, NEAR), running_mean(change, NEAR)
    total = begun.sum(axis=2)
    ratios = np.log(0.1 + begun / (begun.mean(axis=1, keepdims=True) + 0.05))
    totals = np.log(0.1 + total / (total.mean(axis=1, keepdims=True) + 0.05))
    changes = np.log(0.1 + changed / (changed.mean(axis=1, keepdims=True) + 0.01))
    wide = [ratios.reshape(len(curves), -1), totals, changes.reshape(len(curves), -1)]
    return np.hstack(wide).astype(np.float32)


def _local_tempo(gaps: Floats) -> list[Floats]:
    octaves = np.log2(60 * FRAME_RATE / running_mean(gaps, NEAR) / MIDDLE_TEMPO)[:, None]
    return [octaves, octaves**2, np.exp(-0.5 * ((octaves - np.linspace(-1.5, 1.25, 12)) / 0.25) ** 2)]


def _accents(beats: Floats, gaps: Floats, rows: Rows, traces: Traces) -> Singles:
    """What begins on a beat and half way to the next, and what changes there, against the beats around."""
    on, level, notes = rows
    off = accents(beats + 0.5 * gaps, traces)
    columns = [np.log1p(on), np.log1p(off), np.diff(level, axis=0, prepend=level[:1])]
    for span in SPANS:
        for part in (notes[:, :12], notes[:, 12:], level - level.mean(axis=0)):
            columns.append(_change(part, span)[:, None])
    table = np.hstack(columns)
    least = 0.3 * table.std(axis=0) + 1e-3

    def told(part: slice) -> Singles:
        """What differs there from what is usual around."""
        usual = running_mean(table[part], AROUND)
        spread = np.sqrt(running_mean((table[part] - usual) ** 2, 2 * AROUND)) + least
        even: Singles = np.clip((table[part] - usual) / spread, -4, 4).astype(np.float32)
        return even

    return in_blocks(len(table), AT_ONCE, 2 * AROUND, told)


def _change(rows: Floats, span: int) -> Floats:
    """One minus the likeness of the means of ``span`` rows before each and from it on."""
    total = np.concatenate([np.zeros((1, rows.shape[1])), np.cumsum(rows, axis=0)])
    now = np.arange(len(rows))
    before = total[now] - total[np.maximum(now - span, 0)]
    after = total[np.minimum(now + span, len(rows))] - total[now]
    return np.where(now > 0, 1 - likeness(before, after), 0.0)


def _alike(rows: Floats | Singles, lag: int) -> Floats:
    """How like each row the one ``lag`` before it is, -1 to 1, once what is usual is taken from both."""
    unusual = (rows - rows.mean(axis=0)) / (rows.std(axis=0) + 1e-3)
    if len(rows) <= lag:
        return np.zeros(len(rows))
    alike = likeness(unusual[lag:], unusual[:-lag])
    return np.concatenate([np.full(lag, alike[:OPENING].mean()), alike])
