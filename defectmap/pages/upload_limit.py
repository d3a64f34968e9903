"""How much may be uploaded at all: what the server already holds and what is under way, counted together."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from defectmap.pages.uploads import MOST_MEGABYTES

if TYPE_CHECKING:
    from defectmap.pages.door import Application, Message, Receive, Scope, Send

UPLOADS = "/_stcore/upload_file"
MOST_BYTES = 600_000_000  # held for all visitors together
MOST_BYTES_A_FILE = MOST_MEGABYTES * 1_000_000 + 100_000  # and what a form puts round it


class UploadLimit:
    """An ASGI application that takes an upload only while there is room for it."""

    def __init__(
        self, app: Application, *, held_bytes: Callable[[], int], most_bytes: int = MOST_BYTES
    ) -> None:
        """Stand in front of `app`; `held_bytes` says what it holds of earlier uploads."""
        self._app = app
        self._held_bytes = held_bytes
        self._most_bytes = most_bytes
        self._under_way = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass everything on, but for uploads that are too large or too many."""
        if scope["type"] != "http" or scope["method"] != "PUT" or UPLOADS not in scope["path"]:
            await self._app(scope, receive, send)
            return
        size = _said_size(scope)
        if size is None:
            await _refuse(send, 411)
        elif size > MOST_BYTES_A_FILE or self._held_bytes() + self._under_way + size > self._most_bytes:
            await _refuse(send, 413)
        else:
            self._under_way += size
            try:
                await self._app(scope, _no_more_than(size, receive), send)
            finally:
                self._under_way -= size


def _said_size(scope: Scope) -> int | None:
    said = [value for key, value in scope["headers"] if key.lower() == b"content-length"]
    return int(said[0]) if len(said) == 1 and said[0].isdigit() else None


def _no_more_than(size: int, receive: Receive) -> Receive:
    taken = 0

    async def counted() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        return message if taken <= size else {"type": "http.disconnect"}

    return counted


async def _refuse(send: Send, status: int) -> None:
    await send({"type": "http.response.start", "status": status, "headers": [(b"connection", b"close")]})
    await send({"type": "http.response.body", "body": b""})


def held_by_streamlit() -> int:
    """Bytes of uploads that the server holds for all its visitors."""
    from streamlit.runtime import get_instance

    files = getattr(get_instance().uploaded_file_mgr, "file_storage", {})
    return sum(len(one.data) for session in list(files.values()) for one in list(session.values()))
