"""The studio: one show as it is now, for every page that looks at it. Files and knobs come in, versions come out."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from eavesong.errors import EavesongError, MisfitError, Problem
from eavesong.files import read_text, write_whole
from eavesong.watch import told
from eavesong.watch.blocks import TOLD, Block, Store, block_of
from eavesong.watch.edits import Edits, Turned
from eavesong.watch.examiner import Examiner
from eavesong.watch.reading import Reader
from eavesong.watch.version import Version

if TYPE_CHECKING:
    from eavesong.scene import Order

SETTLES = 0.15
"""Seconds that bad news waits: a file that an editor is still writing is no mistake."""
DRAWS = 0.04
"""Seconds that a page has to draw the frame it stands on before the rest is begun."""
MOST_BEFORE = 60
"""Blocks of the version before that are kept drawn."""

MOST_STILLS = 4
"""Frames that pages stand on that are drawn before the rest."""

Answer = Callable[[str], None]


@dataclass(frozen=True, eq=False)
class Glimpse:
    """One frame of a version, for pages that stand on it: drawn before anything else."""

    version: int
    """Its number."""
    frame: int
    light: bytes
    """uint8 (pixels, 3), linear."""


class Studio:
    """The show that is being worked on. Safe to be asked from any thread; one of its own does the work."""

    def __init__(self, order: Order, changed: Callable[[], None] = lambda: None, *, effect: Path | None = None) -> None:
        """changed: called from some thread when pages have something new to be told. effect: shown by itself."""
        self.order, self.effect, self.changed = order, effect, changed
        self.edited = effect or Path(order.show)
        """The file that knobs are written to."""
        self.reader = Reader(order, effect)
        self.store = Store(self._drawn)
        self.shown: Version | None = None
        self.placed: Version | None = None
        """The one whose house and song pages have been told: what is shown, or in a moment will be."""
        self.saved: Version | None = None
        """As the files are, which is what is shown unless a knob is turned."""
        self.past: Version | None = None
        """As the files were before the last save."""
        self.parts: dict[str, Any] = {}
        """What pages are told, by name; a part that changes is another object."""
        self.frames_seen: Callable[[], set[int]] = set
        """Tells the frames that pages stand on."""
        self.stills: dict[int, Glimpse] = {}
        """Those of them that may look otherwise since the last change, by their numbers."""
        self.edits: Edits | None = None
        self._number = self._notices = 0
        self._wake, self._telling = threading.Condition(), threading.Lock()
        self._saves = 1
        self._turns: dict[tuple[int, str], Turned] = {}
        self._orders: list[tuple[str, Answer]] = []
        self._ended = False
        self._faults: list[dict[str, str]] = []
        """Of the files; a knob may add one of its own."""
        self._before: dict[tuple[int, int], Block] = {}
        self._examiner = Examiner(self)
        self._thread = threading.Thread(target=self._work, daemon=True, name="studio")

    def start(self, looks_twice: bool = True) -> None:
        """Begin to work. looks_twice: and to tell, by and by, what deserves a second look."""
        self._thread.start()
        if looks_twice:
            self._examiner.start()

    def end(self, patience: float | None = None) -> bool:
        """Stop working. What cannot be left off, such as compiling, is waited for, twice ``patience`` seconds at most;
        whether all is done. A process whose interpreter ends while something compiles is aborted by the compiler.
        """
        self._examiner.stop()
        with self._wake:
            self._ended = True
            self._wake.notify_all()
        self.store.end()
        if self._thread.is_alive():
            self._thread.join(patience)
        return self._examiner.end(patience) and not self._thread.is_alive()

    def saved_again(self) -> None:
        """Some file may have been saved."""
        with self._wake:
            self._saves += 1
            self._wake.notify_all()

    def turn(self, turn: Turned) -> None:
        """Turn a knob. soon; of several turns of one knob only the last is made."""
        with self._wake:
            if len(self._turns) < 1000:
                self._turns[turn.cue, turn.knob] = turn
            self._wake.notify_all()

    def ask(self, what: str, answer: Answer) -> None:
        """``keep``, ``letgo`` or ``undo``, soon; ``answer`` is called with a sentence, empty where all went well."""
        with self._wake:
            if len(self._orders) < 100:
                self._orders.append((what, answer))
            self._wake.notify_all()

    def block(self, index: int, before: bool) -> Block | None:
        """A block of the show as it is now, or as it was before; None while it is not drawn."""
        version = self.saved if self.shown is not self.saved else self.past
        if not before or version is None or index >= version.block_count:
            return self.store.get(index)
        key = (id(version), index)
        if key not in self._before:
            if len(self._before) > MOST_BEFORE:
                self._before.clear()
            self._before[key] = block_of(version, index)
        return self._before[key]

    def notice(self, text: str) -> None:
        """Tell something once, on every page."""
        self._notices += 1
        self._tell("notice", {"text": text, "number": self._notices})

    def tell_of(self, version: Version, name: str, value: Any) -> None:
        """Tell a part that took long to make, if the version is still the one that is shown."""
        if version is self.shown:
            self._tell(name, value)
            self.changed()

    def _tell(self, name: str, value: Any) -> None:
        with self._telling:
            if name not in self.parts or self.parts[name] != value:
                self.parts = {**self.parts, name: value}

    def _drawn(self) -> None:
        left = self.store.left
        if left % TOLD == 0:
            self._tell("progress", {"version": self._number, "left": left})
            self._tell("glow", self.store.glow())
        self.changed()

    # The thread's own: nothing below is called from elsewhere.

    def _work(self) -> None:
        seen = 0
        while True:
            with self._wake:
                while not (self._ended or self._saves != seen or self._turns or self._orders):
                    self._wake.wait()
                if self._ended:
                    return
                saves, turns, orders = self._saves, list(self._turns.values()), self._orders
                self._turns, self._orders = {}, []
            self.store.hold(True)
            try:
                self._round(saves != seen, turns, orders)
                seen = saves
            except EavesongError as fault:
                seen = saves
                if not self._saved_meanwhile(saves):
                    self._tell("faults", _told(fault.problems))
            except Exception as fault:  # a fault of ours is told on the page, and the next save tries again
                seen = saves
                found = f"has a fault of its own: {type(fault).__name__}: {fault}"
                self._tell("faults", _told([Problem("eavesong", "", found)]))
            self.store.hold(False)
            self._tell_edits()
            self.changed()

    def _saved_meanwhile(self, saves: int) -> bool:
        """Wait a moment for a better save."""
        with self._wake:
            return self._wake.wait_for(lambda: self._saves != saves or self._ended, SETTLES)

    def _round(self, saved: bool, turns: Sequence[Turned], orders: Sequence[tuple[str, Answer]]) -> None:
        for turn in turns:
            self._turn(turn)
        for what, answer in orders:
            said, wrote = self._obey(what)
            saved = saved or wrote
            answer(said)
        if saved:
            try:
                self._see_files()
                self._faults = []
            except EavesongError as fault:
                self._faults = _told(fault.problems)
                raise
        if self.edits is not None and self.edits.turns:
            self._show(self._made(self.edits.text))
        elif self.saved is not None:
            self._show(self.saved)
        self._tell("faults", self._faults)

    def _turn(self, turn: Turned) -> None:
        if self.edits is not None:
            try:
                self.edits.turn(turn)
            except MisfitError as fault:
                self.notice(str(fault))

    def _see_files(self) -> None:
        """The show as it is saved, and the knobs that are turned in its text."""
        scene = self.reader.scene()
        assert scene.show is not None
        if self.saved is None or not told.same_scene(scene, self.saved.scene):
            self.past, self.saved = self.saved, self._version(scene)
        text = next(iter(scene.show.effects.values())).text if self.effect else scene.show.text
        if self.edits is None:
            self.edits = Edits(text)
        elif lost := self.edits.rebase(text):
            names = ", ".join(sorted({turn.knob.split(".")[-1] for turn in lost}))
            self.notice(f"{self.edited.name} was saved without what you had turned: {names}.")

    def _made(self, text: str) -> Version:
        """The files with knobs turned; the one that is shown if it is that already."""
        scene = self.reader.scene({self.edited: text})
        return self.shown if self.shown and told.same_scene(scene, self.shown.scene) else self._version(scene)

    def _version(self, scene: Any) -> Version:
        version = Version(scene)
        if (before := self.shown or self.saved) is not None:
            version.follow(before)
        else:  # pages can make the house ready while effects are loaded
            self._tell_places(version)
            self.changed()
        _ = version.drawing  # effects are compiled before it is shown
        return version

    def _show(self, version: Version) -> None:
        if version is self.shown:
            return
        number, before = self._number + 1, self.shown
        fresh = self._tell_places(version)  # what measures light is told before light that is measured so
        self._glance(version, number)
        self._let_draw()
        changed = self.store.show(version)
        self.shown, self._number = version, number
        fresh |= told.parts_of(version, self.effect, before, self.parts)
        with self._telling:
            gone = {name for name in self.parts if name.startswith("cue/") and name not in fresh}
            gone |= {"limits"} if changed else set()
            self.parts = {name: value for name, value in self.parts.items() if name not in gone}
        for name, value in fresh.items():
            self._tell(name, value)
        self._tell("progress", {"version": self._number, "left": self.store.left})
        self._examiner.shown()

    def _tell_places(self, version: Version) -> dict[str, Any]:
        self.placed, before = version, self.placed
        places = told.places_of(version, before, self.parts)
        for name, value in places.items():
            self._tell(name, value)
        return places

    def _glance(self, version: Version, number: int) -> None:
        """Draw the frames that pages stand on, before anything else, and have them sent."""
        frames = sorted(frame for frame in self.frames_seen() if frame < version.frame_count)[:MOST_STILLS]
        self.stills = {at: Glimpse(number, at, version.frames(at, 1).tobytes()) for at in frames}
        if frames:
            self.changed()

    def _let_draw(self) -> None:
        """Leave the processors to pages that draw the frame they stand on, for a moment, unless somebody turns on."""
        if self.stills:
            with self._wake:
                self._wake.wait_for(lambda: self._turns or self._orders or self._ended, DRAWS)

    def _tell_edits(self) -> None:
        edits = self.edits
        if edits is not None:
            turned = sorted({(turn.cue, turn.knob) for turn in edits.turns})
            self._tell("edits", {"file": self.edited.name, "count": len(edits.turns), "turned": turned})

    def _obey(self, what: str) -> tuple[str, bool]:
        """Undo, let go or keep: what to say, and whether something was written."""
        edits = self.edits
        if edits is None or not edits.turns:
            return "Nothing has been turned.", False
        if what == "undo":
            edits.undo()
        elif what == "letgo":
            edits.let_go()
        else:
            return self._keep(edits)
        return "", False

    def _keep(self, edits: Edits) -> tuple[str, bool]:
        """Write the text with the knobs turned, unless the file has changed meanwhile."""
        name = self.edited.name
        try:
            now = read_text(self.edited, EavesongError)
            if not os.access(self.edited, os.W_OK):  # another one could be put in its place all the same
                return f"Nothing was written. {name}: is protected against writing.", False
            if now != edits.base or edits.moved:
                edits.rebase(now)
                edits.moved = False
                return (
                    f"{name} was saved elsewhere meanwhile, so nothing was written. Look at it, and keep again.",
                    True,
                )
            self.reader.scene({self.edited: edits.text})  # what could not be read again is not written
            byte_order = b"\xef\xbb\xbf" if self.edited.read_bytes().startswith(b"\xef\xbb\xbf") else b""
            write_whole(self.edited, byte_order + edits.text.encode())
        except (EavesongError, OSError) as fault:
            return f"Nothing was written. {name}: {told.reason(fault)}.", False
        edits.kept()
        return "", True


def _told(problems: Sequence[Problem]) -> list[dict[str, str]]:
    return [told.problem(each) for each in problems[: told.MOST_FINDINGS]]
