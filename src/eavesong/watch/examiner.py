"""The second look: what a version lights and what the house can carry, looked at once nothing else is to be done."""

from __future__ import annotations

import contextlib
import gc
import os
import threading
from typing import TYPE_CHECKING

from eavesong.watch import told
from eavesong.watch.blocks import POLITE

if TYPE_CHECKING:
    from eavesong.watch.studio import Studio
    from eavesong.watch.version import Version

SOON = 0.4
"""Seconds without a change, and with nothing left to draw, after which what cues light is looked at: whoever turns a
knob again and again is not kept waiting by it."""
RESTS = 1.5
"""Seconds after that, after which the whole song is looked at."""


class LeftOffError(Exception):
    """A look that nobody waits for any more."""


class Examiner:
    """A thread that looks at versions in its own time, and leaves off where another version is shown."""

    def __init__(self, studio: Studio) -> None:
        self._studio = studio
        self._stop = threading.Event()
        self._fresh = threading.Event()
        self._warm: set[str] = set()
        """Effects that have been compiled here, so that the compiler is at hand when they are saved."""
        self._thread = threading.Thread(target=self._work, daemon=True, name="examiner")

    def start(self) -> None:
        """Begin to work."""
        self._thread.start()

    def shown(self) -> None:
        """Another version is shown."""
        self._fresh.set()

    def stop(self) -> None:
        """Stop working as soon as may be."""
        self._stop.set()
        self._fresh.set()

    def end(self, patience: float | None = None) -> bool:
        """Wait until what cannot be left off is done, ``patience`` seconds at most; whether it is."""
        self.stop()
        if self._thread.is_alive():
            self._thread.join(patience)
        return not self._thread.is_alive()

    def _work(self) -> None:
        with contextlib.suppress(OSError, AttributeError):
            os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), POLITE)
        while not self._stop.is_set():
            self._fresh.wait()
            self._fresh.clear()
            self._look(self._studio.shown)

    def _look(self, version: Version | None) -> None:
        if version is None:
            return
        while self._studio.store.left and not self._moved_on(0.05):
            pass
        if self._moved_on(SOON):
            return
        self._studio.tell_of(version, "findings", told.findings_of(version.scene) if not self._studio.effect else [])
        self._warm_up(version)
        if not self._moved_on(RESTS):
            with contextlib.suppress(LeftOffError):
                self._studio.tell_of(version, "limits", told.limits_of(version, self._go_on))

    def _go_on(self) -> None:
        """Leave off where another version is shown, or it is time to end."""
        if self._fresh.is_set() or self._stop.is_set():
            raise LeftOffError

    def _moved_on(self, seconds: float) -> bool:
        """Wait; whether another version is shown by then, or it is time to end."""
        return self._fresh.wait(seconds) or self._stop.is_set()

    def _warm_up(self, version: Version) -> None:
        """Compile the show's own effects once, of each what it takes and nothing to be kept."""
        from eavesong.kernels.store import object_of_sources
        from eavesong.language.emit import emit

        show = version.scene.show
        named = {show.cues[layer.cue.index].effect: layer for layer in version.scene.layers} if show else {}
        own = {name: layer for name, layer in named.items() if name.endswith(".toml")} or dict([*named.items()][:1])
        cold = own.keys() - self._warm
        for name in sorted(cold):
            if self._moved_on(0):
                return
            self._warm.add(name)
            object_of_sources(emit(own[name].program, own[name].cue.effect.title, own[name].cue.blend))
        if cold:
            gc.collect()
            gc.freeze()  # what is here by now stays: the collector need not look through it with every save
