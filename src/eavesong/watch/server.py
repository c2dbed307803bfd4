"""What is served: the page, its scripts, the song, and the socket on which everything that changes is told."""

from __future__ import annotations

import asyncio
import contextlib
import json
import struct
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route, WebSocketRoute
from starlette.websockets import WebSocket, WebSocketDisconnect

from eavesong import preview
from eavesong.files import content_hash
from eavesong.watch.blocks import END
from eavesong.watch.messages import Look, Misread, read_message
from eavesong.watch.song import SongShelf
from eavesong.watch.version import BLOCK, near_first

if TYPE_CHECKING:
    from eavesong.watch.blocks import Block
    from eavesong.watch.studio import Glimpse, Studio

DRAW = Path(str(preview.__file__)).parent / "page_files"
PAGE = Path(__file__).parent / "page_files"
KINDS = {".js": "text/javascript", ".css": "text/css", ".html": "text/html", ".svg": "image/svg+xml"}
LARGEST_MESSAGE = 16_384
"""Bytes of a message from a page."""
MOST_MISREAD = 20
"""Messages that make no sense, after which a page is no longer listened to."""
MOST_PAGES = 24
"""Pages that are open at once."""
Held = tuple[tuple[int, int], tuple[bytes, ...]]
"""What a page has of a block: pixels of the house and frames of the song, and the names of its pieces."""
HEAD = struct.Struct("<IIHBBI")
"""What stands before light: block, first frame, frames, whether it is of the version before, whether it is one frame as
it is, version. Else a block's tiles follow: how many, which, and their light one after the other, deflated (RFC 1951)
as one stream."""


def static_files() -> dict[str, tuple[bytes, str]]:
    """The page's files by the path they are asked for with: read once, so that no path from a page is ever opened."""
    files = {f"/draw/{path.name}": path for path in DRAW.glob("*.js")} | {"/draw/style.css": DRAW / "style.css"}
    files |= {f"/page/{path.name}": path for path in PAGE.iterdir() if path.suffix in KINDS}
    served = {name: (path.read_bytes(), KINDS[path.suffix]) for name, path in sorted(files.items())}
    served["/"] = served.pop("/page/index.html")
    return served


class Pages:
    """Every page that is open, and what it has been told."""

    def __init__(self, studio: Studio, start: Callable[[], dict[str, Any]]) -> None:
        """start: where the page begins: what ``--at`` and ``--loop`` ask for."""
        self.studio, self.start = studio, start
        self.open: set[OpenPage] = set()
        self.files = static_files()
        self.made_of = content_hash(*(data for data, _ in self.files.values()))
        """Tells a page that is open whether it is still what is served."""
        self.songs = SongShelf()
        self._loop: asyncio.AbstractEventLoop | None = None
        studio.changed = self.changed
        studio.frames_seen = self.frames_seen
        studio.store.looked_at(self.looked_at)

    def changed(self) -> None:
        """Something is to be told; from any thread."""
        if self._loop is not None and not self._loop.is_closed():
            with contextlib.suppress(RuntimeError):
                self._loop.call_soon_threadsafe(self._wake)

    def _wake(self) -> None:
        for page in self.open:
            page.wake.set()

    def looked_at(self) -> tuple[int, list[int]]:
        """The block that is heard, and every block that some page wants."""
        looks = [page.look for page in tuple(self.open)]
        if not looks:
            return self.first_block(), list(range(self.first_block(), self.first_block() + 4))
        return looks[-1].at, [index for look in looks for index in look.blocks]

    def frames_seen(self) -> set[int]:
        """The frames that pages show where the song stands still."""
        return {page.look.frame for page in tuple(self.open) if page.look.frame >= 0 and not page.look.before}

    def first_block(self) -> int:
        """The block that a page begins with."""
        placed = self.studio.placed
        return int(self.start().get("at", 0.0) * placed.scene.frame_rate) // BLOCK if placed is not None else 0

    def app(self) -> Starlette:
        """What answers requests that the guard lets through."""
        return Starlette(routes=[
            Route("/song/{name}", self._song), WebSocketRoute("/live", self._live), Route("/{path:path}", self._file),
        ])  # fmt: skip

    async def _file(self, request: Request) -> Response:
        if request.url.path == "/photo":
            return await asyncio.to_thread(self._photo)
        found = self.files.get(request.scope["path"])
        if found is None:
            return PlainTextResponse("There is nothing here.", 404)
        return Response(found[0], media_type=found[1])

    def _photo(self) -> Response:
        placed = self.studio.placed
        layout = placed.scene.layout if placed else None
        if layout is None or not layout.photo or not layout.path:
            return PlainTextResponse("There is no photo.", 404)
        from eavesong.preview.photo import opened_if_any, small_jpeg

        photo = opened_if_any(Path(layout.path).parent / layout.photo)
        if photo is None:
            return PlainTextResponse("There is no photo.", 404)
        return Response(small_jpeg(photo), media_type="image/jpeg")

    async def _song(self, request: Request) -> Response:
        placed = self.studio.placed
        scene = placed.scene if placed else None
        if scene is None or scene.song is None:
            return PlainTextResponse("There is no song.", 404)
        digest = scene.hashes.get("audio", "")
        found = await asyncio.to_thread(self.songs.get, request.path_params["name"], digest, scene.song)
        if found is None:
            return PlainTextResponse("There is no such song.", 404)
        return _part_of(*found, request.headers.get("range", ""))

    async def _live(self, socket: WebSocket) -> None:
        self._loop = asyncio.get_running_loop()
        if len(self.open) >= MOST_PAGES:
            await socket.close(1013)
            return
        await socket.accept()
        page = OpenPage(self, socket, bool(socket.state.may_edit))
        self.open.add(page)
        try:
            await page.run()
        finally:
            self.open.discard(page)


class OpenPage:
    """One page: what it looks at, what it has, and the two ways of its socket."""

    def __init__(self, pages: Pages, socket: WebSocket, may_edit: bool) -> None:
        self.pages, self.socket, self.may_edit = pages, socket, may_edit
        first = pages.first_block()
        self.look = Look(first, tuple(range(first, first + 4)), False)
        self.wake = asyncio.Event()
        self._told: dict[str, Any] = {}
        self._has: dict[tuple[int, bool], Held] = {}
        self._still: Glimpse | None = None
        self._answers: list[str] = []

    async def run(self) -> None:
        """Until the page is gone."""
        ways = [asyncio.create_task(self._listen()), asyncio.create_task(self._speak())]
        try:
            done, _ = await asyncio.wait(ways, return_when=asyncio.FIRST_COMPLETED)
            for task in done:
                if (fault := task.exception()) and not isinstance(fault, WebSocketDisconnect | RuntimeError):
                    raise fault
        finally:
            for task in ways:
                task.cancel()
            await asyncio.gather(*ways, return_exceptions=True)
            with contextlib.suppress(RuntimeError):
                await self.socket.close()

    async def _listen(self) -> None:
        misread = 0
        while misread < MOST_MISREAD:
            message = await self.socket.receive()
            if message["type"] == "websocket.disconnect":
                return
            try:
                self._obey(read_message(message.get("text") or ""))
            except Misread:
                misread += 1
        await self.socket.close(1008)

    def _obey(self, message: Any) -> None:
        if isinstance(message, Look):
            wanted = {(index, message.before) for index in message.blocks}
            self._has = {key: name for key, name in self._has.items() if key in wanted}
            self.look = message
            self.pages.studio.store.poke()
            self.wake.set()
        elif not self.may_edit:
            self._answer("This address only shows: nothing can be turned from here.")
        elif isinstance(message, str):
            loop = asyncio.get_running_loop()

            def answer(said: str) -> None:
                """Send the page a line, from any thread."""
                with contextlib.suppress(RuntimeError):  # the page is gone
                    loop.call_soon_threadsafe(self._answer, said)

            self.pages.studio.ask(message, answer)
        else:
            usual = self._palette_of(message.cue) if message.knob.startswith("palette.") else ()
            if message.knob != "palette" or message.value in self.pages.studio.parts.get("palettes", ()):
                self.pages.studio.turn(type(message)(message.cue, message.knob, message.value, usual))

    def _palette_of(self, cue: int) -> tuple[str, ...]:
        part = self.pages.studio.parts.get(f"cue/{cue}")
        return tuple(part["palette"]["colours"]) if part else ()

    def _answer(self, said: str) -> None:
        if said:
            self._answers.append(said)
        self.wake.set()

    async def _speak(self) -> None:
        await self._send({"hello": {"made": self.pages.made_of, "edit": self.may_edit}})
        while True:
            self.wake.clear()
            await self._tell_parts()
            await self._show_still()
            while (found := await self._next_block()) is not None:
                index, before, block, tiles, held = found
                self._has[index, before] = held
                version = self.pages.studio.parts.get("progress", {}).get("version", 0)
                head = HEAD.pack(index, block.first, block.frames, before, 0, version)
                named = struct.pack(f"<{len(tiles) + 1}H", len(tiles), *tiles)
                await self.socket.send_bytes(b"".join([head, named, *(block.pieces[at].data for at in tiles), END]))
                await self._tell_parts()
                await self._show_still()
            await self.wake.wait()

    async def _show_still(self) -> None:
        still = self.pages.studio.stills.get(self.look.frame)
        if still is not None and still is not self._still and not self.look.before:
            self._still = still
            index = still.frame // BLOCK
            await self.socket.send_bytes(HEAD.pack(index, still.frame, 1, 0, 1, still.version) + still.light)

    async def _tell_parts(self) -> None:
        parts = self.pages.studio.parts
        fresh = {name: value for name, value in parts.items() if self._told.get(name) is not value}
        gone = [name for name in self._told if name not in parts]
        answers, self._answers = self._answers, []
        if fresh or gone or answers:
            start = self.pages.start() if "song" in fresh else {}
            self._told = parts
            await self._send({"parts": fresh, "gone": gone, "said": answers, "start": start})

    async def _next_block(self) -> tuple[int, bool, Block, list[int], Held] | None:
        """The block that the page wants most and does not have as it looks now: which tiles of it, and what it has
        with those."""
        shown, look = self.pages.studio.shown, self.look
        if shown is None:
            return None
        size = shown.scene.layout.pixel_count, shown.frame_count
        for index in near_first(shown.block_count, look.at, look.blocks):
            if look.before:
                block = await asyncio.to_thread(self.pages.studio.block, index, True)
            else:
                block = self.pages.studio.block(index, False)
            if block is None or look is not self.look:
                continue
            had, names = self._has.get((index, look.before), ((0, 0), ()))
            names = names if had == size else ()
            if tiles := [at for at, name in enumerate(block.names) if name not in names[at : at + 1]]:
                return index, look.before, block, tiles, (size, block.names)
        return None

    async def _send(self, message: dict[str, Any]) -> None:
        await self.socket.send_text(json.dumps(message, separators=(",", ":"), ensure_ascii=False))


def _part_of(data: bytes, kind: str, asked: str) -> Response:
    """The whole, or the part that a ``Range`` header asks for (RFC 9110, section 14)."""
    begin, end, size = 0, len(data) - 1, len(data)
    if asked.startswith("bytes=") and "," not in asked:
        first, _, last = asked.removeprefix("bytes=").partition("-")
        try:
            begin = int(first) if first else max(0, size - int(last))
            end = min(int(last), size - 1) if first and last else size - 1
        except ValueError:
            return Response(status_code=416, headers={"content-range": f"bytes */{size}"})
        if not 0 <= begin <= end:
            return Response(status_code=416, headers={"content-range": f"bytes */{size}"})
        headers = {"content-range": f"bytes {begin}-{end}/{size}", "accept-ranges": "bytes"}
        return Response(data[begin : end + 1], 206, headers, media_type=kind)
    return Response(data, headers={"accept-ranges": "bytes"}, media_type=kind)
