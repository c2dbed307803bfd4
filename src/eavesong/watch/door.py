"""Who may ask what: hosts, origins, tokens, and what the page itself may load.

A page of another site, open in the same browser, can send requests to this machine. It cannot read the token in our
address; and where it makes a name of its own lead here (DNS rebinding), the ``Host`` header tells it.
"""

from __future__ import annotations

import hmac
import re
import secrets
from collections.abc import Awaitable, Callable, MutableMapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; media-src 'self'; "
    "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
"""Content Security Policy Level 3 (W3C): nothing from elsewhere, nothing inline, and in nobody's frame."""

HEADERS = (
    (b"content-security-policy", POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cache-control", b"no-store"),
)

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]


@dataclass(frozen=True)
class Keys:
    """The secrets in addresses: with one a page may turn and keep, with the other only look."""

    edit: str
    look: str

    def right_of(self, token: str) -> str:
        """``edit``, ``look`` or, for any other token, nothing; every token takes equally long."""
        found = [name for name in ("edit", "look") if hmac.compare_digest(token.encode(), getattr(self, name).encode())]
        return found[0] if found else ""


_TOKEN = re.compile(r"[A-Za-z0-9_-]{20,64}")


def keys_for(folder: Path | None) -> Keys:
    """Random keys, kept in ``folder`` so that a page finds the server again when that is started anew."""
    path = folder / "keys" if folder is not None else None
    if path is not None:
        try:
            words = path.read_text("ascii").split()
            if len(words) == 2 and all(_TOKEN.fullmatch(word) for word in words):
                return Keys(*words)
        except (OSError, ValueError):
            pass
    keys = Keys(secrets.token_urlsafe(18), secrets.token_urlsafe(18))
    if path is not None and folder is not None:
        try:
            folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            path.touch(mode=0o600, exist_ok=True)
            path.chmod(0o600)
            path.write_text(f"{keys.edit}\n{keys.look}\n")
        except OSError:
            pass  # the page has to be opened anew after the next start
    return keys


class Doorkeeper:
    """Lets through what comes with a known host, from no other site, with a token; sets the headers of answers."""

    def __init__(self, app: App, keys: Keys, hosts: set[str]) -> None:
        """hosts: what may stand in ``Host``: names or addresses, with the port."""
        self.app, self.keys, self.hosts = app, keys, hosts

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, or refuse."""
        if scope["type"] not in ("http", "websocket"):
            return
        if refused := self._refused(scope):
            await _refuse(scope, receive, send, *refused)
            return

        async def with_headers(message: MutableMapping[str, Any]) -> None:
            """Send a message on; a response gets the headers of this door."""
            if message["type"] == "http.response.start":
                own = [(name, value) for name, value in message.get("headers", []) if name.lower() != b"cache-control"]
                message["headers"] = [*own, *HEADERS]
            await send(message)

        await self.app(scope, receive, with_headers)

    def _refused(self, scope: Scope) -> tuple[int, str] | None:
        told = [(name.lower(), value.decode("latin-1")) for name, value in scope["headers"]]
        hosts = [value for name, value in told if name == b"host"]
        origins = [value for name, value in told if name == b"origin"]
        if len(hosts) != 1 or hosts[0].lower() not in self.hosts:
            return 421, "This address is not known here."
        if len(origins) > 1 or (origins and origins[0].lower() not in {f"http://{hosts[0].lower()}"}):
            return 403, "Another site may not ask this."
        if scope["type"] == "websocket" and not origins:
            return 403, "Who asks has to be told."
        if scope["type"] == "http" and scope["method"] not in ("GET", "HEAD"):
            return 405, "Nothing is sent here."
        token, slash, rest = scope["path"].removeprefix("/").partition("/")
        right = self.keys.right_of(token)
        if not right:
            return 404, "There is nothing here. Open the address that eavesong printed, all of it."
        if not slash:
            return 404, "There is nothing here. The address ends with a slash."
        scope["state"] = {"may_edit": right == "edit"}
        scope["path"], scope["raw_path"] = f"/{rest}", b""
        return None


async def _refuse(scope: Scope, receive: Receive, send: Send, status: int, why: str) -> None:
    if scope["type"] == "websocket":
        await receive()
        await send({"type": "websocket.close", "code": 4403, "reason": why})
        return
    headers = [(b"content-type", b"text/plain; charset=utf-8"), *HEADERS]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": why.encode()})
