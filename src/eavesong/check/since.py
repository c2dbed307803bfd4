"""Findings about what was changed in a song since its show was written: its bars, its sections and their kinds."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from eavesong.check.counted import recounted_in
from eavesong.check.shifted import bars_late, other_parts_in, restaged_in
from eavesong.errors import Problem
from eavesong.words import typed

if TYPE_CHECKING:
    from eavesong.check.shifted import Elsewhere, OtherParts
    from eavesong.music import BeatGrid
    from eavesong.scene import Scene
    from eavesong.scene.place import PlacedCue
    from eavesong.show import Show


MOST_TOLD = 3
"""Cues that are named in one finding."""


def _few(names: Sequence[str]) -> str:
    more = f" and {len(names) - MOST_TOLD} more" if len(names) > MOST_TOLD else ""
    return f"{', '.join(names[:MOST_TOLD])}{more}"


def parts_since(scene: Scene) -> tuple[OtherParts, ...]:
    """The sections and kinds by which cues light other parts of the song than when the show was written."""
    assert scene.show is not None, "a scene without a show has no cues"
    return tuple(other_parts_in(scene.grid, scene.show, scene.hashes.get("audio", "")))


def since_findings(scene: Scene, moved: Elsewhere | None, parts: Sequence[OtherParts]) -> Iterator[tuple[str, Problem]]:
    """All of them, each with its weight. moved: where bars or sections begin elsewhere, see `moved_since`."""
    assert scene.show is not None, "a scene without a show has nothing to check"
    yield from _shifted_findings(scene.show, scene, moved)
    yield from _parts_findings(scene.show, parts)
    yield from _restaged_findings(scene.show, scene, moved)
    yield from _recounted_findings(scene.show, scene)


def _shifted_findings(show: Show, scene: Scene, moved: Elsewhere | None) -> Iterator[tuple[str, Problem]]:
    """That bars are others than when the show was written, or that cues begin as many bars beside the song's parts
    throughout; each with its weight."""
    if moved is not None:
        kind = moved.what.split()[0]
        at = " at which sections began or ended" if kind == "bar" else ""  # of all others the show knows nothing
        also = f"; so do {moved.count - 1} more of {moved.of} {kind}s{at}" if moved.count > 1 else ""
        if moved.also:
            bars = "a bar" if moved.also == 1 else f"{moved.also} bars"
            begin = "begins" if moved.also == 1 else "begin"
            also += f"; {bars} at which one began or ended {begin} elsewhere, too, by less than a bar"
        if moved.far:
            found = f"the song's {kind}s are others than those it was written for: {moved}{also}"
            advice = (
                f"Draft it anew ({_drafting(scene)}: cues with 'keep = true' stay), or take back what was changed. "
                "Where its cues have been moved by hand, delete 'bars_began'."
            )
            after = [show.called(cue.index) for cue in scene.cues if cue.spans and _is_after(cue, scene.grid)]
            advice += f" After the song by now: {', '.join(after)}." if after else ""
        else:
            found = f"bars begin elsewhere than when it was written, by less than a bar: {moved}{also}"
            advice = (
                "Its cues go along with them. Where they look right, delete 'bars_began'; else draft it anew "
                f"({_drafting(scene)}: cues with 'keep = true' stay)."
            )
        if counted := [show.called(at) for at, cue in enumerate(show.cues) if cue.beats]:
            advice += f" 'beats' count from the song's first, and may be others: look at {_few(counted)}."
        yield "texts" if moved.far else "odd", Problem(show.path, "bars_began", found, advice)
    if (moved is None or not moved.far) and (late := bars_late(scene)):
        bars = "a bar" if abs(late) == 1 else f"{abs(late)} bars"
        found = (
            f"its cues by bars begin and end {bars} {'after' if late > 0 else 'before'} the parts of the song, all "
            "through it: bars were counted otherwise when it was written"
        )
        advice = "Draft it anew, or move its bars; or mend the song's beats, where they were corrected by mistake."
        yield "texts", Problem(show.path, "", found, advice)


def _parts_findings(show: Show, parts: Sequence[OtherParts]) -> Iterator[tuple[str, Problem]]:
    """Cues by sections or kinds that light other parts of the song than when the show was written; each with its
    weight."""
    for part in parts:
        cues = ", ".join(show.called(at) for at in part.cues)
        advice = (
            f"Name the part that is meant there, or mend the sections text.{part.by_now} Where it is meant as it is, "
            "delete 'bars_began'."
        )
        key = "sections" if show.cues[part.cues[0]].sections else "kinds"
        yield "texts", Problem(show.path, show.place(part.cues[0], key), f"{part}, with {cues}", advice)


def _restaged_findings(show: Show, scene: Scene, moved: Elsewhere | None) -> Iterator[tuple[str, Problem]]:
    """That parts of the song are others than those that cues by bars were written for, in one finding with its
    weight; but for sections that moved, where that is told already: where bars are others, by a bar at most."""
    parts = restaged_in(scene.grid, show, scene.hashes.get("audio", ""))
    if moved is not None and moved.far:
        seconds = [second for _, second, *_ in show.bars_began]
        nearest = {part: min(seconds, key=lambda second: abs(second - part.start)) for part in parts if part.new}
        most = 60 / scene.grid.tempo * max(scene.grid.beats_in_bars) if moved.what.startswith("bar") else np.inf
        left = {second for part, second in nearest.items() if abs(second - part.start) <= most}
        parts = [part for part in parts if (nearest[part] if part.new else part.start) not in left]
    if parts:
        rest = len(parts) - 1
        more = f"; {rest} more change{'s' * (rest > 1)} since" if rest else ""
        found = f"the song's sections are others than those it was written for: {parts[0]}{more}"
        advice = (
            f"Draft it anew ({_drafting(scene)}: cues with 'keep = true' stay). Where it looks right, delete "
            "'bars_began'."
        )
        yield "texts", Problem(show.path, "bars_began", found, advice)


def _recounted_findings(show: Show, scene: Scene) -> Iterator[tuple[str, Problem]]:
    """That bars have another number of beats than cues count in them, in one finding with its weight."""
    if told := recounted_in(scene.grid, show, scene.hashes.get("audio", "")):
        cues = _few([f"{show.called(at)} ({where})" for at, where in told.cues])
        found = f"{told}, and these count bars in beats: {cues}"
        advice = (
            f"Draft it anew ({_drafting(scene)}: cues with 'keep = true' stay), or give them as many beats as bars "
            "have now. Where it looks right, delete 'bar_beats'."
        )
        yield "texts", Problem(show.path, "bar_beats", found, advice)


def _is_after(cue: PlacedCue, grid: BeatGrid) -> bool:
    """Whether a cue begins when the song is over, every time."""
    return all(span.start >= grid.duration for span in cue.spans)


def _drafting(scene: Scene) -> str:
    """The command that drafts its show anew; in frames, whose house is one of several, for whichever it is."""
    assert scene.show is not None, "no show, nothing to draft"
    own = scene.show.path
    show, song = (Path(own), scene.show.song or scene.song) if own else scene.lying or (Path("SHOW.toml"), scene.song)
    house = scene.layout.path if own and scene.layout.path else "HOUSE.toml"
    at, to, on = (typed(_from_here(Path(path))) for path in (song or "SONG", show, house))
    return f"eavesong draft {at} --layout {on} --keep {to} --out {to}"


def _from_here(path: Path) -> Path:
    """A path as one types it: from the folder that one is in, where it lies below that."""
    here, path = Path.cwd(), Path(os.path.normpath(path))
    return path.relative_to(here) if path.is_absolute() and path.is_relative_to(here) else path
