"""The door in front of the whole server: pages, pictures by address, uploads, counters and live connections.

On this computer it stands open. From the network nothing passes it without a pass, which the passphrase
gives, or the one-time word in the code that the program shows when it starts. A page of somebody else's is
turned away before anything looks at where it came from. An ASGI application around another (ASGI 3.0).
"""

from __future__ import annotations

import asyncio
import hashlib
import hmac
import threading
import time
from collections.abc import Awaitable, Callable, MutableMapping
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie
from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qs, urlsplit

from defectmap.errors import DefectmapError
from defectmap.pages.entry_page import entry_page
from defectmap.pages.passphrase import PASS_S, SETTING, PassphraseError, fits, is_pass, make_pass
from defectmap.pages.tries import Tries
from defectmap.record.notes import setting

if TYPE_CHECKING:
    from defectmap.record.store import Store

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
Application = Callable[[Scope, Receive, Send], Awaitable[None]]

COOKIE, ENTRY = "defectmap-pass", "/enter"
WORD_S = 15 * 60  # a one-time word is good for so long
LONGEST_FORM_BYTES = 4096
THIS_COMPUTER = frozenset({"127.0.0.1", "::1"})
NAMES_OF_THIS_COMPUTER = frozenset({"localhost", "127.0.0.1", "::1"})
_PROXIES = ("forwarded", "x-forwarded-for", "x-real-ip")  # who is behind it sits elsewhere


@dataclass(slots=True)
class Lock:
    """What opens the door: the passphrase kept in a record, and one-time words, each good once."""

    store: Store
    now_s: Callable[[], float] = time.time
    _words: dict[str, float] = field(default_factory=dict)  # hash of a word to its end
    _one_at_a_time: threading.Lock = field(default_factory=threading.Lock)

    def add_word(self, word: str) -> None:
        """Let a word open the door once, within `WORD_S`."""
        self._words[_hash(word)] = self.now_s() + WORD_S

    def holds_pass(self, cookie: str) -> bool:
        """Whether a visitor has been let in before."""
        kept = setting(self.store, SETTING)
        return kept is not None and is_pass(cookie, kept, now_s=self.now_s())

    def enter(self, address: str, *, passphrase: str, word: str) -> str | None:
        """A pass for whoever gives the passphrase or a one-time word; None for anybody else.

        Raises
        ------
        PassphraseError
            There is no passphrase, or there were too many wrong tries.
        """
        with self._one_at_a_time:
            kept = setting(self.store, SETTING)
            if kept is None:
                raise PassphraseError(
                    "There is no passphrase; set one on the computer itself, on page Set-up."
                )
            if self._words.pop(_hash(word), 0.0) > self.now_s():
                return make_pass(kept, now_s=self.now_s())
            tries = Tries(store=self.store, now_s=self.now_s)
            tries.check(address)
            if not fits(passphrase, kept):
                tries.wrong(address)
                return None
            tries.right(address)
            return make_pass(kept, now_s=self.now_s())


class Door:
    """The application, behind its door."""

    def __init__(self, app: Application, *, lock: Lock | None = None) -> None:
        """Stand in front of `app`; without a lock only this computer comes in."""
        self._app = app
        self._lock = lock

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, ask for the passphrase, or turn it away."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
        elif scope["type"] not in ("http", "websocket") or _is_foreign(scope):
            await _refuse(scope, send, 403)
        elif is_this_computer(scope) or await self._has_pass(scope):
            await self._app(scope, receive, send)
        elif self._lock is None:
            await _refuse(scope, send, 403)
        elif scope["type"] == "http" and scope["path"] == ENTRY and scope["method"] == "POST":
            await self._enter(self._lock, scope, receive, send)
        elif scope["type"] == "http" and scope["method"] == "GET" and _wants_page(scope):
            word = parse_qs(scope["query_string"].decode("latin-1")).get("word", [""])[0]
            await _answer(send, 401, entry_page(word=word if scope["path"] == ENTRY else ""))
        else:
            await _refuse(scope, send, 401)

    async def _has_pass(self, scope: Scope) -> bool:
        cookie = _cookie(scope)
        if self._lock is None or not cookie:
            return False
        return await asyncio.to_thread(self._lock.holds_pass, cookie)

    async def _enter(self, lock: Lock, scope: Scope, receive: Receive, send: Send) -> None:
        form = await _form(receive)
        passphrase, word = form.get("passphrase", ""), form.get("word", "")
        try:
            made = await asyncio.to_thread(lock.enter, _address(scope), passphrase=passphrase, word=word)
        except DefectmapError as error:
            await _answer(send, 429, entry_page(problem=str(error)))
            return
        if made is None:
            problem = "This code has been used or is too old." if word else "That is not the passphrase."
            await _answer(send, 401, entry_page(problem=problem))
            return
        secure = "; Secure" if scope.get("scheme") == "https" else ""
        cookie = f"{COOKIE}={made}; Max-Age={PASS_S}; Path=/; HttpOnly; SameSite=Lax{secure}"
        headers = [(b"location", b"/"), (b"set-cookie", cookie.encode("ascii"))]
        await send({"type": "http.response.start", "status": 303, "headers": headers})
        await send({"type": "http.response.body", "body": b""})


def is_this_computer(scope: Scope) -> bool:
    """Whether a request comes from this computer itself, under its own name, and through nobody else."""
    named = _header(scope, "host")
    host = urlsplit(f"//{named}").hostname if named else None
    through = any(_header(scope, name) for name in _PROXIES)
    return _address(scope) in THIS_COMPUTER and host in NAMES_OF_THIS_COMPUTER and not through


def _is_foreign(scope: Scope) -> bool:
    """Whether a page of another place asks: its origin is not the name under which it calls us (RFC 6454)."""
    origin = _header(scope, "origin")
    return bool(origin) and urlsplit(origin).netloc.lower() != _header(scope, "host").lower()


def _header(scope: Scope, name: str) -> str:
    wanted = name.encode()
    found = [value for key, value in scope["headers"] if key.lower() == wanted]
    return b",".join(found).decode("latin-1")


def _address(scope: Scope) -> str:
    client = scope.get("client")
    return str(client[0]) if client else "unknown"


def _cookie(scope: Scope) -> str:
    try:
        cookies = SimpleCookie(_header(scope, "cookie").replace(",", ";"))
    except CookieError:
        return ""
    return cookies[COOKIE].value if COOKIE in cookies else ""


def _wants_page(scope: Scope) -> bool:
    return "text/html" in _header(scope, "accept")


async def _form(receive: Receive) -> dict[str, str]:
    body = b""
    while True:
        message = await receive()
        body += message.get("body", b"")
        if len(body) > LONGEST_FORM_BYTES or message["type"] != "http.request":
            return {}
        if not message.get("more_body"):
            break
    fields = parse_qs(body.decode("utf-8", errors="replace"), max_num_fields=4)
    return {name: values[0] for name, values in fields.items()}


async def _refuse(scope: Scope, send: Send, status: int) -> None:
    if scope["type"] == "websocket":
        await send({"type": "websocket.close", "code": 1008})  # before it is accepted: HTTP 403
        return
    await _answer(send, status, b"")


async def _answer(send: Send, status: int, page: bytes) -> None:
    headers = [
        (b"content-type", b"text/html; charset=utf-8"),
        (b"cache-control", b"no-store"),
        (b"referrer-policy", b"no-referrer"),
        (b"x-frame-options", b"DENY"),
        (b"content-security-policy", b"default-src 'none'; style-src 'unsafe-inline'; form-action 'self'"),
    ]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": page})


def _hash(word: str) -> str:
    return hmac.new(b"defectmap word", word.encode("utf-8", errors="replace"), hashlib.sha256).hexdigest()
