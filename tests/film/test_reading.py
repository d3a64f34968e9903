"""Film files: whole, cut off, turned, and no film at all (boxes: ISO/IEC 14496-12)."""

from __future__ import annotations

import os
import struct
from pathlib import Path

import cv2
import numpy as np
import pytest

from defectmap.errors import UnreadableFilm
from defectmap.film import frames_apart, tuning
from defectmap.film.reading import is_film, open_film
from tests.phantom.film import write_film

MATRIX_IN_TKHD = 8 + 4 + 20 + 8 + 8  # box head, version and flags, times and track, reserved, layer to volume


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("film") / "door.mp4"
    rng = np.random.default_rng(1)
    noise = cv2.GaussianBlur(rng.integers(0, 255, (480, 640, 3), np.uint8), (0, 0), 3)
    write_film([np.asarray(np.roll(noise, 9 * k, axis=1)) for k in range(10)], path)
    return path


def test_frames_come_in_order_and_only_those_wanted(whole: Path) -> None:
    film = open_film(whole)
    assert (film.shape, film.said_frames, len(film.facts.sha256)) == ((480, 640), 10, 64)
    every = list(film.frames())
    assert [f.number for f in every] == list(range(10))
    some = list(film.frames([2, 7]))
    assert [f.number for f in some] == [2, 7]
    assert np.array_equal(some[1].rgb, every[7].rgb)


def test_a_film_without_its_index_is_refused(whole: Path, tmp_path: Path) -> None:
    data = whole.read_bytes()
    cut = tmp_path / "cut.mp4"
    cut.write_bytes(data[: data.index(b"moov") - 100])
    with pytest.raises(UnreadableFilm, match="cut off"):
        open_film(cut)


def test_what_is_no_film_is_refused(tmp_path: Path) -> None:
    for content in (b"", b"\xff\xd8\xff\xe0 a photograph, really", b"\x00" * 64):
        path = tmp_path / "x.mp4"
        path.write_bytes(content)
        with pytest.raises(UnreadableFilm, match="no mp4 or mov"):
            open_film(path)
    assert is_film(path)
    assert not is_film(Path("door.jpg"))


def test_the_rotation_flag_is_applied_once(whole: Path, tmp_path: Path) -> None:
    """A quarter turn in the track header's matrix (ISO/IEC 14496-12, 8.3.2) turns each frame upright."""
    data = bytearray(whole.read_bytes())
    place = data.index(b"tkhd") - 4 + MATRIX_IN_TKHD
    unity = struct.unpack(">9i", data[place : place + 36])
    assert unity == (0x10000, 0, 0, 0, 0x10000, 0, 0, 0, 0x40000000)
    data[place : place + 36] = struct.pack(">9i", 0, 0x10000, 0, -0x10000, 0, 0, 480 << 16, 0, 0x40000000)
    turned = tmp_path / "turned.mp4"
    turned.write_bytes(bytes(data))
    film = open_film(turned)
    assert film.shape == (640, 480)
    flat, upright = next(open_film(whole).frames()).rgb, next(film.frames()).rgb
    assert np.array_equal(upright, np.rot90(flat, -1))


@pytest.mark.parametrize("start", ["import os; os.abort()", "import time; time.sleep(60)", "print('[]')"])
def test_a_decoder_that_dies_or_hangs_or_lies_costs_the_film_alone(
    start: str, whole: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(frames_apart, "_START", start)
    monkeypatch.setattr(frames_apart, "FRAME_WAIT_S", 1.0)
    with pytest.raises(UnreadableFilm, match="decoder failed"):
        open_film(whole)


def test_a_pipe_called_film_is_not_waited_for(tmp_path: Path) -> None:
    pipe = tmp_path / "x.mp4"
    os.mkfifo(pipe)
    with pytest.raises(UnreadableFilm, match="no file"):
        open_film(pipe)


def test_a_film_of_hours_is_refused(whole: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tuning, "MOST_FRAMES", 9)
    with pytest.raises(UnreadableFilm, match="10 frames"):
        open_film(whole)


@pytest.mark.parametrize("name", ["film-h264.mp4", "film-hevc.mp4"])
def test_codings_of_phones_are_read(name: str) -> None:
    film = open_film(Path(__file__).parents[1] / "data" / name)
    assert (film.shape, film.said_frames) == ((440, 600), 8)
    assert [frame.number for frame in film.frames()] == list(range(8))
