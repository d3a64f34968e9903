"""What a decoder process does: one file after the other, each within its limits, until the pipe is closed."""

from __future__ import annotations

import importlib
import json
import os
import sys
from typing import IO, Any

from defectmap.panel.photo.decoders import complete_heif_header, decode_drawing, decode_with_library
from defectmap.panel.photo.fileheader import FileHeader
from defectmap.panel.photo.process_limits import THREADS, limit_memory, limit_time, own_output

MEMORY_BYTES = 1_500_000_000  # beside what the process holds when it starts
LIBRARIES = ("cv2", "pi_heif", "PIL.TiffImagePlugin", "PIL.WebPImagePlugin")


def main() -> None:
    """Serve the pipe on standard input and output; what libraries print goes nowhere."""
    out = own_output()
    for library in LIBRARIES:  # before the limit, which counts from here
        importlib.import_module(library)
    importlib.import_module("cv2").setNumThreads(THREADS)
    limit_memory(MEMORY_BYTES)
    try:
        while line := sys.stdin.buffer.readline():
            question = json.loads(line)
            data = sys.stdin.buffer.read(question["bytes"])
            limit_time(question["cpu_s"])
            _serve(question, data, out)
    except (KeyboardInterrupt, BrokenPipeError):
        os._exit(1)  # the program that asked is gone or going


def _serve(question: dict[str, Any], data: bytes, out: IO[bytes]) -> None:
    header, pixels = FileHeader(**question["header"]), None
    try:
        if question["task"] == "header":
            complete_heif_header(data, header)
            answer: dict[str, Any] = {
                name: getattr(header, name) for name in ("width_px", "height_px", "bits", "frames", "alpha")
            }
            answer |= {"exif": header.exif.hex(), "icc": header.icc.hex()}
        else:
            drawn, side = question["task"] == "drawing", question.get("longest_side_px", 0)
            decoded = (
                decode_drawing(data, header, longest_side_px=side)
                if drawn
                else decode_with_library(data, header)
            )
            if decoded is None:
                answer = {"problem": "refused"}
            else:
                pixels = decoded.rgb
                answer = {"shape": pixels.shape, "wide": pixels.itemsize == 2, "top_code": decoded.top_code}
                answer |= {"upright": decoded.upright, "see_through": decoded.see_through}
    except MemoryError:
        answer, pixels = {"problem": "memory"}, None
    except Exception as error:  # each library raises its own kinds for damaged files
        answer, pixels = {"problem": type(error).__name__}, None
    out.write(json.dumps(answer).encode() + b"\n")
    if pixels is not None:
        out.write(pixels.data.cast("B"))
    out.flush()
