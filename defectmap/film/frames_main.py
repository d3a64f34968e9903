"""What the process of a film's decoder does: frames to standard output, each within its limits.

Out go a line of JSON (size and number of frames, or a problem), then for each frame a line with its number
and its pixels, then a line `end`. Who reads may go at any time.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterator, Sequence
from typing import IO, Any

from defectmap.film import tuning
from defectmap.panel.photo.process_limits import THREADS, limit_memory, limit_time, own_output

MEMORY_BYTES = 2_000_000_000  # beside what the process holds when it starts; 4K frames take 0.5
FRAME_CPU_S = 20.0
# Decoders of nothing but what a phone writes, from this file alone, whatever the file says of itself.
OPTIONS = "threads;4|format_whitelist;mov,mp4,m4a,3gp,3g2,mj2|protocol_whitelist;file"


def main() -> None:
    """Read the film that the command line names; what libraries print goes nowhere."""
    path, wanted = sys.argv[2], json.loads(sys.argv[3])
    out = own_output()
    os.environ["OPENCV_FFMPEG_CAPTURE_OPTIONS"] = OPTIONS
    import cv2

    cv2.setNumThreads(THREADS)
    limit_memory(MEMORY_BYTES)
    limit_time(FRAME_CPU_S)
    try:
        reader = cv2.VideoCapture(path, cv2.CAP_FFMPEG)
        reader.set(cv2.CAP_PROP_ORIENTATION_AUTO, 1)
        _serve(reader, wanted, out)
    except (KeyboardInterrupt, BrokenPipeError):
        os._exit(1)  # the program that asked is gone or going
    except Exception as error:  # OpenCV and running out of memory
        os._exit(3 if isinstance(error, MemoryError) else 2)


def _serve(reader: Any, wanted: Sequence[int] | None, out: IO[bytes]) -> None:
    import cv2

    shape = None
    for number, picture in _pictures(reader, wanted):
        if shape is None:
            shape = picture.shape
            said = reader.get(cv2.CAP_PROP_FRAME_COUNT)
            said = int(said) if 0 < said < tuning.MOST_FRAMES + 1e6 else 0
            out.write(json.dumps({"rows": shape[0], "columns": shape[1], "said": said}).encode() + b"\n")
        if picture.shape == shape and len(shape) == 3:
            out.write(b"%d\n" % number)
            out.write(cv2.cvtColor(picture, cv2.COLOR_BGR2RGB).data.cast("B"))
            out.flush()
        limit_time(FRAME_CPU_S)
    out.write(b"end\n" if shape else b'{"problem": "no frame"}\n')
    out.flush()


def _pictures(reader: Any, wanted: Sequence[int] | None) -> Iterator[tuple[int, Any]]:
    """Frames as the reader gives them, with their numbers; those between are only passed over."""
    rest = None if wanted is None else list(wanted)
    for number in range(tuning.MOST_FRAMES):
        if rest == [] or not reader.grab():
            return
        if rest is None or rest[0] == number:
            if rest is not None:
                rest.pop(0)
            read, picture = reader.retrieve()
            if read and picture is not None:
                yield number, picture
