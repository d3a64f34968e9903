"""Start the server of the pages, tell where it is, and open the browser once it answers."""

from __future__ import annotations

import io
import os
import secrets
import signal
import socket
import ssl
import subprocess
import sys
import threading
import time
import urllib.request
import webbrowser
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

from platformdirs import user_data_path

from defectmap.errors import DefectmapError
from defectmap.pages.certificate import Certificate, certificate_for, own_names
from defectmap.pages.server import WORD_VARIABLE
from defectmap.record.store import FOLDER_VARIABLE, open_store, record_place

LOCAL, EVERY = "localhost", "0.0.0.0"
PATIENCE_S = 60.0
PORTS_TRIED = 20


class LaunchError(DefectmapError):
    """The pages cannot be served as asked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """How the pages are to be served."""

    port: int = 8501
    record: Path | str | None = None  # a folder, or the URL of an object store
    job: str | None = None
    network: bool = False
    browser: bool = True

    @property
    def address(self) -> str:
        """What to listen on."""
        return EVERY if self.network else LOCAL

    def url(self, port: int) -> str:
        """Where this computer finds the pages."""
        asked = f"?job={quote(self.job, safe='')}" if self.job else ""
        return f"{'https' if self.network else 'http'}://{LOCAL}:{port}/{asked}"


def serve(start: Start) -> int:
    """Serve until it is stopped; returns the server's exit status.

    Raises
    ------
    LaunchError
        The port is taken, or the network was asked for without a passphrase.
    """
    environment = dict(os.environ)
    if start.record is not None:
        place = record_place(start.record) if isinstance(start.record, str) else start.record
        environment[FOLDER_VARIABLE] = str(place.resolve()) if isinstance(place, Path) else place
    port = free_port(start.port)
    made = None
    if start.network:
        check_passphrase(start.record)
        address = own_address()
        folder = user_data_path("defectmap", appauthor=False) / "network"
        made = certificate_for(own_names(address), folder=folder)
        word = secrets.token_urlsafe(12)
        environment[WORD_VARIABLE] = word
        print(network_words(f"https://{address}:{port}", word, made.fingerprint), flush=True)
    url = start.url(port)
    print(f"The pages are at {url} (stop with Ctrl+C).", flush=True)
    if start.browser:
        known = made.certificate if made else None
        threading.Thread(target=_open_when_ready, args=(url, port, known), daemon=True).start()
    # What the server prints is said above already; its errors still show.
    server = subprocess.Popen(command(start, port, made), env=environment, stdout=subprocess.DEVNULL)
    # Whoever ends this program means the server: without this it would go on alone and hold the port.
    before = signal.signal(signal.SIGTERM, lambda *_: server.terminate())
    try:
        return max(0, server.wait())
    except KeyboardInterrupt:
        server.terminate()
        server.wait()
        return 0
    finally:
        signal.signal(signal.SIGTERM, before)


def command(start: Start, port: int, made: Certificate | None = None) -> list[str]:
    """The command line of the server; its other settings stand in `.streamlit/config.toml`."""
    return [
        *(sys.executable, "-m", "defectmap.pages.server"),
        *("--address", start.address, "--port", str(port)),
        *(("--certificate", str(made.certificate), "--key", str(made.key)) if made else ()),
    ]


_NETWORK_WORDS = """Other devices of this network reach the pages at {address}/ with the passphrase.
Or point a phone's camera at this code: it opens them once, within 15 minutes, without the passphrase.

{code}
The connection is encrypted. No authority knows this computer, so each device asks once: it says that the
connection is not private, or the certificate not trusted. Choose the details there, then to go on.
Go on only in the shop's own network. To be sure, compare the certificate's SHA-256 fingerprint:
it starts with {fingerprint}."""


def network_words(address: str, word: str, fingerprint: str) -> str:
    """What is said when the pages are opened to the network: a code, and what the phone will ask."""
    import segno

    drawn = io.StringIO()
    segno.make(f"{address}/enter?word={word}", error="m").terminal(out=drawn, compact=True, border=2)
    return _NETWORK_WORDS.format(address=address, code=drawn.getvalue(), fingerprint=fingerprint[:23])


def check_passphrase(record: Path | str | None) -> None:
    """Refuse to open to the network while no passphrase is set.

    Raises
    ------
    LaunchError
        There is none.
    """
    from defectmap.pages.passphrase import SETTING
    from defectmap.record.notes import setting

    store = open_store(record)
    try:
        if setting(store, SETTING) is None:
            raise LaunchError(
                "Opening to the network needs a passphrase: run `defectmap app` first and set one on the "
                "page Set-up, under Network."
            )
    finally:
        store.close()


def free_port(wanted: int) -> int:
    """The wanted port, or the next one that nobody listens on.

    Raises
    ------
    LaunchError
        The next `PORTS_TRIED` are taken too.
    """
    for port in range(wanted, min(wanted + PORTS_TRIED, 65536)):
        with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as test:
            if os.name == "posix":
                test.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                test.bind(("127.0.0.1", port))
            except OSError:
                continue
            return port
    raise LaunchError(f"Port {wanted} and those after it are in use; choose another with --port.")


def own_address() -> str:
    """This computer's address in its network, as far as it can be told without sending anything."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # RFC 5737 documentation address; UDP connect sends no packet
            return str(probe.getsockname()[0])
        except OSError:
            return socket.gethostname()


def _open_when_ready(url: str, port: int, known: Path | None) -> None:
    """Open the browser as soon as the server answers; `known` is its certificate, where it has one."""
    until = time.monotonic() + PATIENCE_S
    context = ssl.create_default_context(cafile=str(known)) if known else None
    scheme = "https" if known else "http"
    while time.monotonic() < until:
        try:
            health = f"{scheme}://{LOCAL}:{port}/_stcore/health"
            with urllib.request.urlopen(health, timeout=2, context=context):
                webbrowser.open(url)
                return
        except OSError:
            time.sleep(0.3)
