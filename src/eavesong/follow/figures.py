"""The figures: how light follows its song. They guard against dullness and slips, and do not measure beauty."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from eavesong.errors import FramesError, Problem

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from eavesong.follow.hearing import Hearing
    from eavesong.follow.light import Light
    from eavesong.frames import FramesFile
    from eavesong.music import BeatGrid, Events

    Floats = NDArray[np.float64]

SAME = 0.25
"""Change of look, against the look before, below which a bar looks like the bar before."""
STRONGEST = 0.03
"""Share of frames that are the accents of the light."""
PEAK = 0.5
"""Prominence of a peak of change, in standard deviations of it."""
SIGMA = 0.05
"""Seconds: the width of the beat alignment score's bell."""
DECILE = 10
"""The loudest and the quietest tenth of the bars."""
FOLLOWED = ("hit", "stop", "arrival")
"""Events that light should answer at once."""
ANSWERED = 0.9
"""Share of frames whose change an answer must exceed."""
SELDOM = 0.05
"""Share of the song below which a prop that is lit no longer counts as used."""
FEWEST_BARS = 4
"""Bars below which nothing can be said of how they differ."""


@dataclass(frozen=True)
class Figures:
    """How the light follows the song; a figure is None where the song gives nothing to measure."""

    bars: int
    form: float | None
    """Rank correlation of all pairs of bars: how alike they look with how alike they sound; -1 to 1."""
    energy: float | None
    """Rank correlation of a bar's light with its loudness; -1 to 1."""
    beat: float | None
    """Change of light within a frame of a beat, against that farther than a frame and a half from any."""
    alignment: float | None
    """Beat alignment score: how near peaks of change lie to beats, 0 to 1; some 0.2 to 0.4 is chance."""
    accent: float | None
    """Where light changes most: the share of frames in which less begins in the song; 0.5 is chance."""
    longest: int
    """The longest run of bars that look the same."""
    stale: float | None
    """Share of bars that look like the one before."""
    loud: float | None
    """Light of the loudest tenth of the bars against that of the quietest tenth."""
    span: float | None
    """Decibels between these."""
    lit: float
    """Share of pixels lit: mean, and the 10th and 90th percentile of bars."""
    lit_low: float
    lit_high: float
    events: int
    """Hits, stops and arrivals in the song."""
    answered: float | None
    """Share of them at which the light changes within a frame as much as in a tenth of all frames at most."""
    together: float | None
    """Correlation of the change of light with what begins in the song, moment by moment; -1 to 1."""
    seldom: tuple[str, ...]
    """Props lit for less than a twentieth of the song, but for those that the house wishes unlit."""

    def as_dict(self) -> dict[str, Any]:
        """All figures as JSON can hold them."""
        return asdict(self)


@dataclass(frozen=True, eq=False)
class Followed:
    """Light and song side by side, and the figures of both."""

    figures: Figures
    edges: Floats
    """(n + 1,) seconds: where bars begin, and the last one ends."""
    looks: Floats
    """(n, c): the look of each bar."""
    drive: Floats
    """(n,): the light of each bar, 0 to 1."""
    loudness: Floats
    """(n,): its loudness, as the logarithm of its level."""
    light: Light
    hearing: Hearing


def follow(frames: FramesFile, song: str | Path | None = None) -> Followed:
    """How the frames follow their song, or ``song`` instead.

    Raises FramesError where the frames tell no beats, or the song is nowhere to be found; AudioError where it
    cannot be read.
    """
    from eavesong.follow.hearing import hearing_of
    from eavesong.follow.light import light_of
    from eavesong.music import events_for
    from eavesong.scene import Reopened

    source = Reopened(frames)
    grid, found = source.grid, Path(song) if song is not None else source.song
    if grid is None:
        raise FramesError(Problem(str(frames.path), "", "tells no beats", "Render the show again with its song."))
    if found is None:
        wanted = f"its song '{frames.song}' is not beside it" if frames.song else "it names no song"
        raise FramesError(Problem(str(frames.path), "", wanted, "Name the sound file with --song."))
    return measured(light_of(frames), hearing_of(found), grid, events_for(found, grid))


def measured(light: Light, hearing: Hearing, grid: BeatGrid, events: Events) -> Followed:
    """Light and sound, bar by bar, with their figures."""
    edges = bars_of(light, hearing, grid)
    looks, frames = light.looks(edges), light.frames_of(edges)
    drive = np.array([light.drive[span].mean() for span in frames])
    lit = np.array([(light.lit[span] @ light.share).mean() for span in frames])
    sound, loudness = hearing.of_bars(edges)
    same = steps_of(looks) < SAME
    loud, span_db = spread(drive, loudness)
    beats = np.array(grid.times)
    onset = np.interp(light.times, hearing.times, hearing.onset)
    wanted = [each.time for label in FOLLOWED for each in events.labelled(label) if _within(light, each.time)]
    figures = Figures(
        bars=len(drive),
        form=form_of(looks, sound),
        energy=_ranks_together(drive, loudness),
        beat=beat_of(light.change, light.times, beats, light.frame_rate),
        alignment=alignment_of(light.change, light.times, beats),
        accent=accent_of(light.change, onset),
        longest=longest_run(same),
        stale=float(same.mean()) if len(same) else None,
        loud=loud,
        span=span_db,
        lit=float(lit.mean()),
        lit_low=float(np.quantile(lit, 0.1)),
        lit_high=float(np.quantile(lit, 0.9)),
        events=len(wanted),
        answered=answered(light.change, light.times, np.array(wanted), light.frame_rate),
        together=together(light.change, onset),
        seldom=tuple(
            name
            for name, on in zip(light.names, (light.lit > 0).mean(axis=0), strict=True)
            if on < SELDOM and name not in light.unlit
        ),
    )
    return Followed(figures, edges, looks, drive, loudness, light, hearing)


def bars_of(light: Light, hearing: Hearing, grid: BeatGrid) -> Floats:
    """Where the bars that are both heard and seen begin, and where the last of them ends (n + 1,), in seconds."""
    end = min(light.start + len(light.change) / light.frame_rate, hearing.seconds) - 0.5
    edges = np.array([at for at in grid.downbeats if light.start - 1e-6 <= at < end])
    if len(edges) < 2:
        return np.array([light.start, max(end, light.start + 1.0)])
    return edges


def steps_of(looks: Floats) -> Floats:
    """(n - 1,): how far each bar's look lies from the one before, against the size of that."""
    sizes = np.maximum(np.linalg.norm(looks[:-1], axis=1), 1e-6)
    steps: Floats = np.linalg.norm(np.diff(looks, axis=0), axis=1) / sizes
    return steps


def longest_run(same: NDArray[np.bool_]) -> int:
    """Bars of the longest run in which each but the first looks like the one before."""
    longest = run = 1
    for each in same.tolist():
        run = run + 1 if each else 1
        longest = max(longest, run)
    return longest


def form_of(looks: Floats, sound: Floats) -> float | None:
    """Rank correlation, over all pairs of bars, of distances of look and of ``sound`` (n, c), standardised."""
    from scipy.spatial.distance import pdist

    if len(looks) < FEWEST_BARS:
        return None
    even = (sound - sound.mean(axis=0)) / (sound.std(axis=0) + 1e-6)
    return _ranks_together(pdist(looks), pdist(even))


def spread(drive: Floats, loudness: Floats) -> tuple[float | None, float | None]:
    """Light of the loudest tenth of bars over that of the quietest, and decibels between them."""
    if len(drive) < FEWEST_BARS:
        return None, None
    order, many = np.argsort(loudness), max(1, len(drive) // DECILE)
    quiet, loud = order[:many], order[-many:]
    decibels = 20 / np.log(10) * float(loudness[loud].mean() - loudness[quiet].mean())
    return float(drive[loud].mean() / max(float(drive[quiet].mean()), 1e-6)), decibels


def beat_of(change: Floats, times: Floats, beats: Floats, rate: float) -> float | None:
    """Mean change within a frame of a beat over mean change farther than a frame and a half from any."""
    away = distances(times, beats)
    near, far = change[away <= 1 / rate], change[away > 1.5 / rate]
    if not len(near) or not len(far) or far.mean() <= 0:
        return None
    return float(near.mean() / far.mean())


def alignment_of(change: Floats, times: Floats, beats: Floats) -> float | None:
    """The beat alignment score of dance generation (Li et al. 2021, from memory): mean of exp(-d² / 2σ²).

    d is how far each peak of change lies from the nearest beat, σ 50 ms.
    """
    from scipy.signal import find_peaks

    peaks, _ = find_peaks(change, prominence=max(PEAK * float(change.std()), 1e-12))
    if not len(peaks):
        return None
    return float(np.exp(-(distances(times[peaks], beats) ** 2) / (2 * SIGMA**2)).mean())


def accent_of(change: Floats, onset: Floats) -> float | None:
    """The mean rank, 0 to 1, of what begins within two frames of where the light changes most."""
    from scipy.ndimage import maximum_filter1d

    if change.max(initial=0.0) <= 0 or np.ptp(onset) <= 0:
        return None
    ranks = np.argsort(np.argsort(maximum_filter1d(onset, 5, mode="nearest"))) / len(onset)
    return float(ranks[change >= np.quantile(change, 1 - STRONGEST)].mean())


def answered(change: Floats, times: Floats, events: Floats, rate: float) -> float | None:
    """The share of ``events`` (seconds) within a frame of which light changes more than in nine of ten frames."""
    if not len(events) or len(change) < 3:
        return None
    enough = max(float(np.quantile(change, ANSWERED)), 1e-6)
    around = np.clip(np.round((events - times[0]) * rate).astype(int)[:, None] + (-1, 0, 1), 0, len(change) - 1)
    return float((change[around].max(axis=1) > enough).mean())


def together(change: Floats, onset: Floats) -> float | None:
    """Correlation of change of light with what begins, frame by frame."""
    if change.std() <= 0 or onset.std() <= 0:
        return None
    return float(np.corrcoef(change, onset)[0, 1])


def distances(times: Floats, beats: Floats) -> Floats:
    """(k,): seconds from each of ``times`` to the nearest of ``beats``, which rise."""
    after = np.clip(np.searchsorted(beats, times), 1, max(len(beats) - 1, 1))
    return np.minimum(np.abs(times - beats[after - 1]), np.abs(beats[np.minimum(after, len(beats) - 1)] - times))


def _within(light: Light, seconds: float) -> bool:
    return light.start <= seconds <= light.start + (len(light.change) - 1) / light.frame_rate


def _ranks_together(one: Floats, other: Floats) -> float | None:
    from scipy.stats import spearmanr

    if len(one) < FEWEST_BARS or np.ptp(one) <= 0 or np.ptp(other) <= 0:
        return None
    return float(spearmanr(one, other)[0])
