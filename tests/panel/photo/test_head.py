"""What is judged before decoding (kind, size, shape, memory), and the one reader of camera facts."""

from __future__ import annotations

import os
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from defectmap.errors import PhotoSizeError, UnreadablePhoto
from defectmap.pages.images import preview_jpeg
from defectmap.panel.photo import photograph as photo
from defectmap.panel.photo.exif import read_exif
from defectmap.panel.photo.head import MAX_FILE_BYTES, read_file
from defectmap.record.intake import camera_time
from tests.photofiles import exif_block, gradient, png_chunk, saved


def claimed(width: int, height: int, *, bits: int = 8, colour: int = 2) -> bytes:
    """A PNG that says its size and holds nothing."""
    head = struct.pack(">IIBBBBB", width, height, bits, colour, 0, 0, 0)
    body = png_chunk(b"IDAT", zlib.compress(bytes(9)))
    return b"\x89PNG\r\n\x1a\n" + png_chunk(b"IHDR", head) + body + png_chunk(b"IEND", b"")


@pytest.mark.skipif(os.name != "posix", reason="Windows has no such files")
def test_devices_and_pipes_are_not_waited_for(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe.jpg"
    os.mkfifo(pipe)
    for path in (Path("/dev/zero"), pipe):
        with pytest.raises(UnreadablePhoto, match="is a device or a pipe, no file; name a photograph"):
            read_file(path)
        assert camera_time(path) is None
        assert preview_jpeg(path) is None


def test_a_file_too_large_is_not_read(tmp_path: Path) -> None:
    huge = tmp_path / "huge.jpg"
    with huge.open("wb") as file:
        file.truncate(6_000_000_000)
    with pytest.raises(PhotoSizeError, match=r"has 6000 MB, more than the limit of 700; save it as"):
        read_file(huge)


def test_no_picture_is_read_whole(tmp_path: Path) -> None:
    film = tmp_path / "notes.txt"
    with film.open("wb") as file:
        file.truncate(MAX_FILE_BYTES)
    with pytest.raises(UnreadablePhoto, match="is not a picture that can be read"):
        read_file(film)


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (
            claimed(400, 490_000, colour=0),
            "has 400 x 490000 px, too long a strip for a photograph of a panel",
        ),
        (claimed(30_000, 2_900), "too long a strip"),
        (claimed(14_000, 14_000, bits=16, colour=6), "has 196 megapixels, more than the limit of 100"),
        (
            claimed(8_000, 8_000, bits=16),
            "has 64 megapixels of 16 bits, too much to decode; save it as an 8-bit",
        ),
        (claimed(9_000, 9_000, colour=6), "has 81 megapixels of 8 bits, too much to decode"),
    ],
)
def test_what_costs_too_much_is_refused_by_its_header(data: bytes, sentence: str) -> None:
    with pytest.raises(PhotoSizeError, match=sentence):
        photo.load(data)


def test_odd_facts_break_no_reader(tmp_path: Path) -> None:
    """Dates in no calendar, and files cut in the middle of what the record and the pages read."""
    picture = Image.fromarray(gradient())
    whole = saved(picture, "PNG", exif=exif_block(_36867="9999:99:99 99:99:99"))
    files = {
        "odd.png": whole,
        "first.png": saved(picture, "PNG", exif=exif_block(_36867="0001:01:01 00:00:00")),
    }
    files |= {f"cut{at}.png": whole[: len(whole) * at // 10] for at in range(1, 10)}
    for name, data in files.items():
        path = tmp_path / name
        path.write_bytes(data)
        assert camera_time(path) is None or name == "first.png"
        assert (preview_jpeg(path) is None) == name.startswith("cut")


def test_time_and_zone_of_the_camera(tmp_path: Path) -> None:
    block = exif_block(_36867="2026:05:12 10:55:20", _36881="+02:00")
    facts = read_exif(block.removeprefix(b"Exif\0\0"))
    assert (facts.taken, facts.taken_offset) == ("2026-05-12T10:55:20", "+02:00")
    path = tmp_path / "a.jpg"
    path.write_bytes(saved(gradient(), "JPEG", exif=block))
    assert camera_time(path) == "2026-05-12T08:55:20.000000+00:00"


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_a_small_copy_is_the_photograph_made_smaller(orientation: int) -> None:
    picture = np.repeat(np.repeat(gradient(), 4, axis=0), 4, axis=1)
    data = saved(picture, "JPEG", quality=95, exif=exif_block(orientation=orientation))
    small, whole = photo.small_copy(data, longest_side_px=140), photo.load(data).rgb
    assert max(small.shape) == 140
    step = whole.shape[0] / small.shape[0]
    middle = whole[int(step / 2) :: int(step), int(step / 2) :: int(step)][: small.shape[0], : small.shape[1]]
    # 8 of 255: JPEG's blocks and the mean of 16 x 16 pixels of a gradient of 0.11 codes a pixel
    inside = np.abs(small.astype(int) - middle)[:, :, :][5:-5, 5:-5]
    assert np.percentile(inside, 95) < 8
