"""The whole of it: a studio, a watcher of files, a server, and a browser that is sent there."""

from __future__ import annotations

import asyncio
import contextlib
import os
import signal
import socket
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

from eavesong.errors import EavesongError, OutputError, Problem
from eavesong.files import content_hash, user_cache
from eavesong.watch.studio import Studio
from eavesong.watch.told import findings_of, limits_of

if TYPE_CHECKING:
    from eavesong.music import BeatGrid
    from eavesong.scene import Order

PORT = 8137
LONGEST = 2.0
"""Seconds that the end waits for what cannot be left off, such as a song that is listened to; twice that at most."""
PATIENCE = 0.001
"""Seconds after which a thread that works lets another one have its turn: pages are answered while much is read."""
TRIED = 20
"""Ports that are tried where nobody asked for one."""


@dataclass(frozen=True)
class Serving:
    """What somebody asked for besides the show and the house."""

    at: Callable[[BeatGrid], float | None] | None = None
    """Where in the song the page begins, in seconds; None for a bar that the song does not have."""
    loop: Callable[[BeatGrid], tuple[float, float] | None] | None = None
    """The seconds that are repeated."""
    port: int | None = None
    lan: bool = False
    lan_edit: bool = False
    browser: bool = True


def watch(order: Order, serving: Serving, say: Callable[[str], None], effect: Path | None = None) -> None:
    """Serve the live page of ``order`` until somebody interrupts. effect: the file of one that is shown by itself.

    say: is given what a person should read. Raises OutputError where the port that was asked for is taken.
    """
    from eavesong.watch.door import Doorkeeper, keys_for
    from eavesong.watch.files import Watcher
    from eavesong.watch.lan import addresses, qr_code
    from eavesong.watch.server import Pages

    sys.setswitchinterval(PATIENCE)
    edited = os.path.realpath(effect or order.show)
    keys = keys_for(user_cache() / "watch" / content_hash(edited)[:24])
    own = addresses() if serving.lan or serving.lan_edit else []
    with contextlib.closing(listening(serving.port, "0.0.0.0" if own else "127.0.0.1")) as listener:
        port = listener.getsockname()[1]
        studio = Studio(order, effect=effect)
        watcher = Watcher(studio.reader, studio.saved_again)
        try:
            pages = Pages(studio, lambda: start_of(studio, serving))
            hosts = {f"{name}:{port}" for name in ("127.0.0.1", "localhost", *own)}
            studio.start()
            watcher.start()
            here = f"http://127.0.0.1:{port}/{keys.edit}/"
            asked = _heard()
            say(f"Watching {(effect or Path(order.show)).name}: {here}")
            for address in own[:1]:
                there = f"http://{address}:{port}/{keys.edit if serving.lan_edit else keys.look}/"
                say(f"In the home network, {'to turn and keep too' if serving.lan_edit else 'to look only'}: {there}")
                say(qr_code(there))
            if (serving.lan or serving.lan_edit) and not own:
                say("No home network was found, so this machine alone is served.")
            say("Ctrl-C ends it.")
            if serving.browser:
                _open(here)
            _serve(Doorkeeper(pages.app(), keys, hosts), listener, asked)
        except (KeyboardInterrupt, SystemExit):  # before the address was told
            pass
        finally:
            _deafen()  # for good: the command is over
            watcher.end()
            if not studio.end(LONGEST) and sys.exc_info()[0] is None:
                say("Closed.")
                _leave()
    say("Closed.")


def _leave() -> NoReturn:
    """End the process without what an interpreter does at its end: threads that compile would not live through it."""
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(0)


@contextlib.contextmanager
def _undisturbed() -> Iterator[None]:
    """Within, SIGINT and SIGTERM are not heard."""
    before = _deafen()
    try:
        yield
    finally:
        for number, handler in before:
            signal.signal(number, handler)


def _heard() -> list[int]:
    """The signals that ask for an end, as they come from now on. None is raised: what imports modules meanwhile, as the
    server does, may swallow an exception."""
    asked: list[int] = []
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, lambda number, frame: asked.append(number))
    return asked


def _deafen() -> list[tuple[int, Any]]:
    """From now on, SIGINT and SIGTERM are not heard: a process that ends while one of its threads compiles ends badly.

    Gives what listened to them.
    """
    return [(number, signal.signal(number, signal.SIG_IGN)) for number in (signal.SIGINT, signal.SIGTERM)]


def start_of(studio: Studio, serving: Serving) -> dict[str, Any]:
    """What the page begins with, in seconds of the song."""
    placed = studio.placed
    if placed is None:
        return {}
    grid = placed.scene.grid
    start: dict[str, Any] = {}
    if serving.at and (at := serving.at(grid)) is not None:
        start["at"] = at
    if serving.loop and (loop := serving.loop(grid)) is not None and loop[0] < loop[1]:
        start["loop"] = list(loop)
        start.setdefault("at", loop[0])
    return start


def once(order: Order, effect: Path | None = None, say: Callable[[str], None] = lambda text: None) -> int:
    """Render the whole show once, as the page would show it; the number of findings, which are told. Raises as
    `make_scene`. Of an effect by itself nothing is found."""
    began = time.perf_counter()
    studio = Studio(order, effect=effect)
    try:
        studio.start(looks_twice=False)
        while "faults" not in studio.parts or studio.store.left or studio.shown is None:
            if studio.parts.get("faults"):
                raise EavesongError(Problem(*(told[key] for key in ("file", "place", "found", "instead")))
                                    for told in studio.parts["faults"])  # fmt: skip
            time.sleep(0.01)
        shown = studio.shown
        findings = [*findings_of(shown.scene, glance=True), *limits_of(shown)] if effect is None else []
        for found in findings:
            where = f"{found['place']}: " if found["place"] else ""
            say(f"{where}{found['found']}. {found['instead']}".rstrip())
        seconds = time.perf_counter() - began
        say(f"{shown.frame_count:,} frames of {shown.scene.layout.pixel_count:,} pixels in {seconds:.1f} s")
        return len(findings)
    finally:
        with _undisturbed():
            studio.end()


def listening(port: int | None, host: str) -> socket.socket:
    """A socket that listens on ``port``, or on the first free one from PORT on where that is None.

    Raises OutputError where the port that was asked for is taken.
    """
    for tried in [port] if port is not None else range(PORT, PORT + TRIED):
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((host, tried))
            listener.listen(64)
            return listener
        except OSError as fault:
            listener.close()
            why = fault.strerror or str(fault)
    found = f"port {port or f'{PORT} to {PORT + TRIED - 1}'} cannot be listened on: {why}"
    raise OutputError(Problem("", "", found, f"Name another, like --port {(port or PORT) + TRIED + 1}."))


def _open(address: str) -> None:
    import threading
    import webbrowser

    threading.Thread(target=lambda: webbrowser.open(address), daemon=True).start()


def _serve(app: Any, listener: socket.socket, asked: list[int]) -> None:
    """Serve until a signal has ``asked`` for an end; what has been begun ends within a second."""
    import uvicorn

    class Server(uvicorn.Server):
        """One that the command tells when to end."""

        @contextlib.contextmanager
        def capture_signals(self) -> Iterator[None]:
            """Leave signals alone: the command hears them itself."""
            yield

        async def on_tick(self, counter: int) -> bool:
            """Whether to end, which it does once that was asked."""
            self.should_exit = self.should_exit or bool(asked)
            return await super().on_tick(counter)

    asyncio.run(Server(settings_of(app)).serve(sockets=[listener]))


def settings_of(app: Any, port: int = 0) -> Any:
    """How uvicorn serves ``app``: silently, with bounded messages, and without waiting for pages at the end.

    port: of this machine alone; where a socket is given to serve on, none.
    """
    import uvicorn

    from eavesong.watch.server import LARGEST_MESSAGE

    return uvicorn.Config(
        app, host="127.0.0.1", port=port, log_level="critical", access_log=False, lifespan="off", server_header=False,
        date_header=False, ws="websockets-sansio", ws_max_size=LARGEST_MESSAGE, ws_per_message_deflate=False,
        ws_ping_interval=20, timeout_graceful_shutdown=1, h11_max_incomplete_event_size=16_384, limit_concurrency=200,
    )  # fmt: skip
