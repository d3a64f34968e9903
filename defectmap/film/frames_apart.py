"""Frames of a film, decoded in a process of its own with limits: a hostile film costs itself alone."""

from __future__ import annotations

import json
import subprocess
import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from defectmap.panel.photo.process_limits import environment

_LONGEST_LINE = 200
FRAME_WAIT_S = 120.0  # for one frame, on a machine that does much else
_START = "import sys; sys.path.insert(0, sys.argv[1]); from defectmap.film.frames_main import main; main()"


class DecoderEnded(Exception):
    """The decoder's process died, ran out of memory, or was ended because a frame took too long."""


class NoFrames(Exception):
    """The decoder finds no frame that it can read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmHead:
    """What the decoder says of the first frame and the whole."""

    rows: int
    columns: int
    said_frames: int  # by the file's index; 0 where it does not say


def read_head(path: Path) -> FilmHead:
    """Decode the first frame.

    Raises
    ------
    DecoderEnded, NoFrames
        See there.
    """
    decoder = _Decoder(path, [0])
    try:
        return decoder.head()
    finally:
        decoder.end()


def read_frames(path: Path, wanted: Sequence[int] | None = None) -> Iterator[tuple[int, NDArray[np.uint8]]]:
    """Frames in order with their numbers, all or those wanted (rising), upright; ends where the film does.

    Returns
    -------
    iterator of (int, (H, W, 3) uint8 ndarray)
        All of the size of the first that is wanted; others are left out.

    Raises
    ------
    DecoderEnded, NoFrames
        See there.
    """
    decoder = _Decoder(path, wanted)
    try:
        head = decoder.head()
        while (number := decoder.number()) is not None:
            yield number, decoder.pixels(head.rows, head.columns)
    finally:
        decoder.end()


class _Decoder:
    """The process, and what comes out of its pipe."""

    def __init__(self, path: Path, wanted: Sequence[int] | None) -> None:
        root = str(Path(__file__).resolve().parents[2])
        asked = json.dumps(None if wanted is None else list(wanted))
        self.process = subprocess.Popen(
            [sys.executable, "-c", _START, root, str(path.absolute()), asked],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=environment(),
        )
        assert self.process.stdout is not None
        self.pipe = self.process.stdout

    def head(self) -> FilmHead:
        """The first line."""
        try:
            said = json.loads(self._line())
            if "problem" in said:
                raise NoFrames
            return FilmHead(rows=said["rows"], columns=said["columns"], said_frames=said["said"])
        except (ValueError, KeyError, TypeError) as error:
            raise DecoderEnded from error

    def number(self) -> int | None:
        """Number of the frame that comes next; None at the end."""
        line = self._line()
        return None if line == b"end\n" else int(line)

    def pixels(self, rows: int, columns: int) -> NDArray[np.uint8]:
        """The frame itself."""
        rgb = np.empty((rows, columns, 3), np.uint8)
        view = rgb.data.cast("B")
        filled = 0
        with self._awaited():
            while filled < len(view):
                count = self.pipe.readinto(view[filled:])  # type: ignore[attr-defined]
                if not count:
                    raise DecoderEnded
                filled += count
        return rgb

    def _line(self) -> bytes:
        with self._awaited():
            line = self.pipe.readline(_LONGEST_LINE)
        if not line.endswith(b"\n"):
            raise DecoderEnded
        return line

    @contextmanager
    def _awaited(self) -> Iterator[None]:
        alarm = threading.Timer(FRAME_WAIT_S, self.process.kill)
        alarm.daemon = True
        alarm.start()
        try:
            yield
        finally:
            alarm.cancel()

    def end(self) -> None:
        """Stop it, and take its remains away."""
        self.process.kill()
        self.process.wait()
        self.pipe.close()
