"""What is served, over real sockets: to whom, and what strangers can do with it."""

import asyncio
import contextlib
import json
import posixpath
import re
import struct
import threading
import urllib.error
import urllib.request
from socket import SO_LINGER, SOL_SOCKET, create_connection

import pytest
import uvicorn
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from websockets.exceptions import ConnectionClosed, InvalidHandshake
from websockets.sync.client import connect

from eavesong.watch.door import Doorkeeper, Keys
from eavesong.watch.run import settings_of
from eavesong.watch.server import HEAD, MOST_PAGES, Pages, static_files
from watched import SHOW, free_port, until

KEYS = Keys("e" * 24, "l" * 24)


@pytest.fixture
def served(studio):
    """The address of a studio that is served, as host and port."""
    port = free_port()
    pages = Pages(studio, lambda: {})
    server = uvicorn.Server(settings_of(Doorkeeper(pages.app(), KEYS, {f"127.0.0.1:{port}"}), port=port))
    thread = threading.Thread(target=lambda: asyncio.run(server.serve()), daemon=True)
    thread.start()
    until(lambda: server.started)
    yield f"127.0.0.1:{port}"
    server.should_exit = True
    thread.join(timeout=120)


def get(served, path, token=KEYS.edit, **headers):
    request = urllib.request.Request(f"http://{served}/{token}/{path}", headers=headers)
    try:
        with urllib.request.urlopen(request) as answer:
            return answer.status, answer.read(), answer.headers
    except urllib.error.HTTPError as fault:
        return fault.code, fault.read(), fault.headers


def socket(served, token=KEYS.edit, origin=None):
    return connect(f"ws://{served}/{token}/live", origin=origin or f"http://{served}", max_size=None)


def told(link, name):
    """The first value of a part that comes over a socket."""
    while True:
        message = link.recv(timeout=120)
        if isinstance(message, str) and name in (parts := json.loads(message).get("parts", {})):
            return parts[name]


def test_the_page_its_scripts_and_its_song(served, tmp_path):
    status, page, headers = get(served, "")
    assert (status, headers["content-type"]) == (200, "text/html; charset=utf-8")
    assert b"<script" in page
    assert get(served, "page/main.js")[2]["content-type"] == "text/javascript; charset=utf-8"
    assert get(served, "draw/stage.js")[0] == 200
    with socket(served) as link:
        name = told(link, "song")["audio"]
    song = (tmp_path / "song.wav").read_bytes()
    assert get(served, f"song/{name}")[:2] == (200, song)
    status, part, headers = get(served, f"song/{name}", Range="bytes=10-19")
    assert (status, part, headers["content-range"]) == (206, song[10:20], f"bytes 10-19/{len(song)}")
    assert get(served, f"song/{name}", Range=f"bytes={len(song)}-")[0] == 416
    (tmp_path / "song.wav").unlink()
    assert get(served, f"song/{name}")[1] == song  # a page plays on whatever becomes of the file


def test_a_page_names_all_modules_it_needs():
    """So that they come at once, not one after the other as each is found to need the next."""
    files = {name.removeprefix("/"): data.decode() for name, (data, _) in static_files().items()}
    needed, left = set(), ["page/main.js"]
    while left:
        name = left.pop()
        found = re.findall(r'^(?:import|export) .*from "(.+)";$', files[name], flags=re.M)
        fresh = {posixpath.normpath(posixpath.join(posixpath.dirname(name), other)) for other in found} - needed
        needed |= fresh
        left += fresh
    named = set(re.findall(r'<link rel="modulepreload" href="(.+)">', files[""]))
    assert named == needed - {"page/main.js"}


def test_a_frame_comes_before_its_block_where_the_song_stands(served, studio):
    """Uncompressed, with the number of its version, after a knob is turned."""
    with socket(served) as link:
        told(link, "song")
        link.send('{"do": "look", "at": 3, "blocks": [3], "before": false, "frame": 61}')
        until(lambda: studio.frames_seen() == {61})
        link.send('{"do": "turn", "cue": 0, "knob": "opacity", "value": 0.1}')
        while not isinstance(message := link.recv(timeout=120), bytes) or not message[11]:
            pass
    index, first, frames, before, still, version = HEAD.unpack(message[: HEAD.size])
    assert (index, first, frames, before, still) == (3, 61, 1, 0, 1)
    until(lambda: studio.shown.scene.cues[0].opacity == 0.1)
    assert version == studio.parts["progress"]["version"]
    assert message[HEAD.size :] == studio.shown.frames(61, 1).tobytes()


def test_a_palette_is_chosen_among_those_that_have_a_name(served, studio):
    with socket(served) as link:
        assert {"dusk", "frost"} <= set(told(link, "palettes"))
        link.send('{"do": "turn", "cue": 0, "knob": "palette", "value": "of no name"}')
        link.send('{"do": "turn", "cue": 0, "knob": "palette", "value": "dusk"}')
        until(lambda: studio.edits.turns)
    assert [turn.value for turn in studio.edits.turns] == ["dusk"]


@pytest.mark.parametrize(
    "path", ["two.show.toml", "song/song.wav", "song/..%2fsong.wav", "draw/../../page.py", "%2e%2e/%2e%2e/etc/passwd",
             "page/index.html%00", "//etc/passwd", "draw/page.html"],
)  # fmt: skip
def test_no_path_from_a_page_is_opened(served, path):
    assert get(served, path)[0] == 404


def test_nobody_without_the_token(served):
    assert get(served, "", token="x" * 24)[0] == 404
    with pytest.raises(InvalidHandshake):
        socket(served, token="x" * 24)


def test_no_other_site(served):
    assert get(served, "", Origin="http://evil.example")[0] == 403
    assert get(served, "", Host="evil.example")[0] == 421
    with pytest.raises(InvalidHandshake):
        socket(served, origin="http://evil.example")


def test_with_the_second_token_one_can_only_look(served, studio):
    with socket(served, KEYS.look) as link:
        assert not json.loads(link.recv())["hello"]["edit"]
        link.send('{"do": "turn", "cue": 0, "knob": "opacity", "value": 0.1}')
        while not (
            said := json.loads(message).get("said") if isinstance(message := link.recv(timeout=120), str) else 0
        ):
            pass
    assert said == ["This address only shows: nothing can be turned from here."]
    assert not studio.edits.turns


def test_blocks_come_as_they_are_wanted_and_only_once(served, studio):
    with socket(served) as link:
        link.send('{"do": "look", "at": 3, "blocks": [3, 4], "before": false}')
        came = []
        with contextlib.suppress(TimeoutError):
            while True:
                message = link.recv(timeout=1 if {3, 4} <= set(came) else 120)
                if isinstance(message, bytes):
                    came.append(int.from_bytes(message[:4], "little"))
    assert {3, 4} <= set(came)
    assert len(came) == len(set(came))


def test_of_a_block_that_a_page_has_only_tiles_that_changed_come(served, studio, tmp_path):
    """On a house of two tiles: a cue on the second one is turned, and that tile comes alone, after the whole block."""
    from eavesong.kernels.exact import TILE

    house = tmp_path / "house.toml"
    house.write_text(house.read_text().replace("pixels = 100", "pixels = 600"))
    (tmp_path / "two.show.toml").write_text(SHOW.replace('on = "roofline"', 'on = "old oak"'))
    studio.saved_again()
    until(lambda: studio.shown.scene.layout.pixel_count == 1300 and not studio.store.left)
    with socket(served) as link:
        link.send('{"do": "look", "at": 0, "blocks": [0], "before": false}')
        assert tiles_of(link) == [0, 1]
        link.send('{"do": "turn", "cue": 0, "knob": "opacity", "value": 0.1}')
        assert tiles_of(link) == [1]
    assert studio.shown.scene.layers[0].tiles.tolist() == [1260 // TILE]


def tiles_of(link):
    """The tiles of block 0 that come next; what comes of other blocks was asked for before."""
    while not isinstance(message := link.recv(timeout=120), bytes) or HEAD.unpack(message[: HEAD.size])[0]:
        pass
    count, *tiles = struct.unpack_from(f"<{1 + struct.unpack_from('<H', message, HEAD.size)[0]}H", message, HEAD.size)
    assert count == len(tiles)
    return tiles


def test_pages_that_vanish_leave_room_for_others(served):
    """Connections that are reset, without a word (RFC 9293, section 3.5.2), more of them than pages may be open."""
    for _ in range(MOST_PAGES + 2):
        link = socket(served)
        link.socket.setsockopt(SOL_SOCKET, SO_LINGER, struct.pack("ii", 1, 0))
        link.socket.close()
    with socket(served) as link:
        assert told(link, "song")["frames"] == 320


@settings(max_examples=30, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(sent=st.binary(max_size=2000), upgraded=st.booleans())
def test_bytes_that_are_no_messages_at_all(served, sent, upgraded):
    """Neither as a request nor on a socket that has been opened as it should be."""
    host, port = served.split(":")
    wish = (
        f"GET /{KEYS.edit}/live HTTP/1.1\r\nHost: {served}\r\nOrigin: http://{served}\r\nUpgrade: websocket\r\n"
        "Connection: Upgrade\r\nSec-WebSocket-Version: 13\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n"
    )  # the key is that of RFC 6455, section 1.3
    with create_connection((host, int(port)), timeout=120) as link, contextlib.suppress(OSError):
        if upgraded:
            link.sendall(wish.encode())
            assert link.recv(4096).startswith(b"HTTP/1.1 101")
        link.sendall(sent)
    assert get(served, "page/link.js")[0] == 200


KNOBS = st.sampled_from(["opacity", "palette.0", "parameters.x", "fade_in", "../x"])
MESSAGES = st.text(max_size=200) | st.binary(max_size=200) | st.fixed_dictionaries(
    {"do": st.sampled_from(["look", "turn", "keep", "undo", "letgo", "x"])},
    optional={"at": st.integers(), "blocks": st.lists(st.integers(-5, 99), max_size=70), "before": st.booleans(),
              "cue": st.integers(-3, 5), "knob": KNOBS,
              "value": st.floats() | st.text(max_size=9) | st.just("#ff0000")},
).map(json.dumps)  # fmt: skip


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(messages=st.lists(MESSAGES, max_size=8))
def test_whatever_is_sent_the_studio_goes_on(served, studio, tmp_path, messages):
    with contextlib.suppress(ConnectionClosed), socket(served) as link:
        for message in messages:
            link.send(message)
    with socket(served) as link:
        assert told(link, "song")["frames"] == 320
    assert (tmp_path / "two.show.toml").is_file()


@pytest.mark.parametrize(("messages", "code"), [(["no"] * 30, 1008), (["x" * 100_000], 1009)])
def test_a_stranger_is_cut_off(served, messages, code):
    """After twenty messages without sense, and at one that is too large (RFC 6455, section 7.4.1)."""

    def send_and_read(link):
        for message in messages:
            link.send(message)
        while True:
            link.recv(timeout=120)

    with socket(served) as link, pytest.raises(ConnectionClosed) as closed:
        send_and_read(link)
    assert closed.value.rcvd.code == code
