"""Who is let in: only somebody with the token, under a name of ours, from no other site."""

import asyncio
import re
from concurrent.futures import ThreadPoolExecutor

import pytest

from eavesong.watch.door import POLICY, Doorkeeper, Keys, keys_for

KEYS = Keys("e" * 24, "l" * 24)
HERE = "127.0.0.1:8137"


def ask(path, *headers, kind="http", method="GET"):
    """What the guard answers: status (or close code), headers, and the state that reaches the app."""
    reached, sent = [], []

    async def app(scope, receive, send):
        reached.append(dict(scope))
        await send({"type": "http.response.start", "status": 200, "headers": []})

    async def receive():
        return {"type": "websocket.connect"}

    async def send(message):
        sent.append(message)

    scope = {"type": kind, "path": path, "method": method, "headers": [(n.encode(), v.encode()) for n, v in headers]}
    # In a thread of its own: a browser of other tests may keep a loop running in this one.
    with ThreadPoolExecutor(1) as pool:
        pool.submit(asyncio.run, Doorkeeper(app, KEYS, {HERE, "localhost:8137"})(scope, receive, send)).result()
    return sent[0].get("status", sent[0].get("code")), dict(sent[0].get("headers", [])), reached


@pytest.mark.parametrize(("token", "may"), [(KEYS.edit, True), (KEYS.look, False)])
def test_a_token_opens_the_door(token, may):
    status, headers, (scope,) = ask(f"/{token}/page/main.js", ("host", HERE))
    assert status == 200
    assert scope["path"] == "/page/main.js"
    assert scope["state"] == {"may_edit": may}
    assert headers[b"content-security-policy"].decode() == POLICY


@pytest.mark.parametrize(
    ("path", "headers", "status"),
    [
        ("/", [("host", HERE)], 404),
        (f"/{'e' * 23}x/", [("host", HERE)], 404),
        (f"/{KEYS.edit}", [("host", HERE)], 404),
        (f"/{KEYS.edit}/", [("host", "evil.example:8137")], 421),
        (f"/{KEYS.edit}/", [], 421),
        (f"/{KEYS.edit}/", [("host", HERE), ("host", HERE)], 421),
        (f"/{KEYS.edit}/", [("host", HERE), ("origin", "http://evil.example")], 403),
        (f"/{KEYS.edit}/", [("host", HERE), ("origin", "null")], 403),
        (f"/{KEYS.edit}/", [("host", HERE), ("origin", "http://localhost:8137")], 403),
    ],
)
def test_nobody_else_is_let_in(path, headers, status):
    """A wrong or missing token, a name that leads here from elsewhere (DNS rebinding), another site's page."""
    assert (ask(path, *headers)[0], ask(path, *headers)[2]) == (status, [])


def test_sockets_say_where_they_come_from():
    """A browser always tells the origin of a web socket (RFC 6455, section 10.2)."""
    assert ask(f"/{KEYS.edit}/live", ("host", HERE), kind="websocket")[0] == 4403
    assert ask(f"/{KEYS.edit}/live", ("host", HERE), ("origin", f"http://{HERE}"), kind="websocket")[2]
    assert ask(f"/{KEYS.edit}/live", ("host", HERE), ("origin", "https://evil.example"), kind="websocket")[2] == []


def test_nothing_is_sent_but_on_the_socket():
    assert ask(f"/{KEYS.edit}/", ("host", HERE), method="POST")[0] == 405


def test_the_policy_lets_nothing_from_elsewhere_in():
    """CSP Level 3: no inline code or style, no eval, no other host."""
    assert POLICY.startswith("default-src 'none'")
    assert not re.search(r"unsafe|https?:|\*|blob:", POLICY)


def test_keys_are_random_and_kept_for_the_next_start(tmp_path):
    first, again = keys_for(tmp_path / "a"), keys_for(tmp_path / "a")
    assert first == again
    assert keys_for(tmp_path / "b") != first
    assert len({first.edit, first.look}) == 2
    assert min(len(first.edit), len(first.look)) >= 22  # 128 bits and more in Base64
    assert (tmp_path / "a" / "keys").stat().st_mode & 0o077 == 0


def test_keys_that_were_tampered_with_are_made_anew(tmp_path):
    (tmp_path / "keys").write_text("a b")
    assert len(keys_for(tmp_path).edit) >= 22
