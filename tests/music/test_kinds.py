"""Kinds of sections, in songs whose strength is laid down section by section."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate, pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavesong.music.bands import BAND_COUNT, FRAME_RATE, Powers
from eavesong.music.grid import BeatGrid, Section
from eavesong.music.kinds import KINDS, kinds_of, with_kinds
from eavesong.music.signals import Signals, signals_of

LENGTH = 16.0
"""Seconds of every section."""

Plan = Sequence[tuple[str, float]] | Sequence[tuple[str, float | tuple[float, float]]]


def song(plan: Plan, gain: float = 0.0, seconds: Sequence[float] = ()) -> tuple[tuple[Section, ...], Signals]:
    """Sections with these labels, each at a level in dB or rising from one level to another, of so many seconds."""
    lengths = seconds or [LENGTH] * len(plan)
    ends = [level if isinstance(level, tuple) else (level, level) for _, level in plan]
    spans = zip(ends, lengths, strict=True)
    decibels = np.concatenate([np.linspace(*levels, round(length * FRAME_RATE)) for levels, length in spans]) + gain
    power = 10 ** (decibels / 10) * 0.01
    power[np.arange(len(power)) % 50 > 40] *= 0.1  # beats
    power = power.astype(np.float32)
    bands = np.tile(power[:, None] / BAND_COUNT, (1, BAND_COUNT))
    powers = Powers(bands, power, power / 4, power / 2, power / 4, len(power) / FRAME_RATE)
    edges = pairwise([0.0, *accumulate(lengths)])
    sections = tuple(Section(*edge, label) for edge, (label, _) in zip(edges, plan, strict=True))
    return sections, signals_of(powers)


def kinds(plan: Plan, gain: float = 0.0) -> list[str]:
    return kinds_of(*song(plan, gain))


@pytest.mark.parametrize(
    ("plan", "expected"),
    [
        # The form of many songs (common practice): verses, a chorus that comes again, a bridge, an ending.
        (
            [("intro", -12), *[("verse", -3), ("chorus", 0)] * 2, ("bridge", -8), ("chorus", 0), ("outro", -9)],
            ["quiet", "steady", "high", "steady", "high", "break", "high", "end"],
        ),
        # All the same: nothing is high.
        ([("A", 0), ("B", 0.3), ("A", 0)], ["steady", "steady", "steady"]),
        ([("A", 0)], ["steady"]),
        # Two levels are enough for a high part.
        ([("A", -3), ("B", 0)], ["steady", "high"]),
        ([("A", -15), ("B", 0)], ["quiet", "high"]),
        # Growing into a high part; the same growth into nothing is none.
        ([("A", -12), ("B", (-10, -1)), ("C", 0)], ["quiet", "build", "high"]),
        ([("A", 0), ("B", (-10, -3)), ("C", -9), ("A", 0)], ["high", "break", "quiet", "high"]),
        # A solo that comes once does not outdo the chorus that is nearly as strong.
        ([("V", -9), ("C", -1), ("V", -9), ("C", -1), ("solo", 0), ("C", -1)], ["quiet", "high"] * 2 + ["high"] * 2),
        # A verse that returns between two choruses is no break.
        ([("V", -4), ("C", 0), ("V", -4), ("C", 0)], ["steady", "high", "steady", "high"]),
        # The last chorus is no ending.
        ([("V", -6), ("C", 0)], ["quiet", "high"]),
    ],
)
def test_kinds_follow_from_strength_return_and_order(plan: Plan, expected: list[str]) -> None:
    assert kinds(plan) == expected


def test_a_weaker_first_chorus_is_high_too() -> None:
    assert kinds([("V", -6), ("C", -1.2), ("V", -6), ("C", 0), ("C", 0)])[1] == "high"


def test_silence_is_quiet() -> None:
    assert kinds([("A", -200), ("B", -200)]) == ["quiet", "quiet"]


LEVELS = st.floats(-30, 0).map(lambda level: round(level, 1))
PLANS = st.lists(st.tuples(st.sampled_from("ABC"), LEVELS), min_size=1, max_size=7)


@settings(max_examples=25)
@given(PLANS)
def test_every_section_has_a_kind_and_some_are_high_where_levels_differ(plan: Plan) -> None:
    heard = kinds(plan)
    assert set(heard) <= set(KINDS)
    levels = [level for _, level in plan]
    if max(levels) - min(levels) >= 2:
        assert "high" in heard
    if max(levels) - min(levels) < 0.15:  # what is more may be told apart, where one kind lasts for a minute
        assert set(heard) == {"steady"}


@settings(max_examples=15)
@given(PLANS, st.sampled_from([-40.0, -20.0, 12.0]))
def test_loud_and_soft_recordings_have_the_same_kinds(plan: Plan, gain: float) -> None:
    assert kinds(plan, gain) == kinds(plan)


def test_kinds_that_are_given_stay() -> None:
    sections, signals = song([("A", -15), ("B", 0), ("A", -15)])
    given_kinds = (Section(0.0, 16.0, "A", "build"), *sections[1:])
    grid = BeatGrid((0.0, 0.5), (1, 2), given_kinds, 48.0)
    assert [part.kind for part in with_kinds(grid, signals).sections] == ["build", "high", "end"]
    assert with_kinds(with_kinds(grid, signals), signals) == with_kinds(grid, signals)


def test_sections_beyond_the_sound_have_a_kind() -> None:
    sections, signals = song([("A", -15), ("B", 0)])
    assert kinds_of((*sections, Section(100.0, 120.0, "C")), signals)[:2] == ["quiet", "high"]


def test_no_song_is_nearly_all_quiet_or_all_high() -> None:
    # A tune that is soft but for its last verse, and a song that is loud but for its intro: 88 % and 90 % of one kind
    # by strength alone.
    soft = kinds([("A", -12), ("B", -11), ("A", -11.5), ("C", -9), ("A", -12), ("B", -10), ("A", -11), ("D", 0)])
    loud = kinds([("I", -12), ("A", -0.6), ("B", 0), ("A", -0.4), ("B", 0), ("C", -0.7), ("B", 0), ("A", -0.5)])
    for heard, kind in ((soft, "quiet"), (loud, "high")):
        assert heard.count(kind) <= 0.65 * len(heard)
        assert len(set(heard)) > 1


@settings(max_examples=20)
@given(PLANS)
def test_one_kind_lasts_for_a_minute_at_most_where_neighbours_differ(plan: Plan) -> None:
    levels = [round(level + 0.5 * at, 1) for at, (_, level) in enumerate(plan)]
    heard = kinds([(label, level) for (label, _), level in zip(plan, levels, strict=True)])
    for at in range(len(plan) - 4):
        run = range(at, at + 4)  # 64 s
        if len({heard[each] for each in run}) == 1 and heard[at] in ("quiet", "steady", "high"):
            strength = [max(levels[each], -60) for each in run]
            assert max(strength) - min(strength) < 0.5


def test_a_long_stretch_is_broken_where_that_changes_least() -> None:
    # Five steady sections are 80 s. Without the third, the strongest, none lasts over 32 s; without the second, the
    # weakest, three would be 48 s together.
    plan = [("A", -2.0), ("B", -2.3), ("C", -1.7), ("B", -2.2), ("A", -2.0), ("H", 0)]
    assert kinds(plan) == ["steady", "steady", "high", "steady", "steady", "high"]
    # As strong as each other they stay one stretch.
    assert kinds([*[(label, -2.0) for label in "ABCBA"], ("H", 0)]) == ["steady"] * 5 + ["high"]


LONG = st.lists(st.tuples(st.integers(-14, 0), st.sampled_from([16.0, 32.0, 48.0])), min_size=3, max_size=7)


@settings(max_examples=40)
@given(LONG)
def test_the_stronger_of_two_neighbours_is_not_the_lower_kind(levels: list[tuple[int, float]]) -> None:
    """3 dB are heard. No label comes again, so that none is high for what others of its label are."""
    order = {"quiet": 0, "steady": 1, "high": 2}
    plan = [("ABCDEFG"[at], float(level)) for at, (level, _) in enumerate(levels)]
    heard = kinds_of(*song(plan, 0.0, [seconds for _, seconds in levels]))
    for (one, (_, level)), (other, (_, beside)) in pairwise(zip(heard, plan, strict=True)):
        if {one, other} <= order.keys() and abs(level - beside) >= 3:
            assert order[one] == order[other] or (order[one] > order[other]) == (level > beside)


def test_a_part_is_not_called_quiet_beside_a_softer_one_so_that_no_kind_lasts_too_long() -> None:
    levels, seconds = (0.0, -14.0, -11.0, -7.0, -14.0), (48.0, 48.0, 32.0, 24.0, 48.0)
    heard = kinds_of(*song([*zip("FABDC", levels, strict=True)], 0.0, seconds))
    assert heard == ["high", "quiet", "steady", "steady", "end"]  # the fourth was quiet
