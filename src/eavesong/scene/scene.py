"""The scene: a show placed on a house and a song, on the terms that were asked for, with no engine in it.

Everything that needs to know what is lit, when, and by what asks the scene; engines only draw it. It is made from the
files that an order names (`make_scene`), from values that are at hand (`Scene`), or again from a frames file
(`eavesong.scene.reopen`).
"""

from __future__ import annotations

import weakref
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.errors import BeatsError, EavesongError, LayoutError, Problem, advise
from eavesong.scene.order import Order, Terms

if TYPE_CHECKING:
    from eavesong.layout import Layout
    from eavesong.music import BeatGrid, Signals
    from eavesong.music.listening import Timed
    from eavesong.scene.layers import Layer
    from eavesong.scene.place import PlacedCue
    from eavesong.scene.strings import Strings
    from eavesong.scene.values import Values
    from eavesong.show import Show


@dataclass(frozen=True, eq=False)
class Scene:
    """Cues on a house and a song, and on what terms; what engines draw is worked out when it is first asked for."""

    layout: Layout
    grid: BeatGrid
    cues: tuple[PlacedCue, ...]
    """In painting order, bottom first."""
    terms: Terms = field(default_factory=Terms)
    signals: Signals | None = None
    """What is heard in the song; None for silence."""
    show: Show | None = None
    """What the cues come from; None where they were made otherwise."""
    order: Order | None = None
    """What the scene was made from; None where it was not made from files. Likewise ``song`` and ``hashes``."""
    song: Path | None = None
    lying: tuple[Path, Path] | None = None
    """Where its show and its song lie, of a scene that was reopened: what it holds of them are names."""
    hashes: dict[str, str] = field(default_factory=dict)
    """SHA-256, in hex, of the sound (``audio``), of the texts that count (``beats file``, ``sections file``), and of
    the sounds that these say they are for (``beats for``, …)."""

    @property
    def frame_rate(self) -> float:
        """Frames a second."""
        return self.terms.frame_rate

    @cached_property
    def props(self) -> tuple[int, ...] | None:
        """Indices of the props that are computed, the others stay dark; None: all of them."""
        return chosen_props(self.layout, self.terms.props)

    @property
    def strays(self) -> tuple[Problem, ...]:
        """What is to be said of texts of beats, sections and events that were made for another sound than the song."""
        from eavesong.music.strays import strays

        asked = None if self.order is None else self.order.song
        song = asked or (self.show and self.show.song) or self.song
        named = {} if asked or self.show is None else {"beats": self.show.beats, "sections": self.show.sections}
        return tuple(strays(self.hashes, self.grid, str(song or "the song"), named))

    def only(self, props: Sequence[int]) -> Scene:
        """The same scene with these props computed alone, by their indices."""
        narrow = Scene(**{name: getattr(self, name) for name in self.__dataclass_fields__})
        narrow.__dict__["props"] = tuple(props)
        return narrow

    @cached_property
    def wanted(self) -> NDArray[np.bool_]:
        """(pixels,): which are computed."""
        if self.props is None:
            return np.ones(self.layout.pixel_count, bool)
        return np.isin(self.layout.pixels.prop, list(self.props))

    @cached_property
    def layers(self) -> tuple[Layer, ...]:
        """The cues that light anything that is wanted, as arrays over the house, bottom first."""
        from eavesong.scene.layers import layers_of

        return layers_of(self.cues, self.layout, self.wanted)

    @cached_property
    def values(self) -> Values:
        """What each frame decides: musical time, signals, strengths."""
        from eavesong.scene.values import Values

        own = weakref.proxy(self)  # not the scene itself: it would stay in memory until the collector comes round
        return Values(self.grid, self.signals, self.frame_rate, lambda: own.layers)

    def take_from(self, other: Scene) -> None:
        """Take what has been worked out in another scene and holds in this one too; to be called first of all."""
        from eavesong.scene.layers import layers_of

        same_song = self.grid == other.grid and self.signals is other.signals and self.frame_rate == other.frame_rate
        if not same_song:
            return
        same_places = self.layout is other.layout and self.props == other.props
        self.__dict__["layers"] = layers_of(self.cues, self.layout, self.wanted, other.layers, same_places)
        self.values.follow(other.values)

    @cached_property
    def strings(self) -> Strings:
        """Where the light of each wanted pixel goes, and the law by which it becomes bytes."""
        from eavesong.scene.strings import strings_of

        return strings_of(self.layout, self.wanted)


def make_scene(order: Order) -> Scene:
    """Read the show, the house and the song that ``order`` names, each once, and place the cues.

    Raises LayoutError, ShowError, EffectError, BeatsError or AudioError for inputs that cannot be used, with every
    problem of the show and the house at once.
    """
    from eavesong.layout import load_layout
    from eavesong.show import load_show

    problems: list[Problem] = []
    errors: list[EavesongError] = []
    read: list[object] = []
    for path, reader in ((order.show, load_show), (order.layout, load_layout)):
        try:
            read.append(reader(path))
        except EavesongError as fault:
            problems += fault.problems
            errors.append(fault)
    if errors:
        raise type(errors[0])(problems)
    show: Show = read[0]  # type: ignore[assignment]
    layout: Layout = read[1]  # type: ignore[assignment]
    return scene_of(show, layout, order)


@dataclass(frozen=True, eq=False)
class HeardSong:
    """A show's song, heard: good for every scene of that song, until it or one of its texts changes."""

    path: Path
    timed: Timed
    hashes: dict[str, str]
    """As `Scene.hashes`."""
    texts: dict[str, str] = field(default_factory=dict)
    """The beats, sections and events texts that count, by their paths, as they were hashed."""

    @cached_property
    def events(self) -> Signals:
        """The signals with the events among them, which are looked for when they are first asked for."""
        from eavesong.files import each_read_once
        from eavesong.music.listening import events_for

        with each_read_once(self.texts):
            events = events_for(self.path, self.timed.grid)
        return self.timed.sounding.signals.following(events, self.timed.grid)


def heard_song(show: Show, song: str | Path | None = None) -> HeardSong:
    """The song of a show, or another ``song``, heard once. Raises as `eavesong.show.load.hear_song`."""
    from eavesong.files import each_read_once
    from eavesong.show.load import hear_song

    texts: dict[str, str] = {}
    with each_read_once(texts):
        path, timed = hear_song(show, song)
        hashes = {"audio": timed.sounding.audio_hash} | source_hashes(show, song)
    return HeardSong(path, timed, hashes, texts)


def scene_of(
    show: Show, layout: Layout, order: Order, heard: HeardSong | None = None, before: Scene | None = None
) -> Scene:
    """The scene of a show and a house that have been read already; the song is heard, unless it has been.

    before: a scene from which cues are taken that are written and placed alike. Raises as `make_scene`.
    """
    from eavesong.scene.place import place_cues

    alone = heard is None
    heard = heard or heard_song(show, order.song)
    grid = heard.timed.grid
    cues = place_cues(show, layout, grid, before)
    return Scene(
        layout=layout,
        grid=grid,
        cues=cues,
        terms=order.terms,
        signals=_signals(heard, cues, alone),
        show=show,
        order=order,
        song=heard.path,
        hashes=heard.hashes,
    )


def _signals(heard: HeardSong, cues: Sequence[PlacedCue], alone: bool) -> Signals:
    """What the cues follow in the sound; events are looked for only where a cue reads them. alone: no other scene is
    made from it, and what they do not read need not be kept."""
    from eavesong.language.builtins import EVENTS

    programs = {id(cue.effect): cue.effect.program for cue in cues}.values()
    read = {name for program in programs for name in program.frame_inputs()}
    signals = heard.events if read & set(EVENTS) else heard.timed.sounding.signals
    if not alone:
        return signals
    return signals.only(read | {"spectrum" for program in programs if program.reads_spectrum()})


def set_scene(show: Show, layout: Layout, grid: BeatGrid, **terms: object) -> Scene:
    """The scene of what is at hand, in silence: for checks, which need to know what is lit, and no sound."""
    from eavesong.scene.place import place_cues

    return Scene(layout, grid, place_cues(show, layout, grid), Terms(**terms), show=show)  # type: ignore[arg-type]


def source_hashes(show: Show, song: str | Path | None = None) -> dict[str, str]:
    """SHA-256 of the beats, sections and events texts that count, in hex, of nothing where the song is listened to; and
    of the sounds that they say they are for."""
    from eavesong.files import content_hash, read_text
    from eavesong.music.listening import events_text_for, texts_for
    from eavesong.music.made_for import PARTS, hashes_in

    named = (None, None) if song is not None else (show.beats, show.sections)
    sound = song if song is not None else show.song
    assert sound is not None, "a show without a song is refused before"
    paths = (*texts_for(sound, *named), events_text_for(sound))
    texts = {part: read_text(path, BeatsError) if path else "" for part, path in zip(PARTS, paths, strict=True)}
    return {f"{part} file": content_hash(text) for part, text in texts.items()} | hashes_in(texts)


def chosen_props(layout: Layout, names: Sequence[str]) -> tuple[int, ...] | None:
    """Indices of the props that have one of ``names`` as name, row or tag; None for no names: all of them.

    Raises LayoutError for names that the layout does not have.
    """
    if not names:
        return None
    chosen: set[int] = set()
    problems = []
    for name in names:
        found = {*layout.named(name), *layout.tagged(name)}
        chosen |= found
        if not found:
            known = {*layout.names(), *layout.tags()}
            where = layout.path or layout.title
            problems.append(Problem(where, "", f"no prop is called or tagged '{name}'", advise(name, known, "name")))
    if problems:
        raise LayoutError(problems)
    return tuple(sorted(chosen))
