"""Finding the beats of a song: candidates, each explained with bars, the best explanation first.

    ear ──novelty──▶ curves ──▶ candidates ──▶ judged beat by beat ──▶ explained with bars ──▶ ranked ──▶ bars again
                                                                                                     ──▶ readings

docs/hearing.md says what each step brings.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from eavesong.music.bands import FRAME_RATE
from eavesong.music.barlines import Sounds, bar_odds
from eavesong.music.beside import evens
from eavesong.music.candidates import candidates, onsets, paths_near, share_in_common
from eavesong.music.explain import AGREE, Explanation, Judged, compared, explanations, judge, standing
from eavesong.music.figures import WEAKER_OF_TWO, Traces, beat_rows, traces
from eavesong.music.grid import LATEST, BeatGrid
from eavesong.music.metre import FARTHEST, METRES, bars, joined
from eavesong.music.model import model
from eavesong.music.novelty import likeness, novelty
from eavesong.music.parts import find_sections
from eavesong.music.phases import same_bars, turned
from eavesong.music.preference import in_four, tempo_of, unhurried
from eavesong.music.pulse import find_pulse, pulse_net
from eavesong.music.reading import NO_WISHES, Reading, Wishes
from eavesong.music.recount import recounted
from eavesong.music.refine import refined
from eavesong.music.signals import rises

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from eavesong.music.bands import Powers
    from eavesong.music.ear import Ear

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]

PLAIN_TEMPO = 120.0
"""Beats a minute of the plain pulse that stands in where no beat can be heard."""
FEWEST = 4
"""Beats that make a pulse; with fewer the plain one is used."""
ENOUGH = 16
"""Beats from which a pulse may be as sure as it seems: in fewer there is little that could speak against it."""
MOST_READINGS = 6
BARE = 20.0
"""What is added to the score of a metronome's beats: no other level explains bare clicks."""
EVENED = 0.8
"""What is added to the score of even beats where the best candidate has their tempo and is not even."""
PULSED, CLEARLY = 0.4, 0.2
"""How much the pulse counts beside the nets where the length of bars is known, and what a candidate's score gains by
the log odds of their beginnings above those of the other beats."""
LONG_BAR, LONG_BEAT, HELD_BACK = 4.5, 0.6, 3.5
"""Seconds of a bar, and of each of its beats where they are many, beyond which bars of a length that somebody told are
long, and what that costs an octave: bars of seven slow beats are rather fourteen, twice as fast."""
ODD = ((5,), (7,))
"""Bars that are seldom, and are told where they are from the song as a whole."""
ALONG = 0.5
"""How much nets count that see beats beside those far away, where bars are told."""
ALL = 0.93
"""Share of onsets and beats in common that is all there is."""
METRONOME = (1, 2, 3, 4, 5, 6)
"""Strokes after which a metronome sounds the same again."""
SAME_NOTES, SAME_LEVEL = 0.97, 0.25
"""Likeness of their notes, and difference of their levels in powers of ten, that make two strokes the same."""
EVEN = -0.5
"""Logarithm of how much weaker every other beat may be, in what begins on it; hi-hats between drums are weaker."""
FASTEST_BARE = 230.0
"""Beats a minute beyond which even bare clicks are divisions of the beat."""
SILENT = 1e-6
"""Share of the song's greatest power (60 dB below it) that is silence."""
RINGS = 2.0
"""Seconds for which beats go on after the last sound: the last bar is counted to its end."""
NEAR_WISH = 0.06
"""Share by which a tempo may differ from the one asked for."""
DOUBTED, MOST_DOUBTED = -0.7, 0.8
"""Log share of the tempo in the pulse, beside the likeliest tempo's, from which beats are doubted (half as likely), and
how sure they may be then: of four songs in thirty-nine that were called sure and were not right, it finds one."""
AROUND = 9
"""Beats over which each beat's own figure is averaged."""
SPREADS = 20
"""Times that what is cut off surer beats is spread over the others: the rest is under a hundredth by then."""
RATIOS = {
    1 / 4: "a quarter of the tempo",
    1 / 3: "a third of the tempo",
    1 / 2: "half the tempo",
    2 / 3: "two thirds of the tempo",
    3 / 4: "three quarters of the tempo",
    4 / 3: "four thirds of the tempo",
    3 / 2: "one and a half times the tempo",
    2.0: "double the tempo",
    3.0: "three times the tempo",
    4.0: "four times the tempo",
}


def track(powers: Powers, ear: Ear, wishes: Wishes = NO_WISHES) -> tuple[Reading, ...]:
    """The readings of a song, the most likely one first: at most six.

    Where no beat can be heard, as in silence, the one reading is 120 a minute in bars of four from 0 s on, with a
    confidence of 0.
    """
    chroma, material = ear.chroma, _material(ear, wishes)
    del ear  # unless somebody else holds it: the fine bands of a long song, which are not needed any more
    found = _ranked(material, wishes) if material else []
    if not found:
        return (_wished(_plain(powers, wishes), wishes),)
    assert material is not None, "nothing is ranked without it"
    chosen = _distinct(found, lambda one: _told_again(one, material.sounds, wishes.metre))
    rise = rises(powers.bands)
    readings = [_reading(one, found, chosen[0], powers, chroma, rise) for one in chosen]
    return tuple(_wished(reading, wishes, powers, chroma) for reading in readings if reading) or (
        _wished(_plain(powers, wishes), wishes),
    )


class _Material(NamedTuple):
    """What beats are chosen from."""

    heard: list[Floats]
    """Candidates: frames of beats."""
    trails: Traces
    begun: Floats
    """The frames at which something clearly begins."""
    sounds: Sounds


def _material(ear: Ear, wishes: Wishes) -> _Material | None:
    """The candidates of a song and what they are measured against; None where hardly anything begins."""
    curves = novelty(ear)
    if not curves.any():
        return None
    pulse = find_pulse(ear, pulse_net())
    heard = candidates(curves, pulse)
    if wishes.tempo:
        period = 60 * FRAME_RATE / wishes.tempo
        near = [beats for beats in heard if abs(np.log(np.median(np.diff(beats)) / period)) < NEAR_WISH]
        heard = near or paths_near(curves, period)
    begun = onsets(curves)
    enough = [beats for beats in heard if len(beats) >= FEWEST]
    return _Material(enough, traces(ear, curves, pulse), begun, Sounds.of(ear))


def _ranked(material: _Material, wishes: Wishes) -> list[Explanation]:
    """Every explanation of a song with its score, the best first."""
    heard, trails, begun, _ = material
    judged = compared([judge(beats, trails, model()) for beats in heard])
    found = [explanation for one in judged for explanation in explanations(one)]
    if not found:
        return []
    scores = model().score(np.array([explanation.figures for explanation in found]))
    bare = {id(one): BARE for one in judged if _is_all_there_is(one, begun) and _is_metronome(one, trails)}
    scored = [
        replace(one, score=float(score) + bare.get(id(one.judged), 0.0))
        for one, score in zip(found, scores, strict=True)
    ]
    order = unhurried(_evened(sorted(scored, key=lambda one: -one.score), judged))
    return _barred(order, wishes.metre) if wishes.metre else in_four(order)


def _evened(order: list[Explanation], judged: list[Judged]) -> list[Explanation]:
    """``order``, the best first, where even beats count more than the best if that has their tempo and is uneven."""
    _, same = evens([one.beats for one in judged])
    first = next(number for number, one in enumerate(judged) if one is order[0].judged)
    if same[first, first] or not same[first].any():
        return order
    chosen = {id(one) for one, like in zip(judged, same[first], strict=True) if like}
    lifted = [replace(one, score=one.score + EVENED * (id(one.judged) in chosen)) for one in order]
    return sorted(lifted, key=lambda one: -one.score)


def _is_all_there_is(judged: Judged, begun: Floats) -> bool:
    """Whether as much begins on every beat as on the next, and nothing anywhere else: ``begun`` (m,) are the onsets."""
    tempo = tempo_of(judged)
    even = judged.figures[WEAKER_OF_TWO] > EVEN
    return even and len(begun) > 1 and tempo < FASTEST_BARE and share_in_common(judged.beats, begun) > ALL


def _is_metronome(judged: Judged, trails: Traces) -> bool:
    """Whether all beats sound the same, but for an accent: a tune of even notes, or a figure that repeats, is none."""
    _, level, notes = beat_rows(judged.beats, trails)
    return any(_repeats(level, notes, lag) for lag in METRONOME if 2 * lag <= len(level))


def _repeats(level: Floats, notes: Floats, lag: int) -> bool:
    """Whether strokes (n, 8) and (n, 24) are on average as those ``lag`` before, and all but one of so many alike."""
    alike = float(likeness(notes[lag:], notes[:-lag]).mean()) > SAME_NOTES
    as_loud = float(np.abs(level[lag:] - level[:-lag]).mean()) < SAME_LEVEL
    means = np.array([notes[first::lag].mean(axis=0) for first in range(lag)])
    same = [int((likeness(np.broadcast_to(mean, means.shape), means) > SAME_NOTES).sum()) for mean in means]
    return alike and as_loud and max(same) >= lag - 1


def _barred(order: list[Explanation], metre: int) -> list[Explanation]:
    """The best explanation of each candidate, in bars of ``metre`` beats; one whose bars begin clearly counts more."""
    best = {id(one.judged): one for one in reversed(order)}
    return sorted((_in_bars(one, metre) for one in best.values()), key=lambda one: -one.score)


def _in_bars(one: Explanation, metre: int) -> Explanation:
    """``one`` in bars of ``metre`` beats: the same beats. Bars begin where nets and pulse together hear it."""
    chance = np.clip(one.judged.pulsed.down, 1e-4, 1 - 1e-4)
    pulsed = np.log(chance / (1 - chance))
    pulsed = np.clip(pulsed - np.median(pulsed) - np.log(max(1, metre - 1)), -FARTHEST, FARTHEST)
    heard = (1 - PULSED / 2) * np.clip(one.judged.downbeat, -FARTHEST, FARTHEST) + PULSED * pulsed
    positions, _ = bars(heard, (metre,), changing=False)
    begins = positions == 1
    clear = float(heard[begins].mean() - heard[~begins].mean()) if begins.any() and not begins.all() else 0.0
    seconds = metre * 60 / tempo_of(one.judged)
    long = HELD_BACK * max(0.0, float(np.log2(seconds / max(LONG_BAR, LONG_BEAT * metre))))
    return replace(one, positions=positions.astype(np.int16), way=(metre,), score=one.score + CLEARLY * clear - long)


def _told_again(one: Explanation, sounds: Sounds, metre: int | None) -> Explanation:
    """``one`` in the bars that nets hear which see its beats beside those far away, together with what was heard of
    each: of ``metre`` beats where that is asked for, else of whichever lengths, unless all of them were taken to be of
    five or seven, which have to be clear. Bars of five or seven that are asked for are heard as well without."""
    if metre and (metre,) in ODD:
        return one
    told = np.clip(bar_odds(one.judged.beats, sounds), -FARTHEST, FARTHEST)
    odds = (1 - ALONG) * np.clip(one.judged.downbeat, -FARTHEST, FARTHEST) + ALONG * told
    ways = (metre,) if metre else one.way if one.way in ODD else METRES
    positions, _ = bars(odds, ways, changing=len(ways) > 1)
    if not metre and one.way == (4,) and positions.max() <= 2:  # as it was taken before, see `in_four`
        ways = one.way
        positions, _ = bars(odds, ways, changing=False)
    judged = replace(one.judged, downbeat=odds)
    return replace(one, judged=judged, positions=positions.astype(np.int16), way=ways)


def _plain(powers: Powers, wishes: Wishes) -> Reading:
    tempo = wishes.tempo or PLAIN_TEMPO
    count = max(2, int(min(powers.duration, LATEST) * tempo / 60) + 1)
    times = tuple(beat * 60.0 / tempo for beat in range(count))
    grid = BeatGrid(times, tuple(beat % 4 + 1 for beat in range(count)), (), powers.duration)
    grid = replace(grid, sections=find_sections(powers, grid))
    return Reading(grid, 0.0, (0.0,) * count, "")


def _wished(reading: Reading, wishes: Wishes, powers: Powers | None = None, chroma: Singles | None = None) -> Reading:
    """``reading`` with the bars that were asked for; what a metre alone asks for was decoded before."""
    if wishes.first_downbeat is None and (wishes.metre is None or powers is not None):
        return reading
    grid = recounted(reading.grid, wishes.metre, wishes.first_downbeat)
    if powers is not None:
        grid = replace(grid, sections=find_sections(powers, grid, chroma))
    return Reading(grid, reading.confidence, reading.sure[-grid.beat_count :], reading.about)


def _distinct(found: list[Explanation], told_again: Callable[[Explanation], Explanation]) -> list[Explanation]:
    """The best explanation; then, mixed, its beats in other bars, and the best of each other level and phase; all in
    the bars that they have when they are ``told_again``, but for its other bars."""
    best = told_again(found[0])
    levels: list[Explanation] = [best]
    barred: list[Explanation] = []
    own = [replace(one, judged=best.judged) for one in found if one.judged is found[0].judged]
    for one in found:
        if len(levels) <= MOST_READINGS and all(_other_beats(one, other) for other in levels):
            levels.append(told_again(one))
    for one in [*turned(best), *own]:
        if not any(same_bars(_downbeats(one), _downbeats(other)) for other in (best, *barred)):
            barred.append(one)
    return [best, *barred[:1], *levels[1:2], *barred[1:3], *levels[2:], *barred[3:]][:MOST_READINGS]


def _other_beats(one: Explanation, other: Explanation) -> bool:
    return share_in_common(one.judged.beats, other.judged.beats) < AGREE


def _downbeats(one: Explanation) -> Floats:
    downbeats: Floats = one.judged.beats[one.positions == 1]
    return downbeats


def _reading(
    one: Explanation, found: list[Explanation], first: Explanation, powers: Powers, chroma: Singles, rise: Floats
) -> Reading | None:
    times, kept = refined(one.judged.beats, rise, *_sounding(powers))
    if len(times) < FEWEST:
        return None
    bare = BeatGrid(tuple(np.round(times, 4)), _positions(one.positions, kept), (), powers.duration)
    grid = replace(bare, sections=find_sections(powers, bare, chroma))
    confidence = _confidence(one, found) * min(1.0, len(times) / ENOUGH)
    return Reading(grid, round(confidence, 3), _sure(one.judged.right[kept], confidence), _about(one, first))


def _confidence(one: Explanation, found: list[Explanation]) -> float:
    """How sure its beats are; not as sure as that where the pulse hears another tempo through the song."""
    confidence = model().confidence(standing(one, found))
    return min(confidence, MOST_DOUBTED) if one.judged.pulsed.tempo_gap < DOUBTED else confidence


def _sounding(powers: Powers) -> tuple[float, float]:
    """The seconds between which a song is not silent: no beat is counted before it begins, or after it has ended."""
    loud = np.flatnonzero(powers.weighted > SILENT * powers.weighted.max(initial=0.0))
    return (
        (loud[0] / FRAME_RATE - 0.01, min(powers.duration, loud[-1] / FRAME_RATE + RINGS)) if len(loud) else (0.0, 0.0)
    )


def _positions(positions: NDArray[np.int16], kept: NDArray[np.int64]) -> tuple[int, ...]:
    """Positions of the beats that were kept, counted on where one between them was not."""
    counted = joined(positions[kept].astype(np.int64))
    if 1 not in counted:
        counted = np.arange(len(counted)) % int(positions.max()) + 1
    for beat in range(1, len(counted)):
        if counted[beat] != 1:
            counted[beat] = counted[beat - 1] + 1
    return tuple(int(position) for position in counted)


def _sure(right: Floats, confidence: float) -> tuple[float, ...]:
    """How sure each beat is, from its own log odds and its neighbours': the mean is the song's confidence."""
    chance = 1 / (1 + np.exp(-right))
    bell = np.hanning(AROUND + 2)[1:-1]
    inner = slice(AROUND // 2, AROUND // 2 + len(chance))  # mode="same" would be as long as the bell in a short song
    around = np.convolve(chance, bell)[inner] / np.convolve(np.ones(len(chance)), bell)[inner]
    share = around / max(float(around.mean()), 1e-6)
    scale = confidence
    for _ in range(SPREADS):  # none is more than certain: what is cut off there is the others' share
        scale *= confidence / max(float(np.clip(scale * share, 0.0, 1.0).mean()), 1e-6)
    return tuple(float(sure) for sure in np.round(np.clip(scale * share, 0.0, 1.0), 3))


def _about(one: Explanation, first: Explanation) -> str:
    """What tells an explanation from the first, in a few words."""
    if one is first:
        return ""
    ratio = float(np.median(np.diff(first.judged.beats)) / np.median(np.diff(one.judged.beats)))
    for known, words in RATIOS.items():
        if abs(ratio / known - 1) < 0.06:
            return words
    if share_in_common(one.judged.beats, first.judged.beats) >= AGREE:
        same_metre = one.positions.max() == first.positions.max()
        return "bars that begin elsewhere" if same_metre else "other bars"
    return "the off-beat" if abs(ratio - 1) < 0.06 else "another tempo"
