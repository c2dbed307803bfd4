"""A frames file reopened: the order, the house, the beats and the cues it was made from, and the light it holds.

The one place where the texts of a frames file become values again. A text that is missing, or that this eavesong cannot
read, leaves its part out; it never stops a picture or a report.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.errors import EavesongError, FramesError, Problem
from eavesong.files import parse_toml
from eavesong.light import light_table
from eavesong.scene.order import Order, Terms, kept_on, parse_order
from eavesong.words import visible

if TYPE_CHECKING:
    from eavesong.frames import FramesFile
    from eavesong.layout import Layout
    from eavesong.layout.patch import Patch
    from eavesong.music.grid import BeatGrid
    from eavesong.scene.place import PlacedCue
    from eavesong.scene.scene import Scene
    from eavesong.scene.sight import Sight
    from eavesong.show import Show

Bytes = NDArray[np.uint8]

PHOTOS = (".png", ".jpg", ".jpeg", ".webp")
SONGS = (".wav", ".flac", ".ogg", ".opus", ".mp3", ".m4a", ".aif", ".aiff")


class Reopened:
    """An open frames file, asked for what it was made from and for the light it holds."""

    def __init__(self, frames: FramesFile) -> None:
        self.frames = frames

    @property
    def metres(self) -> NDArray[np.float32]:
        """(n, 3): where each pixel is, from the house frame's left, bottom, back corner."""
        return self.frames.metres

    @cached_property
    def box(self) -> NDArray[np.float64]:
        """(3,) metres: width, height and depth of the house frame; along a flat axis what the pixels take."""
        places, metres = self.frames.places.astype(np.float64), self.metres.astype(np.float64)
        across = np.maximum(places.max(axis=0, initial=0.0), 1e-9)
        framed = metres.max(axis=0, initial=0.0) / across
        size: NDArray[np.float64] = np.where(np.ptp(places, axis=0) > 1e-6, framed, np.ptp(metres, axis=0))
        return size

    def frame_at(self, seconds: float) -> int:
        """The frame that is shown at a moment of the song: the last one begun; the first or last outside."""
        # A thousandth of a frame mends decimal seconds that are a hair off in binary.
        number = int(np.floor((seconds - self.frames.start) * self.frames.frame_rate + 1e-3))
        return min(max(number, 0), self.frames.frame_count - 1)

    def light(self, first: int, stop: int) -> Bytes:
        """Frames ``first`` to ``stop`` as light that is seen: uint8 (f, n, 3), 255 full, proportional to the light.

        The gamma that the bytes were prepared with is taken out again.
        """
        seen = self.frames.colours(self.frames.frames[first:stop])
        for gamma in np.unique(self._gammas[self._gammas != 1.0]):
            curve = np.round(255 * light_table(float(gamma))).astype(np.uint8)
            here = self._gammas == gamma
            seen[:, here] = curve[seen[:, here]]
        return seen

    def light_at(self, seconds: float) -> Bytes:
        """The light (n, 3) at a moment of the song."""
        number = self.frame_at(seconds)
        light: Bytes = self.light(number, number + 1)[0]
        return light

    @cached_property
    def _gammas(self) -> NDArray[np.float64]:
        gammas = np.ones(len(self.metres))
        for row in self.frames.patch:
            gammas[row.first_pixel : row.first_pixel + row.pixel_count] = row.gamma if row.gamma > 0 else 1.0
        return gammas

    @property
    def end(self) -> float:
        """Seconds of the song at which the last frame has been shown."""
        return self.frames.seconds(self.frames.frame_count)

    @cached_property
    def grid(self) -> BeatGrid | None:
        """The beats, bars and sections that the frames were made to; None where they are not told."""
        return grid_in(self.frames.texts, self.frames.song_seconds)

    @cached_property
    def layout(self) -> Layout:
        """The house as the frames file tells it: places, props, tags and channels, without wires and supplies."""
        from dataclasses import replace

        from eavesong.layout import layout_from_points
        from eavesong.layout.build import watched_from
        from eavesong.layout.wishes import wishes_in

        rows = self.frames.props
        points = {row.name: self.metres[row.first_pixel : row.first_pixel + row.pixel_count] for row in rows}
        layout = layout_from_points(
            points,
            title=self.house_title,
            tags={row.name: row.tags for row in rows},
            frame=((0, 0, 0), self.box.tolist()),
        )
        members, wishes = self._members, wishes_in(self._told)
        props = (
            replace(prop, shape=row.shape, member_of=members.get(row.name, row.name))
            for prop, row in zip(layout.props, rows, strict=True)
        )
        lit = tuple(replace(prop, lit=not prop.goes_by(wishes.unlit)) for prop in props)
        near = watched_from(self._told)
        palettes, colours = wishes.replacements(), wishes.recolouring()
        return replace(
            layout, text=self.frames.texts.get("layout", "") if self._told else "", props=lit, patch=self._patch(),
            palettes=palettes, colours=colours, watched_from=near,
        )  # fmt: skip

    @cached_property
    def _told(self) -> dict[str, object]:
        """The tables of the layout's text."""
        try:
            return parse_toml(self.frames.texts.get("layout", ""), "layout", FramesError)
        except FramesError:
            return {}

    @cached_property
    def sight(self) -> Sight:
        """How the layout says that the house is looked at."""
        from eavesong.scene.sight import sight_in

        return sight_in(self._told, self.frames.origin)

    @property
    def house_title(self) -> str:
        """What the house is called."""
        return visible(str(self._told.get("title", ""))) or "House"

    @cached_property
    def _members(self) -> dict[str, str]:
        """The row that each prop of a repeated entry belongs to: its name without what was added to it."""
        entries = self._told.get("prop", [])
        told = {str(entry.get("name", "")) for entry in entries if isinstance(entry, dict)} if isinstance(
            entries, list) else set()  # fmt: skip
        found = {}
        for row in self.frames.props:
            longest = max((name for name in told if row.name.startswith(f"{name} ")), key=len, default=row.name)
            found[row.name] = row.name if row.name in told else longest
        return found

    def _patch(self) -> Patch:
        from eavesong.frames.description import pixel_orders
        from eavesong.layout.patch import Patch

        rows, count = self.frames.patch, len(self.metres)
        orders, chosen = pixel_orders(rows, count)
        widths = np.array([len(order) for order in orders], np.int64)[chosen]
        brightness = np.ones(count, np.float32)
        for row in rows:
            brightness[row.first_pixel : row.first_pixel + row.pixel_count] = row.brightness
        return Patch(
            channel_count=self.frames.channel_count, channel_start=np.cumsum(widths) - widths,
            channel_width=widths.astype(np.int8), orders=orders, order=chosen.astype(np.int16), brightness=brightness,
            gamma=self._gammas.astype(np.float32), runs=(),
        )  # fmt: skip

    @cached_property
    def show(self) -> Show | None:
        """The show with its effects; None where the texts do not tell it."""
        from pydantic import ValidationError

        from eavesong.language import parse_effect
        from eavesong.palettes import light_of
        from eavesong.show import Show
        from eavesong.show.model import ShowFile

        texts = self.frames.texts
        try:
            file = ShowFile.model_validate(parse_toml(texts["show"], "show", FramesError))
            named = {name.removeprefix("effect "): text for name, text in texts.items() if name.startswith("effect ")}
            effects = {name: parse_effect(text, name, name) for name, text in named.items()}
            palettes = {name: light_of(stops) for name, stops in file.palettes.items()}
            if not all(cue.effect in effects for cue in file.cues):
                return None
            return Show(
                file.title, "", texts["show"], None, None, None, file.bars_began, palettes, file.cues, effects,
                file.bar_beats or 0,
            )  # fmt: skip
        except (EavesongError, ValidationError, KeyError, ValueError):
            return None

    @cached_property
    def cues(self) -> tuple[PlacedCue, ...]:
        """The cues of the show on this house and song, bottom first; none where the texts do not tell them."""
        return self.placed_on(self.layout)

    def placed_on(self, layout: Layout) -> tuple[PlacedCue, ...]:
        """The cues of the show on another description of the house, such as the layout file it was made from."""
        from eavesong.scene.place import place_cues

        if self.grid is None or self.show is None:
            return ()
        try:
            return place_cues(self.show, layout, self.grid)
        except (EavesongError, KeyError, ValueError):
            return ()

    @cached_property
    def scene(self) -> Scene | None:
        """The scene that the frames were drawn from, in silence; None where the file tells no beats.

        It says what is lit, when and by what; to be drawn again it needs the layout file and the song.
        """
        from eavesong.scene.scene import Scene

        if self.grid is None:
            return None
        song = Path(self.frames.song) if self.frames.song else None
        order, folder = self.order, self.frames.path.parent
        there = folder / (self.frames.song_path or self.frames.song or "SONG")
        lying = (folder / order.show, there) if order is not None else None
        return Scene(
            self.layout, self.grid, self.cues, self.terms, show=self.show, order=order, song=song, lying=lying,
            hashes=self.frames.hashes,
        )  # fmt: skip

    @cached_property
    def strays(self) -> tuple[Problem, ...]:
        """What is to be said of texts beside the song that were made for another sound than the frames were made to."""
        from eavesong.music.strays import strays

        if self.grid is None:
            return ()
        return tuple(strays(self.frames.hashes, self.grid, visible(self.frames.song) or "the song"))

    @cached_property
    def order(self) -> Order | None:
        """What was asked for, its files counted from the frames file's folder; None where an old file does not say."""
        text = self.frames.text("order")
        return parse_order(text, str(self.frames.path)) if text is not None else None

    @cached_property
    def terms(self) -> Terms:
        """The terms the frames were made on; of a file that does not say, its frame rate and its range."""
        if self.order is not None:
            return self.order.terms
        start, end = self.frames.start, self.end
        whole = end >= self.frames.song_seconds - 1e-6 and start <= 0
        rate = self.frames.frame_rate
        return Terms(frame_rate=rate) if whole else Terms(frame_rate=rate, start=start, stop=end)

    @property
    def told(self) -> bool:
        """Whether the file says all that was asked for; older ones say nothing of limits, softening and props."""
        return self.order is not None

    @cached_property
    def outdated(self) -> tuple[str, ...]:
        """What the frames were made from, where the files are there and are other ones now: the show, effects of its
        own, the layout, and the texts beside the song; paths from the folder of the frames file."""
        from eavesong.scene.changed import changed_files

        return changed_files(self.frames, self.order)

    @property
    def allows_flashes(self) -> bool:
        """Whether the show says ``allow_flashes = true``."""
        from eavesong.show.model import flashes_allowed

        return flashes_allowed(self.frames.texts.get("show", ""))

    @cached_property
    def photo(self) -> Path | None:
        """The photo that the layout names, where it is found: beside the frames file, or where it was."""
        found = self._beside(self.photo_name, PHOTOS)
        return found or self._there(self.frames.photo_path, PHOTOS, self.frames.hashes.get("photo"))

    @property
    def photo_name(self) -> str:
        """What the layout calls the photo; empty where it names none."""
        told = self._told.get("photo") or ""
        return visible(str(told.get("file", "") if isinstance(told, dict) else told))

    @cached_property
    def song(self) -> Path | None:
        """The song that the frames were made to, where it is found: beside the frames file, or where it was."""
        found = self._beside(self.frames.song, SONGS)
        return found or self._there(self.frames.song_path, SONGS, self.frames.hashes.get("audio"))

    def _beside(self, name: str, kinds: tuple[str, ...]) -> Path | None:
        """A file beside the frames file. A name from a stranger's file may not lead to another folder."""
        path = self.frames.path.parent / Path(name.replace("\\", "/")).name
        return path if name and path.suffix.lower() in kinds and path.is_file() else None

    def _there(self, path: str, kinds: tuple[str, ...], digest: str | None) -> Path | None:
        """A file at the place that the frames file tells, if it is the very one: a stranger's file could name any."""
        there = self.frames.path.parent / path
        if not path or not digest or there.suffix.lower() not in kinds or not there.is_file():
            return None
        return there if _digest(there) == digest else None


def is_another_song(frames: FramesFile, song: Path) -> bool:
    """Whether ``song`` is another file than the one that the frames were made to; not where that cannot be known."""
    digest = frames.hashes.get("audio")
    return bool(digest) and _digest(song) not in ("", digest)


def _digest(path: Path) -> str:
    """SHA-256 of a file in hex; empty where it cannot be read."""
    import hashlib

    try:
        with open(path, "rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return ""


def grid_in(texts: Mapping[str, str], duration: float) -> BeatGrid | None:
    """The beats, bars and sections in the ``beats`` and ``sections`` among ``texts``; None where they cannot be read.

    duration: seconds of the song.
    """
    from eavesong.music.grid import BeatGrid, Section
    from eavesong.music.kinds import label_and_kind

    try:
        beats = [line.split() for line in texts.get("beats", "").splitlines()]
        parts = [line.split(maxsplit=2) for line in texts.get("sections", "").splitlines()]
        sections = tuple(Section(float(start), float(end), *label_and_kind(label)) for start, end, label in parts)
        times, positions = tuple(float(time) for time, _ in beats), tuple(int(place) for _, place in beats)
        return BeatGrid(times, positions, sections, duration)
    except (ValueError, EavesongError):
        return None


def kept_from(path: str | Path, asked: Terms) -> tuple[Terms, tuple[str, ...]]:
    """``asked``, within the limit and the softening of the frames that ``path`` holds already, and what of these was
    kept, in words; or that it cannot be known, where there is a file that does not tell."""
    from eavesong.frames import open_frames

    if not Path(path).is_file():
        return asked.terms, ()
    try:
        with open_frames(path) as file:
            earlier = Reopened(file)
            terms = kept_on(earlier.terms, asked)
            return terms, told_kept(asked, terms) if earlier.told else (UNKNOWN.format(UNTOLD),)
    except EavesongError as fault:
        return asked.terms, (UNKNOWN.format(f"the file that was there {fault.problems[0].found}"),)


def otherwise(path: str | Path, terms: Terms) -> tuple[str, ...]:
    """How the frames that ``path`` holds already were asked for otherwise than ``terms``, in words; empty where none
    are there, or they do not tell."""
    from eavesong.frames import open_frames

    if not Path(path).is_file():
        return ()
    try:
        with open_frames(path) as file:
            earlier = Reopened(file)
            differences = earlier.terms.differences(terms) if earlier.told else ()
    except EavesongError:
        return ()
    return tuple(f"the frames that were there before were made otherwise: {each}" for each in differences)


UNTOLD = "an older eavesong made what was there, and did not write down what was asked for"
UNKNOWN = "not kept: a limit or a softening that earlier frames may have had, for {}"


def told_kept(asked: Terms, terms: Terms) -> tuple[str, ...]:
    """What of ``terms`` was not asked for now but earlier, in words; empty where nothing was."""
    kept = asked.differences(terms)
    return (
        (f"kept as it was asked for before: {'; '.join(part.rpartition(', now ')[2] for part in kept)}",)
        if kept
        else ()
    )
