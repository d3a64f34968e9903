"""Decoders that a hostile file may bring down, run in processes of their own with limits.

A process is started for the first such file and kept for the next, so that a good file costs one trip
through a pipe (hundredths of a second for 12 megapixels). Where the process dies, hangs or wants too much
memory, the file is refused and a fresh process serves the next one. What comes back is JSON and plain pixels,
nothing that could act on the reader.
"""

from __future__ import annotations

import atexit
import json
import os
import subprocess
import sys
import threading
from collections.abc import Mapping
from pathlib import Path
from typing import IO, Any

import numpy as np

from defectmap.panel.photo.decoders import Decoded
from defectmap.panel.photo.fileheader import FileHeader
from defectmap.panel.photo.process_limits import environment

APART = frozenset({"HEIC", "TIFF"})  # HEIC crashed under attack; libtiff is the next largest of its kind
MOST_PROCESSES = 2  # a decoder of 100 megapixels takes about a gigabyte
CPU_S, CPU_S_PER_MEGAPIXEL = 6.0, 0.2  # measured: HEIC 0.03 s a megapixel, deflated 16-bit TIFF 0.04
WALL_FACTOR = 5.0  # on a machine that does much else
_TAGS = ("kind", "width_px", "height_px", "bits", "channels", "alpha", "cmyk", "white_is_zero")
_START = (
    "import sys; sys.path.insert(0, sys.argv[1]); from defectmap.panel.photo.apart_main import main; main()"
)


class Ended(Exception):
    """The decoder's process died, or was ended because it took too long."""


class OutOfMemory(Exception):
    """The decoder wanted more memory than it may have."""


class Refused(Exception):
    """The decoder refused the file."""


def decode_apart(data: bytes, header: FileHeader) -> Decoded:
    """Decode a file in another process.

    Raises
    ------
    Ended, OutOfMemory, Refused
        See there.
    """
    return _decoded(_ask("decode", data, header))


def decode_drawing_apart(data: bytes, header: FileHeader, *, longest_side_px: int) -> Decoded:
    """`decoders.decode_drawing` in another process; raises like `decode_apart`."""
    return _decoded(_ask("drawing", data, header, longest_side_px=longest_side_px))


def _decoded(answered: tuple[dict[str, Any], Any]) -> Decoded:
    answer, pixels = answered
    if pixels is None:
        raise Refused
    return Decoded(
        pixels, int(answer["top_code"]), bool(answer["upright"]), see_through=bool(answer["see_through"])
    )


def complete_header_apart(data: bytes, header: FileHeader) -> None:
    """Complete a HEIC header in another process; raises like `decode_apart`."""
    answer, _ = _ask("header", data, header)
    for name in ("width_px", "height_px", "bits", "frames"):
        setattr(header, name, int(answer[name]))
    header.alpha = bool(answer["alpha"])
    header.exif, header.icc = bytes.fromhex(answer["exif"]), bytes.fromhex(answer["icc"])


class _Process:
    """One decoder process and the pipes to it."""

    def __init__(self) -> None:
        root = str(Path(__file__).resolve().parents[3])
        self.made_by = os.getpid()
        self.process = subprocess.Popen(
            [sys.executable, "-c", _START, root],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=environment(),
        )

    def ask(self, question: Mapping[str, Any], data: bytes, limit_s: float) -> tuple[dict[str, Any], Any]:
        """Send one file and wait for the answer; `Ended` where none comes."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        alarm = threading.Timer(limit_s * WALL_FACTOR, self.process.kill)
        alarm.daemon = True
        alarm.start()
        try:
            self.process.stdin.write(json.dumps(question).encode() + b"\n")
            self.process.stdin.write(data)
            self.process.stdin.flush()
            return _answer(self.process.stdout)
        except (OSError, ValueError, KeyError, TypeError) as error:
            raise Ended from error
        finally:
            alarm.cancel()

    def end(self) -> None:
        """Stop it, and take its remains away."""
        if self.made_by != os.getpid():
            return  # the process of a parent that forked us: not ours to end
        self.process.kill()
        self.process.wait()
        for pipe in (self.process.stdin, self.process.stdout):
            if pipe is not None:
                try:
                    pipe.close()
                except OSError:
                    continue  # what could not be sent to a dead process


def _answer(pipe: IO[bytes]) -> tuple[dict[str, Any], Any]:
    line = pipe.readline(1 << 24)
    if not line.endswith(b"\n"):
        raise Ended
    answer: dict[str, Any] = json.loads(line)
    if "shape" not in answer:
        return answer, None
    pixels = np.empty(answer["shape"], np.uint16 if answer["wide"] else np.uint8)
    if pixels.ndim != 3 or pixels.shape[2] != 3:
        raise Ended
    view = pixels.data.cast("B")
    filled = 0
    while filled < len(view):
        count = pipe.readinto(view[filled:])  # type: ignore[attr-defined]
        if not count:
            raise Ended
        filled += count
    return answer, pixels


class _Pool:
    """Idle processes, and how many may be at work; a fork starts with a pool of its own."""

    def __init__(self) -> None:
        self.made_by = os.getpid()
        self.idle: list[_Process] = []
        self.free = threading.Semaphore(MOST_PROCESSES)

    def close(self) -> None:
        """End the idle processes."""
        while self.idle:
            self.idle.pop().end()


_pool = _Pool()
atexit.register(lambda: _pool.close())


def _ask(task: str, data: bytes, header: FileHeader, **more: int) -> tuple[dict[str, Any], Any]:
    global _pool
    if _pool.made_by != os.getpid():
        _pool = _Pool()
    limit_s = CPU_S + CPU_S_PER_MEGAPIXEL * header.width_px * header.height_px / 1e6
    facts = {name: getattr(header, name) for name in _TAGS}
    question = {"task": task, "bytes": len(data), "cpu_s": limit_s, "header": facts, **more}
    with _pool.free:
        try:
            answer, pixels = _try(_idle(), question, data, limit_s)
        except Ended:  # perhaps the file before it did the damage: once more, with a fresh process
            answer, pixels = _try(_Process(), question, data, limit_s)
    if answer.get("problem") == "memory":
        raise OutOfMemory
    if "problem" in answer:
        raise Refused(str(answer["problem"]))
    return answer, pixels


def _idle() -> _Process:
    while _pool.idle:
        process = _pool.idle.pop()
        if process.process.poll() is None:
            return process
        process.end()
    return _Process()


def _try(
    process: _Process, question: Mapping[str, Any], data: bytes, limit_s: float
) -> tuple[dict[str, Any], Any]:
    try:
        answer = process.ask(question, data, limit_s)
    except BaseException:  # also Ctrl+C: what is half read cannot be used again
        process.end()
        raise
    _pool.idle.append(process)
    return answer
