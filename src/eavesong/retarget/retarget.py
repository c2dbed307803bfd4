"""The whole job: what becomes of a show on a changed house, and its frames there."""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from eavesong.check.hidden import hidden
from eavesong.check.light import look_at, never_lit, seldom_at_a_glance
from eavesong.errors import FramesError, Problem
from eavesong.frames.garbage import none_collected
from eavesong.frames.guard import refuse_foreign
from eavesong.render import Order, render_scene
from eavesong.replaced import refuse_read
from eavesong.retarget.advice import seen
from eavesong.retarget.changes import HouseChange, compare_houses, pair_props
from eavesong.retarget.report import retargeting
from eavesong.retarget.reuse import Rest, why_useless
from eavesong.scene import Reopened, Terms, make_scene
from eavesong.scene.reopen import kept_from, otherwise, told_kept
from eavesong.words import visible

if TYPE_CHECKING:
    from eavesong.frames import FramesFile
    from eavesong.frames.begun import Begun
    from eavesong.layout import Layout
    from eavesong.render import Rendered
    from eavesong.render.render import Progress
    from eavesong.retarget.changes import HouseChange
    from eavesong.retarget.report import Retargeting
    from eavesong.scene import Scene


GOLDEN = (5**0.5 - 1) / 2
"""Multiples of it, modulo 1, lie evenly: blocks read in that order come from all over the song."""
GLIMPSES, GLIMPSE = 6, 8
"""Blocks that are looked at first, and frames of each: enough to see nearly everything that is ever lit."""


@dataclass(frozen=True)
class Retargeted:
    """What retargeting found and did."""

    report: Retargeting
    rendered: Rendered | None
    """None when no frames were asked for."""
    computed: tuple[str, ...]
    """Names of the props that were rendered anew."""
    copied_pixels: int
    misfit: str
    """Why nothing was copied from the old frames; empty when they were, or there were none."""


def retarget(
    show: str | Path,
    old: str | Path,
    new: str | Path,
    out: str | Path | None = None,
    *,
    frames: str | Path | None = None,
    song: str | Path | None = None,
    fps: float = 40.0,
    workers: int | None = None,
    progress: Progress | None = None,
    overwrite: bool = False,
) -> Retargeted:
    """Say what becomes of ``show`` when the house ``old`` becomes ``new``, and render it there into ``out``.

    frames: the old house's frames file. What was asked for there (song, rate, range, props, limit, softening) is kept
    on the new house; where it was made from the same show, song and beats by this version of eavesong, what cannot have
    changed is copied from it. Without it, everything is rendered, at ``fps``, for the whole song, but within the limit
    and the softening of frames that ``out`` holds already; where those cannot be known, the notes say so. No ``out``:
    nothing is rendered. song, workers, progress and overwrite as in `eavesong.render.render`.

    Raises what render raises, FramesError when ``frames`` is no frames file or damaged, and OutputError where ``out``
    is one of the files that are read.
    """
    if out is not None:
        refuse_read(out, (show, old, new, frames, song))
        refuse_foreign(out, overwrite)
    if out is None:
        _, earlier, scene = _scenes(show, old, new, song or _song_of(frames), fps)
        return Retargeted(_report(earlier, scene), None, (), 0, "")
    was_dark: tuple[int, ...] | None = None
    known: dict[int, bool] = {}
    kept: tuple[int, ...] = ()
    misfit = ""
    with _opened(frames) as file, _begun(file, out, overwrite, workers) as begun, ThreadPoolExecutor(1) as beside:
        order, earlier, scene = _scenes(show, old, new, song or _song_of(frames), fps)
        terms, notes = _terms(file, order, out, scene.layout)
        scene, earlier = replace(scene, terms=terms), replace(earlier, terms=terms)
        useful = file is not None and not (misfit := why_useless(file, earlier))
        if file is not None and useful:
            rest = Rest(scene, earlier, file, workers=workers, begun=begun)
            looking = beside.submit(_dark, earlier, file)
            change = beside.submit(compare_houses, earlier.layout, scene.layout)
            rendered, kept = rest.write(out, progress=progress, overwrite=overwrite), rest.kept
            was_dark = looking.result()
            as_before = pair_props(earlier.layout, scene.layout)
            known = {index: as_before[index] in was_dark for index in kept}
        else:
            if begun is not None:
                begun.give_up()
            change = beside.submit(compare_houses, earlier.layout, scene.layout)
            rendered = render_scene(scene, out, workers=workers, progress=progress, overwrite=overwrite)
        rendered = replace(rendered, notes=(*notes, *rendered.notes))
    with _opened(out) as made, none_collected():
        report = _report(earlier, scene, was_dark, made, change.result(), known)
    props = scene.layout.props
    computed = tuple(prop.name for index, prop in enumerate(props) if index not in kept)
    copied = sum(props[index].stop - props[index].start for index in kept)
    return Retargeted(report, rendered, computed, copied, misfit)


def _scenes(
    show: str | Path, old: str | Path, new: str | Path, song: str | Path | None, fps: float
) -> tuple[Order, Scene, Scene]:
    """What is asked for on the new house, and the scenes of the old house and the new one."""
    from eavesong.layout import load_layout
    from eavesong.scene.place import place_cues

    with ThreadPoolExecutor(1) as beside:
        reading = beside.submit(load_layout, old)
        try:
            order = Order.of(show, new, song, frame_rate=fps)
            scene = make_scene(order)
        finally:
            before = reading.result()  # what is wrong with the old house is told first
    assert scene.show is not None, "a scene made from an order has a show"
    return order, replace(scene, layout=before, cues=place_cues(scene.show, before, scene.grid)), scene


def _begun(
    file: FramesFile | None, out: str | Path, overwrite: bool, workers: int | None
) -> AbstractContextManager[Begun | None]:
    """The draft of ``out``, copied from the old frames while all else is read, where it looks as if that will serve."""
    from eavesong.frames.begun import Begun
    from eavesong.render.origin import made_by

    if file is None or file.frames.shape[1] == file.frames.dataset.chunks[1]:
        return nullcontext()
    if file.hashes.get("renderer") != made_by() or not Reopened(file).terms.whole:
        return nullcontext()
    return Begun(out, overwrite=overwrite, upon=file.frames, workers=workers)


def _report(
    earlier: Scene, scene: Scene, was_dark: tuple[int, ...] | None = None, made: FramesFile | None = None,
    change: HouseChange | None = None, known: Mapping[int, bool] | None = None,
) -> Retargeting:  # fmt: skip
    """What becomes of the show. was_dark: the old props that no light leaves, made: the new frames, change: what
    changed between the houses, known: whether no light leaves some of the new props; what is not given is found out."""
    assert scene.show is not None, "a scene made from an order has a show"
    never = (_dark(earlier) if was_dark is None else was_dark, _dark(scene, made, known))
    placed = (earlier.cues, scene.cues)
    houses = earlier.layout, scene.layout
    change = change or compare_houses(*houses)
    seldom = {} if scene.terms.props else _seldom(earlier, scene, change)
    under = {cue.index: over.index for cue, over in hidden(scene)}
    under = {each: under[each] for each in under.keys() - {cue.index for cue, _ in hidden(earlier, under)}}
    return retargeting(
        scene.show, *houses, scene.grid, never=never, placed=placed, change=change, seldom=seldom, under=under
    )


def _seldom(earlier: Scene, scene: Scene, change: HouseChange) -> dict[float, list[int]]:
    """The props of the new house that are dark for most of the song, of those that are new, have other tags, or are lit
    by some cue no more: what is as it was is lit as it was."""
    fresh = {prop.name for prop in change.props if {"added", "retagged"} & {*prop.kinds}}
    before, now = _cues_on(earlier), _cues_on(scene)
    pairs = pair_props(earlier.layout, scene.layout)
    left = {new for new, old in pairs.items() if before.get(old, set()) - now.get(new, set())}
    props = [
        index for index, prop in enumerate(scene.layout.props) if prop.lit and (prop.name in fresh or index in left)
    ]
    return seldom_at_a_glance(scene, seen(scene.cues), None, props) if props else {}


def _cues_on(scene: Scene) -> dict[int, set[int]]:
    """The cues that light each prop, by their numbers."""
    on: dict[int, set[int]] = {}
    for cue in seen(scene.cues):
        for prop in cue.props:
            on.setdefault(prop, set()).add(cue.index)
    return on


def _dark(scene: Scene, file: FramesFile | None = None, known: Mapping[int, bool] | None = None) -> tuple[int, ...]:
    """The props of a scene that no light leaves, as its frames have it, else as some moments show that are drawn.
    known: of some of them, whether that is so."""
    terms, known = scene.terms, known or {}
    if file is None or terms.props or terms.start or terms.stop is not None:
        return never_lit(scene, look_at(scene))
    unlit = [index for index, prop in enumerate(scene.layout.props) if prop.lit]
    reached = {prop for cue in scene.cues if cue.gives_light for prop in cue.props}
    sought = [index for index in unlit if index in reached and index not in known]
    starts = scene.layout.patch.channel_start
    ends = starts + scene.layout.patch.channel_width
    blocks = np.arange(0, file.frame_count, file.chunk_frames)
    order = blocks[np.argsort(np.arange(len(blocks)) * GOLDEN % 1)].tolist()
    for first, most in [*((each, GLIMPSE) for each in order[:GLIMPSES]), *((each, None) for each in order)]:
        if not sought:
            break
        props = [scene.layout.props[index] for index in sought]
        channels = [np.arange(starts[prop.start], ends[prop.stop - 1]) for prop in props]
        all_lit = file.frames.lit(first, np.concatenate(channels), most)
        lit = np.split(all_lit, np.cumsum([each.size for each in channels]))
        sought = [index for index, seen in zip(sought, lit, strict=False) if not seen.any()]
    return tuple(index for index in unlit if index not in reached or known.get(index, index in sought))


def _song_of(frames: str | Path | None) -> Path | None:
    """The song that the old frames were asked for with; None for the one that the show names."""
    with _opened(frames) as file:
        earlier = Reopened(file) if file is not None else None
        if earlier is None or earlier.order is None or earlier.order.song is None:
            return None
        if earlier.song is None:
            found = f"the song that these frames were made to is not where it was: {visible(earlier.order.song)}"
            raise FramesError(Problem(str(frames), "", found, "Say where it is now: --song FILE"))
        return earlier.song


def _opened(frames: str | Path | None) -> AbstractContextManager[FramesFile | None]:
    from eavesong.frames import open_frames

    return open_frames(frames) if frames is not None else nullcontext()


def _terms(file: FramesFile | None, order: Order, out: str | Path, new: Layout) -> tuple[Terms, tuple[str, ...]]:
    """The terms of the new frames, and what of them was kept from frames that were there, or was not, in words."""
    if file is None:
        return kept_from(out, order)
    earlier = Reopened(file).terms
    here = {*new.names(), *new.tags()}
    gone = tuple(name for name in earlier.props if name not in here)
    terms = replace(earlier, props=tuple(name for name in earlier.props if name in here))
    lost = (f"of the props asked for, the new house has no {', '.join(gone)}",) if gone else ()
    return terms, (*told_kept(order, terms), *lost, *otherwise(out, terms))
