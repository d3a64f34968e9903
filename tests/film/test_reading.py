"""Film files: whole, cut off, turned, and no film at all (boxes: ISO/IEC 14496-12)."""

from __future__ import annotations

import os
import shutil
import struct
import subprocess
from pathlib import Path

import cv2
import numpy as np
import pytest

from defectmap.errors import UnreadableFilm
from defectmap.film import frames_apart, tuning
from defectmap.film.container import is_film_file, read_film_head
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


def boxes(data: bytes) -> dict[bytes, tuple[int, int]]:
    """Where each box at the top begins and ends."""
    found, place = {}, 0
    while place < len(data):
        length = struct.unpack(">I", data[place : place + 4])[0]
        found[data[place + 4 : place + 8]] = (place, place + length)
        place += length
    return found


def test_a_film_whose_end_is_missing_gives_the_frames_that_are_there(whole: Path, tmp_path: Path) -> None:
    """The index first, as many phones write it, and the pictures cut off in the middle."""
    data = whole.read_bytes()
    where = boxes(data)
    head, pictures, index = (data[slice(*where[kind])] for kind in (b"ftyp", b"mdat", b"moov"))
    between = data[where[b"ftyp"][1] : where[b"mdat"][0]]
    at = index.index(b"stco") + 8  # version and flags, then how many chunks, then where each begins
    count = struct.unpack(">I", index[at : at + 4])[0]
    starts = struct.unpack(f">{count}I", index[at + 4 : at + 4 + 4 * count])
    moved = struct.pack(f">{count}I", *(start + len(index) for start in starts))
    index = index[: at + 4] + moved + index[at + 4 + 4 * count :]
    fast, cut = tmp_path / "fast.mp4", tmp_path / "cut.mp4"
    fast.write_bytes(head + index + between + pictures)
    cut.write_bytes((head + index + between + pictures)[: -len(pictures) // 2])
    assert len(list(open_film(fast).frames())) == 10
    film = open_film(cut)
    assert film.said_frames == 10
    assert 1 <= len(list(film.frames())) < 9


def test_a_film_with_a_broken_end_does_not_break_the_reader(whole: Path, tmp_path: Path) -> None:
    data = bytearray(whole.read_bytes())
    start, stop = boxes(bytes(data))[b"mdat"]
    data[(start + 2 * stop) // 3 : stop] = bytes(stop - (start + 2 * stop) // 3)
    broken = tmp_path / "broken.mp4"
    broken.write_bytes(bytes(data))
    numbers = [frame.number for frame in open_film(broken).frames()]
    assert numbers[:3] == [0, 1, 2]


def test_frames_of_uneven_length_are_all_read(whole: Path, tmp_path: Path) -> None:
    """Variable frame rate: a second entry in the table of durations (ISO/IEC 14496-12, 8.6.1.2)."""
    data = whole.read_bytes()
    at = data.index(b"stts") - 4
    count, length = struct.unpack(">2I", data[at + 16 : at + 24])
    assert count == 10
    uneven = struct.pack(">4s2I4I", b"stts", 0, 2, 4, length, 6, length // 3)
    changed = data[:at] + struct.pack(">I", 4 + len(uneven)) + uneven + data[at + 24 :]
    for kind in (b"moov", b"trak", b"mdia", b"minf", b"stbl"):  # each holds the next
        place = changed.index(kind) - 4
        size = struct.unpack(">I", changed[place : place + 4])[0] + 8
        changed = changed[:place] + struct.pack(">I", size) + changed[place + 4 :]
    path = tmp_path / "uneven.mp4"
    path.write_bytes(changed)
    assert [frame.number for frame in open_film(path).frames()] == list(range(10))
    assert [frame.number for frame in open_film(path).frames([3, 8])] == [3, 8]


@pytest.mark.skipif(shutil.which("ffmpeg") is None, reason="nothing here writes HEVC")
def test_hevc_is_read(whole: Path, tmp_path: Path) -> None:
    path = tmp_path / "hevc.mov"
    coded = ["ffmpeg", "-loglevel", "error", "-i", str(whole), "-c:v", "libx265", str(path)]
    subprocess.run(coded, check=True, capture_output=True)
    assert len(list(open_film(path).frames())) == 10


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


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="counts threads as Linux shows them")
def test_a_decoder_takes_few_threads_on_a_computer_of_many(
    whole: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With a stack for each of 64 threads nothing of its memory was left for pictures, in 2 films of 3."""
    monkeypatch.setenv("OPENCV_FOR_THREADS_NUM", "64")
    decoder = frames_apart._Decoder(whole, None)
    try:
        decoder.head()
        decoder.number()
        said = Path(f"/proc/{decoder.process.pid}/status").read_text()
    finally:
        decoder.end()
    threads = next(int(line.split()[1]) for line in said.splitlines() if line.startswith("Threads"))
    assert threads <= 8


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


def test_length_and_time_stand_in_the_movie_header(whole: Path, tmp_path: Path) -> None:
    """ISO/IEC 14496-12, 8.2.2: times in seconds since 1904, length in units of the timescale."""
    data = bytearray(whole.read_bytes())
    place = data.index(b"mvhd") + 8
    scale, length = struct.unpack(">II", data[place + 8 : place + 16])
    head = read_film_head(whole)
    assert head.seconds == pytest.approx(length / scale)
    assert head.taken is None
    # 2082844800 s lie between the beginnings of 1904 and 1970 (RFC 868 has the like for 1900)
    data[place : place + 4] = struct.pack(">I", 2_082_844_800 + 1_700_000_000)
    dated = tmp_path / "dated.mp4"
    dated.write_bytes(bytes(data))
    assert read_film_head(dated).taken == "2023-11-14T22:13:20.000000+00:00"
    assert open_film(dated).facts.taken == "2023-11-14T22:13:20.000000+00:00"
    data[place + 12 : place + 16] = struct.pack(">I", 301 * scale)
    long = tmp_path / "long.mp4"
    long.write_bytes(bytes(data))
    with pytest.raises(UnreadableFilm, match="runs for 301 s"):
        open_film(long)


def test_a_film_without_an_ending_is_known_by_its_first_bytes(whole: Path, tmp_path: Path) -> None:
    kept = tmp_path / ("ab" * 32)
    kept.write_bytes(whole.read_bytes())
    assert is_film_file(kept)
    assert open_film(kept, name="door.mp4").facts.name == "door.mp4"
    kept.write_bytes(b"\x00\x00\x00\x18ftypheic and so on")
    assert not is_film_file(kept)
