"""Watching the folders that a show's files lie in: a word for every save, and none for what is not its own."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path

from eavesong.watch.reading import Reader

STEP = 8
"""Milliseconds of quiet after which a save is told; after DEBOUNCE at the latest."""
DEBOUNCE = 40
HEARTBEAT = 700
"""Milliseconds after which files are looked at anyway: some disks (those of other machines) tell nothing."""


class Watcher:
    """A thread that says when files of a show may have been saved."""

    def __init__(self, reader: Reader, saved: Callable[[], None]) -> None:
        """saved: called from the thread."""
        self._reader, self._saved = reader, saved
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._watch, daemon=True, name="files")

    def start(self) -> None:
        """Begin to watch."""
        self._thread.start()

    def end(self) -> None:
        """Stop watching."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join()

    def _watch(self) -> None:
        while not self._stop.is_set():
            try:
                if folders := self._folders():
                    self._listen(folders)
                else:
                    self._stop.wait(HEARTBEAT / 1000)
            except (OSError, RuntimeError):  # a folder went away, or the system listens to no more of them
                self._stop.wait(0.1)
            self._compare()

    def _folders(self) -> set[Path]:
        return {folder for folder in self._reader.folders() if folder.is_dir()}

    def _listen(self, folders: set[Path]) -> None:
        """Listen to ``folders`` until others are to be watched."""
        from watchfiles import watch

        for changes in watch(
            *folders, stop_event=self._stop, yield_on_timeout=True, raise_interrupt=False, watch_filter=None,
            debounce=DEBOUNCE, step=STEP, rust_timeout=HEARTBEAT, recursive=False,
        ):  # fmt: skip
            names = {path.name for path in self._reader.read}
            # A file that is saved twice within a tick of the clock looks as it did: a word from the system counts.
            if any(Path(path).name in names for _, path in changes):
                self._saved()
            else:
                self._compare()
            if self._folders() != folders:
                return

    def _compare(self) -> None:
        if self._reader.outdated():
            self._saved()
