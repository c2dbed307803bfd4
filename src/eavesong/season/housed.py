"""Frames on the house as it stands now: a controller with a new address is found, other changes are told."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from eavesong.errors import BeatsError, EavesongError, FramesError, LayoutError, Problem, ShowError
from eavesong.files import content_hash, parse_toml, read_text
from eavesong.music.made_for import PARTS
from eavesong.playback.now import changed_since, rendering_again, takes, unread
from eavesong.playback.wiring import on_layout
from eavesong.scene.order import Terms
from eavesong.scene.reopen import Reopened, is_another_song
from eavesong.season.drafts import drafted_name, is_another_show
from eavesong.season.remarks import shown
from eavesong.season.said import mark_of

if TYPE_CHECKING:
    from eavesong.layout import Layout
    from eavesong.playback.source import FileSource
    from eavesong.scene.order import Order
    from eavesong.season.setlist import Setlist, Song


ANOTHER = "ANOTHER.h5"
"""Stands for the name of a frames file that is to be made."""


class HouseNow:
    """The house that a setlist is played on; its layout is read again where its file has changed meanwhile."""

    def __init__(self, setlist: Setlist, *, allow_public: bool = False, rehearsal: bool = False) -> None:
        """``rehearsal``: all is sent elsewhere than to the house."""
        self._path = str(setlist.beside(setlist.house)) if setlist.house else ""
        self._setlist = setlist
        self._batch = f"eavesong batch {setlist.path}"
        self._allow_public = allow_public
        self._rehearsal = rehearsal
        self._mark: tuple[int, ...] = ()
        self._layout: Layout | None = None
        self._fault = ""
        self._songs: dict[tuple[object, ...], bool] = {}
        """Whether a song is another, by how its file stands on the disk and what it should be."""

    def changed(self, source: FileSource, song: Song) -> Iterator[str]:
        """What people have to know of the frames of a ``song``: what is another by now than what they were made from,
        and what they were asked for that the setlist does not say."""
        if self._of_its_own_show(source, song):
            word = changed_since(source, self._again(source, song))
            told = [f"{song.name}: {word}" if word else ""]
        else:
            told = [self.show_changed(source, song), self._effects_changed(source, song)]
        told += [self._asked_otherwise(source, song), self.song_changed(source, song)]
        yield from (word for word in told if word)

    def _of_its_own_show(self, source: FileSource, song: Song) -> bool:
        """Whether no batch makes these frames, as the setlist names no show and theirs is not the one that is drafted:
        a batch would put frames of that one in their place, or can make none, of no sound."""
        if self._setlist.show_of(song) or (order := _order_of(source)) is None:
            return False
        return not song.song or is_another_show(
            source.file.path.parent / order.show, self._setlist.beside(drafted_name(song.song))
        )

    def _again(self, source: FileSource, song: Song, asked: Terms | None = None) -> str:
        """The command that makes the frames of a ``song`` again, of the show that they are made from."""
        own = self._of_its_own_show(source, song)
        return rendering_again(source, self._path, asked=asked) if own else self._batch

    def _effects_changed(self, source: FileSource, song: Song) -> str:
        """That effects of the show's own, which lie beside it, are others than the frames were made with."""
        show = self._setlist.show_of(song) or (drafted_name(song.song) if song.song else "")
        folder = self._setlist.beside(show).parent
        for name, text in source.file.texts.items() if show else ():
            effect = name.removeprefix("effect ")
            if effect != name and effect.endswith(".toml") and (folder / effect).is_file():
                with suppress(ShowError):
                    if read_text(folder / effect, ShowError) != text:
                        found = (
                            f"'{effect}' is not what the frames of '{song.name}' were made with, which go out as they"
                        )
                        return f"{found} were. Render them again: {self._batch}"
        return ""

    def _asked_otherwise(self, source: FileSource, song: Song) -> str:
        """That the setlist asks for other terms than those of the frames, or that they are in part and nobody said."""
        order = Reopened(source.file).order
        if order is None:
            return ""
        said = self._setlist.said(song, self._setlist.house)
        if apart := order.differences(wanted := replace(order, **said)):
            found = (
                f"the frames of '{song.name}' were asked for otherwise ({'; '.join(apart)}), and go out as they were"
            )
            return f"{found}. Render them again: {self._again(source, song, wanted.terms)}"
        asked = {name: getattr(Terms(), name) for name in said if name in ("props", "start", "stop")}
        part = replace(order, **asked).part
        return f"the frames of '{song.name}' are not all of it: {part}" if part else ""

    def show_changed(self, source: FileSource, song: Song) -> str:
        """What people have to know where the show of a ``song`` is another by now than its frames were made from."""
        show = self._setlist.show_of(song) or (drafted_name(song.song) if song.song else "")
        path = self._setlist.beside(show) if show else None
        if path is None or not path.is_file():
            return ""
        try:
            same = read_text(path, ShowError) == source.file.texts.get("show")
        except ShowError:
            return ""
        found = f"'{show}' is not what the frames of '{song.name}' were made from, which go out as they were"
        return "" if same else f"{found}. Render them again: {self._batch}"

    def song_changed(self, source: FileSource, song: Song) -> str:
        """What people have to know where the sound of a ``song`` is another file than its frames were made to."""
        path = self._setlist.beside(song.song) if song.song else None
        if path is None or not path.is_file():
            return ""
        mark = (*mark_of(str(path)), source.file.hashes.get("audio"))
        if mark not in self._songs:
            self._songs[mark] = is_another_song(source.file, path)
        found = f"'{song.song}' is not the file that the frames of '{song.name}' were made to, so light may not fit it"
        if self._songs[mark]:
            return f"{found}. Render them again: {self._again(source, song)}"
        texts = () if self._of_its_own_show(source, song) else self._texts_changed(source, song)
        return "; ".join([*(stray.found for stray in Reopened(source.file).strays), *texts])

    def _texts_changed(self, source: FileSource, song: Song) -> Iterator[str]:
        """That texts beside the sound of a ``song`` are others than its frames were made with; silent where there are
        none, as on a computer that only plays, and of a show that names its own."""
        with suppress(EavesongError):
            named = parse_toml(source.file.texts.get("show", ""), "show", ShowError).keys()
            for part in (part for part in PARTS if part not in named and f"{part} file" in source.file.hashes):
                path = self._setlist.beside(song.song or "").with_suffix(f".{part}")
                if path.is_file() and content_hash(read_text(path, BeatsError)) != source.file.hashes[f"{part} file"]:
                    found = f"'{path.name}' is not what the frames of '{song.name}' were made with"
                    yield f"{found}, which go out as they were. Render them again: {self._batch}"

    def takes(self, source: FileSource, song: Song) -> str:
        """Have frames of a ``song`` sent to the addresses that the layout has now; what people have to know of it,
        empty for nothing.

        Frames whose pixels or universes the layout has otherwise go out as they were made. A layout that is not there,
        as on a computer that has nothing but frames, changes nothing. Raises FramesError where nothing may be sent to
        an address that it has.
        """
        layout = self._now()
        return self._fault if layout is None else self._taken(source, layout, self._again(source, song))

    def _taken(self, source: FileSource, layout: Layout, again: str) -> str:
        return takes(
            source, layout, shown(self._path), again, allow_public=self._allow_public, rehearsal=self._rehearsal
        )

    def takes_idle(self, source: FileSource) -> str:
        """The same of an idle look, which no batch renders. Raises FramesError too where it was made for another house
        than this one, whose pixels and universes are others."""
        layout = self._now()
        if layout is None:
            return self._fault
        order = Reopened(source.file).order
        made_for = (source.file.path.parent / order.layout).resolve() if order is not None else None
        if made_for not in (None, Path(self._path).resolve()) and on_layout(source.file.patch, layout) is None:
            called = shown(str(made_for)) if made_for.exists() else made_for.name  # frames that were carried elsewhere
            found = f"was made for another house, '{called}'"
            again = f"Make one for this house: {rendering_again(source, self._path, ANOTHER)}"
            raise FramesError(Problem(str(source.file.path), "", found, again))
        again = rendering_again(source, self._path)
        told = "; ".join(each for each in (self._taken(source, layout, again), changed_since(source, again)) if each)
        return f"the idle look '{source.file.path.name}': {told}" if told else ""

    def _now(self) -> Layout | None:
        from eavesong.layout import load_layout

        mark = mark_of(self._path) if self._path else ()
        if mark != self._mark:
            self._mark, self._layout, self._fault = mark, None, ""
            try:
                self._layout = load_layout(self._path) if mark else None
            except LayoutError as fault:
                self._fault = unread(shown(self._path), fault, rehearsal=self._rehearsal)
        return self._layout


def _order_of(source: FileSource) -> Order | None:
    """What the frames were ordered as; None where they do not tell."""
    with suppress(EavesongError):
        return Reopened(source.file).order
    return None
