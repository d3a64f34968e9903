"""The door in front of the server: who comes in, how often one may try, how much may be uploaded."""

from __future__ import annotations

import asyncio
import json
import os
import re
import shutil
import signal
import ssl
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from defectmap.pages.certificate import DAYS, certificate_for
from defectmap.pages.door import COOKIE, WORD_S, Door, Lock
from defectmap.pages.launch import free_port, network_words
from defectmap.pages.passphrase import PASS_S, SETTING, hashed, is_pass, make_pass
from defectmap.pages.tries import FREE_TRIES, FREE_TRIES_OF_ALL, TRIES
from defectmap.pages.upload_limit import UploadLimit
from defectmap.record.notes import put_setting, setting
from defectmap.record.store import Store, open_store

SECRET = "four plain words here"
STRANGER, PHONE = "192.0.2.7", "192.0.2.8"  # RFC 5737: addresses for documentation


class Clock:
    now = 1_800_000_000.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Store]:
    store = open_store(tmp_path / "record")
    put_setting(store, SETTING, hashed(SECRET, cost=16))
    yield store
    store.close()


@pytest.fixture
def lock(record: Store) -> Lock:
    return Lock(record, now_s=Clock())


async def inside(scope: Any, receive: Any, send: Any) -> None:
    if scope["type"] == "websocket":
        await send({"type": "websocket.accept"})
        return
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": b"the pages"})


def ask(
    app: Any, path: str = "/", *, client: str = STRANGER, body: bytes = b"", **more: Any
) -> list[dict[str, Any]]:
    """Send one request and return what came back."""
    headers = {"host": "192.0.2.1:8501", "accept": "text/html", **more.pop("headers", {})}
    path, _, query = path.partition("?")
    scope = {
        **{"type": "http", "method": "GET", "path": path, "query_string": query.encode(), "scheme": "https"},
        **{"client": (client, 40000), "headers": [(k.encode(), v.encode()) for k, v in headers.items()]},
        **more,
    }
    sent: list[dict[str, Any]] = []

    async def receive() -> dict[str, Any]:
        return {"type": "http.request", "body": body}

    async def send(message: dict[str, Any]) -> None:
        sent.append(message)

    asyncio.run(app(scope, receive, send))
    return sent


def status(*arguments: Any, **more: Any) -> int:
    return int(ask(*arguments, **more)[0].get("status", 0))


def enter(door: Door, words: str, *, client: str = STRANGER, field: str = "passphrase") -> dict[str, Any]:
    return ask(
        door, "/enter", method="POST", client=client, body=f"{field}={words.replace(' ', '+')}".encode()
    )[0]


def cookie_of(answer: dict[str, Any]) -> str:
    return str(dict(answer["headers"])[b"set-cookie"].decode())


PLACES = ["/", "/media/abc.jpg", "/_stcore/metrics", "/_stcore/health", "/static/js/index.js", "/component/x"]


@pytest.mark.parametrize("path", PLACES)
def test_nothing_passes_without_a_pass(lock: Lock, path: str) -> None:
    door = Door(inside, lock=lock)
    assert status(door, path) == 401
    assert status(door, path, headers={"accept": "*/*"}) == 401
    assert status(door, path, headers={"cookie": f"{COOKIE}=1900000000.00.ff"}) == 401
    assert status(door, "/_stcore/upload_file/a/b", method="PUT") == 401
    assert ask(door, "/_stcore/stream", type="websocket")[0]["type"] == "websocket.close"


def test_the_passphrase_gives_a_pass_that_opens_everything(lock: Lock) -> None:
    door = Door(inside, lock=lock)
    answer = enter(door, SECRET)
    cookie = cookie_of(answer)
    assert answer["status"] == 303
    assert {"HttpOnly", "Secure", "SameSite=Lax"} <= set(cookie.split("; "))
    given = {"cookie": cookie.partition(";")[0]}
    assert status(door, "/media/abc.jpg", headers=given) == 200
    live = ask(door, "/_stcore/stream", type="websocket", headers=given)
    assert live[0]["type"] == "websocket.accept"


def test_a_pass_ends_and_dies_with_its_passphrase(record: Store) -> None:
    kept, now = setting(record, SETTING), 1_800_000_000.0
    made = make_pass(kept, now_s=now)
    assert is_pass(made, kept, now_s=now + PASS_S - 2)
    assert not is_pass(made, kept, now_s=now + PASS_S + 2)
    assert not is_pass(made, hashed(SECRET, cost=16), now_s=now)
    end, rest = made.split(".", 1)
    assert not is_pass(f"{int(end) + 10**6}.{rest}", kept, now_s=now)
    for rubbish in ("", ".", "a.b.c", "é.é", made[:-1]):
        assert not is_pass(rubbish, kept, now_s=now)


def test_this_computer_comes_in_under_its_own_name_only(lock: Lock) -> None:
    for door in (Door(inside), Door(inside, lock=lock)):
        assert status(door, client="127.0.0.1", headers={"host": "localhost:8501"}) == 200
        # a page of somebody else's whose name leads here, and a proxy that speaks for others
        assert status(door, client="127.0.0.1", headers={"host": "evil.example"}) in (401, 403)
        through = {"host": "localhost:8501", "x-forwarded-for": STRANGER}
        assert status(door, client="127.0.0.1", headers=through) in (401, 403)
    assert status(Door(inside)) == 403


@pytest.mark.parametrize("kind", ["http", "websocket"])
def test_a_foreign_page_is_turned_away_before_the_server_looks(kind: str, lock: Lock) -> None:
    asked: list[str] = []

    async def server(scope: Any, receive: Any, send: Any) -> None:
        asked.append(scope["path"])
        await inside(scope, receive, send)

    door = Door(server, lock=lock)
    host = {"host": "localhost:8501", "origin": "https://evil.example"}
    ask(door, "/_stcore/stream", type=kind, client="127.0.0.1", headers=host)
    assert asked == []
    own = {"host": "localhost:8501", "origin": "http://localhost:8501"}
    ask(door, "/_stcore/stream", type=kind, client="127.0.0.1", headers=own)
    assert asked == ["/_stcore/stream"]


def test_wrong_tries_are_kept_in_the_record_and_stop_one_address_only(record: Store) -> None:
    clock = Clock()
    door = Door(inside, lock=Lock(record, now_s=clock))
    for _ in range(FREE_TRIES):
        assert enter(door, "wrong")["status"] == 401
    assert enter(door, SECRET)["status"] == 429  # the right one comes too late
    again = Door(inside, lock=Lock(record, now_s=clock))  # a server started anew knows of it
    assert enter(again, SECRET)["status"] == 429
    assert enter(again, SECRET, client=PHONE)["status"] == 303
    assert status(again, client="127.0.0.1", headers={"host": "localhost:8501"}) == 200
    clock.now += 31
    assert enter(again, SECRET)["status"] == 303
    assert STRANGER not in setting(record, TRIES)


def test_the_pause_doubles_and_ends(record: Store) -> None:
    clock = Clock()
    door = Door(inside, lock=Lock(record, now_s=clock))
    waits = []
    for _ in range(FREE_TRIES + 12):
        enter(door, "wrong")
        until = setting(record, TRIES)[STRANGER]["until_s"]
        waits.append(until - clock.now)
        clock.now = max(clock.now, until + 1)
    assert waits[FREE_TRIES - 1 : FREE_TRIES + 2] == [30, 60, 120]
    assert max(waits) == 3600


def test_many_addresses_together_are_stopped_too(record: Store) -> None:
    door = Door(inside, lock=Lock(record, now_s=Clock()))
    for number in range(FREE_TRIES_OF_ALL):
        assert enter(door, "wrong", client=f"2001:db8::{number:x}")["status"] == 401  # RFC 3849
    assert enter(door, "wrong", client="2001:db8::ffff")["status"] == 429
    lock = Lock(record, now_s=Clock())
    lock.add_word("once")
    assert enter(Door(inside, lock=lock), "once", field="word")["status"] == 303


def test_a_word_opens_once_and_not_for_long(record: Store) -> None:
    clock = Clock()
    lock = Lock(record, now_s=clock)
    door, word = Door(inside, lock=lock), "once"
    lock.add_word(word)
    page = ask(door, f"/enter?word={word}")[1]["body"].decode()
    assert f'name="word" value="{word}"' in page
    assert "password" not in page
    assert enter(door, word, field="word")["status"] == 303
    assert enter(door, word, field="word")["status"] == 401
    lock.add_word("late")
    clock.now += WORD_S + 1
    assert enter(door, "late", field="word")["status"] == 401


def test_words_in_the_address_are_no_markup(lock: Lock) -> None:
    page = ask(Door(inside, lock=lock), "/enter?word=%22%3E%3Cscript%3E")[1]["body"]
    assert b"<script" not in page


def test_an_endless_form_is_not_read(lock: Lock) -> None:
    answer = ask(Door(inside, lock=lock), "/enter", method="POST", body=b"passphrase=" + b"a" * 10**6)
    assert answer[0]["status"] == 401


def upload(app: Any, size: int | None, *, sent: int = 0) -> int:
    headers = {} if size is None else {"content-length": str(size)}
    return status(app, "/_stcore/upload_file/a/b", method="PUT", headers=headers, body=b"x" * sent)


def test_uploads_are_bounded_one_and_all() -> None:
    held = [0]
    app = UploadLimit(inside, held_bytes=lambda: held[0], most_bytes=100_000_000)
    assert upload(app, 70_000_000) == 200
    assert upload(app, 90_000_000) == 413
    assert upload(app, None) == 411
    held[0] = 70_000_000
    assert upload(app, 40_000_000) == 413
    assert upload(app, 20_000_000) == 200
    assert status(app, "/", method="GET") == 200


def test_uploads_under_way_count() -> None:
    async def slow(scope: Any, receive: Any, send: Any) -> None:
        assert upload_in(loop_app, 60_000_000) == 413
        await inside(scope, receive, send)

    def upload_in(app: Any, size: int) -> int:
        import concurrent.futures

        with concurrent.futures.ThreadPoolExecutor(1) as pool:  # a loop of its own
            return pool.submit(upload, app, size).result()

    loop_app = UploadLimit(slow, held_bytes=lambda: 0, most_bytes=100_000_000)
    assert upload(loop_app, 60_000_000) == 200


def test_more_than_was_said_is_cut_off() -> None:
    taken: list[str] = []

    async def reads(scope: Any, receive: Any, send: Any) -> None:
        taken.append((await receive())["type"])
        await inside(scope, receive, send)

    upload(UploadLimit(reads, held_bytes=lambda: 0), 10, sent=11)
    assert taken == ["http.disconnect"]


def test_the_certificate_is_kept_and_renewed_in_time(tmp_path: Path) -> None:
    from cryptography import x509

    now = datetime(2026, 5, 1, tzinfo=UTC)
    first = certificate_for(["192.0.2.1", "shop-pc"], folder=tmp_path, now=now)
    made = x509.load_pem_x509_certificate(first.certificate.read_bytes())
    names = made.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert {str(name.value) for name in names} == {"localhost", "127.0.0.1", "::1", "192.0.2.1", "shop-pc"}
    assert (made.not_valid_after_utc - made.not_valid_before_utc).days <= 398
    assert os.name != "posix" or first.key.stat().st_mode & 0o777 == 0o600
    ssl.create_default_context(ssl.Purpose.CLIENT_AUTH).load_cert_chain(first.certificate, first.key)
    later = certificate_for(["192.0.2.1"], folder=tmp_path, now=now + timedelta(days=300))
    assert later.fingerprint == first.fingerprint
    assert certificate_for(["192.0.2.9"], folder=tmp_path, now=now).fingerprint != first.fingerprint
    other = certificate_for(["192.0.2.9"], folder=tmp_path, now=now)
    assert certificate_for(["192.0.2.9"], folder=tmp_path, now=now + timedelta(days=DAYS)) != other


def test_the_code_holds_address_and_word() -> None:
    import cv2
    import numpy as np

    said = network_words("https://192.0.2.1:8501", "Wf3-x_9", "AB:CD:EF:01:23:45:67:89:00")
    assert "AB:CD:EF:01:23:45:67:89." in said
    lines = [line for line in said.splitlines() if set(line) & set("█▀▄")]
    width = max(map(len, lines))
    dots = []  # two rows of dots a line: upper half, lower half; a drawn half is light
    for line in lines:
        dots += [[c in "█▀" for c in line.ljust(width)], [c in "█▄" for c in line.ljust(width)]]
    picture = np.kron(np.array(dots, np.uint8) * 255, np.ones((8, 8), np.uint8))
    read, *_ = cv2.QRCodeDetector().detectAndDecode(cv2.copyMakeBorder(picture, 40, 40, 40, 40, 0, value=255))
    assert read == "https://192.0.2.1:8501/enter?word=Wf3-x_9"


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("strace") is None, reason="needs strace")
def test_a_foreign_page_makes_the_server_look_nowhere(tmp_path: Path) -> None:
    store = open_store(tmp_path / "record")
    put_setting(store, SETTING, hashed(SECRET))
    store.close()
    port, trace = free_port(8760), tmp_path / "trace"
    environment = {**os.environ, "XDG_DATA_HOME": str(tmp_path / "data")}
    program = [sys.executable, "-m", "defectmap", "app", "--network", "--no-browser"]
    program += ["--port", str(port), "--record", str(tmp_path / "record")]
    traced = ["strace", "-f", "-qq", "-e", "trace=connect,sendto", "-o", str(trace), *program]
    running = subprocess.Popen(traced, env=environment, stdout=subprocess.DEVNULL, start_new_session=True)
    context = ssl._create_unverified_context()
    address = f"https://localhost:{port}/_stcore"
    try:
        for _ in range(200):
            try:
                urllib.request.urlopen(f"{address}/health", context=context, timeout=2).close()
                break
            except OSError:
                time.sleep(0.3)
        upgrade = {"Connection": "Upgrade", "Upgrade": "websocket", "Sec-WebSocket-Version": "13"}
        upgrade |= {"Sec-WebSocket-Key": "AAAAAAAAAAAAAAAAAAAAAA==", "Origin": "https://evil.example"}
        foreign = urllib.request.Request(f"{address}/stream", headers=upgrade)
        with pytest.raises(urllib.error.HTTPError, match="403"):
            urllib.request.urlopen(foreign, context=context, timeout=10)
    finally:
        os.killpg(running.pid, signal.SIGTERM)
        running.wait(30)
    called = re.findall(r"(?:connect|sendto)\(.*sin6?_port=htons\((\d+)\).*?\"([^\"]+)\"", trace.read_text())
    # 192.0.2.1 port 9: the datagram socket that tells our own address; connecting it sends nothing
    assert {place for number, place in called if number != "9"} <= {"127.0.0.1", "::1"}
    assert json.dumps(called)
