"""Start the server of the pages, tell where it is, and open the browser once it answers."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import threading
import time
import urllib.request
import webbrowser
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

from defectmap.errors import DefectmapError
from defectmap.record.store import FOLDER_VARIABLE, open_store

LOCAL, EVERY = "localhost", "0.0.0.0"
PATIENCE_S = 60.0
PORTS_TRIED = 20


class LaunchError(DefectmapError):
    """The pages cannot be served as asked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """How the pages are to be served."""

    port: int = 8501
    record: Path | None = None
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
        return f"http://{LOCAL}:{port}/{asked}"


def serve(start: Start) -> int:
    """Serve until it is stopped; returns the server's exit status.

    Raises
    ------
    LaunchError
        The port is taken, or the network was asked for without a passphrase.
    """
    environment = dict(os.environ)
    if start.record is not None:
        environment[FOLDER_VARIABLE] = str(start.record.resolve())
    if start.network:
        check_passphrase(start.record)
    port = free_port(start.port)
    url = start.url(port)
    print(f"The pages are at {url} (stop with Ctrl+C).", flush=True)
    if start.network:
        print(
            f"Other devices of this network reach them at http://{own_address()}:{port}/ with the "
            "passphrase. The connection is not encrypted.",
            flush=True,
        )
    if start.browser:
        threading.Thread(target=_open_when_ready, args=(url, port), daemon=True).start()
    # What the server prints is said above already; its errors still show.
    server = subprocess.Popen(command(start, port), env=environment, stdout=subprocess.DEVNULL)
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


def command(start: Start, port: int) -> list[str]:
    """The command line of the server; its other settings stand in `.streamlit/config.toml`."""
    page = Path(__file__).resolve().parent / "main.py"
    return [
        *(sys.executable, "-m", "streamlit", "run", str(page)),
        f"--server.address={start.address}",
        f"--server.port={port}",
        "--server.headless=true",
        "--browser.gatherUsageStats=false",
        "--logger.level=error",
        # From the network it is called by whatever name or address it has there; the passphrase guards it.
        *(["--server.allowedHosts=*"] if start.network else []),
    ]


def check_passphrase(record: Path | None) -> None:
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


def _open_when_ready(url: str, port: int) -> None:
    until = time.monotonic() + PATIENCE_S
    while time.monotonic() < until:
        try:
            with urllib.request.urlopen(f"http://{LOCAL}:{port}/_stcore/health", timeout=2):
                webbrowser.open(url)
                return
        except OSError:
            time.sleep(0.3)
