"""Decoders in processes of their own: a file that brings one down is refused, and good files go on."""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Iterator

import numpy as np
import pytest

from defectmap.errors import PhotoSizeError, UnreadablePhoto
from defectmap.panel.photo import apart
from defectmap.panel.photo import photograph as photo
from defectmap.panel.photo.decoders import decode_with_library
from defectmap.panel.photo.head import read_head
from tests.photofiles import DATA, gradient, tiff

CRASH = ((175, 127), (177, 128))  # place, byte: a picture size that the item's data do not fill
GOOD = (DATA / "plain.heic").read_bytes()
SLOW_START = "import sys, time; sys.stdin.buffer.readline(); time.sleep(60)"
SMALL_START = (
    "import sys; sys.path.insert(0, sys.argv[1]); from defectmap.panel.photo import apart_main; "
    "apart_main.MEMORY_BYTES = 20_000_000; apart_main.main()"
)


def crashing() -> bytes:
    """A HEIC file over which libheif 1.21 falls with a segmentation fault."""
    data = bytearray((DATA / "lamp.heic").read_bytes())
    for place, value in CRASH:
        data[place] = value
    return bytes(data)


@pytest.fixture(autouse=True)
def own_pool(monkeypatch: pytest.MonkeyPatch) -> Iterator[apart._Pool]:
    pool = apart._Pool()
    monkeypatch.setattr(apart, "_pool", pool)
    yield pool
    pool.close()


def test_a_file_that_kills_the_decoder_is_refused_and_the_next_is_read() -> None:
    with pytest.raises(UnreadablePhoto, match=r"bad.heic made the HEIC decoder stop; .*save it anew as JPEG"):
        photo.load(crashing(), name="bad.heic")
    assert photo.load(GOOD).rgb.shape == (420, 560, 3)


def test_a_decoder_that_died_idle_costs_no_good_file(own_pool: apart._Pool) -> None:
    photo.load(GOOD)
    (process,) = own_pool.idle
    os.kill(process.process.pid, signal.SIGKILL)
    process.process.wait()
    assert photo.load(GOOD).rgb.shape == (420, 560, 3)


def test_a_decoder_that_dies_at_work_is_replaced_once(own_pool: apart._Pool) -> None:
    """As one does whose memory the file before has damaged."""
    photo.load(GOOD)
    (process,) = own_pool.idle
    os.kill(process.process.pid, signal.SIGSTOP)  # alive by its looks, and will be killed while we wait
    threading.Timer(0.3, lambda: os.kill(process.process.pid, signal.SIGKILL)).start()
    assert photo.load(GOOD).rgb.shape == (420, 560, 3)


def test_one_process_serves_many_files(own_pool: apart._Pool) -> None:
    for _ in range(3):
        photo.load(GOOD)
    (first,) = own_pool.idle
    photo.load(tiff(gradient(), photometric="rgb"))
    assert own_pool.idle == [first]


def test_a_decoder_that_never_ends_is_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(apart, "_START", SLOW_START)
    monkeypatch.setattr(apart, "CPU_S", 0.02)
    with pytest.raises(UnreadablePhoto, match="made the HEIC decoder stop"):
        photo.load(GOOD)


def test_a_decoder_has_so_much_memory_and_no_more(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(apart, "_START", SMALL_START)
    large = np.zeros((3000, 4000, 3), np.uint8)
    with pytest.raises(PhotoSizeError, match="does not fit in memory"):
        photo.load(tiff(large, photometric="rgb", compression="zlib"))


@pytest.mark.parametrize("wide", [False, True])
def test_apart_and_here_give_the_same_pixels(wide: bool) -> None:
    picture = gradient().astype(np.uint16) * 257 if wide else gradient()
    data = tiff(picture, photometric="rgb")
    header, _ = read_head(data, "x")
    there, here = apart.decode_apart(data, header), decode_with_library(data, header)
    assert here is not None
    assert np.array_equal(there.rgb, here.rgb)
    assert (there.rgb.dtype, there.top_code, there.upright) == (here.rgb.dtype, here.top_code, here.upright)


def test_a_fork_uses_processes_of_its_own() -> None:
    photo.load(GOOD)
    if (child := os.fork()) == 0:
        good = photo.load(GOOD).rgb.shape == (420, 560, 3)
        apart._pool.close()
        os._exit(0 if good else 1)
    assert os.waitpid(child, 0)[1] == 0
    assert photo.load(GOOD).rgb.shape == (420, 560, 3)
