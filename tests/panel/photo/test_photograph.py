from __future__ import annotations

import hashlib
import struct
import tracemalloc
import zlib
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image, ImageOps

from defectmap.errors import PhotoError, PhotoSizeError, UnreadablePhoto
from defectmap.panel.photo import photograph as photo
from defectmap.words.remark import Remark
from tests.panel.photo.test_colour import P3_PRIMARIES, WIDE_PRIMARIES, icc
from tests.photofiles import (
    DATA,
    ORIENTATION,
    every_kind,
    exif_block,
    gradient,
    png16,
    png_chunk,
    saved,
    tiff,
)

PICTURE = gradient()
WIDE = PICTURE.astype(np.uint16) * 257
GREY = PICTURE[:, :, 0]
OPAQUE = np.full(GREY.shape, 255, np.uint8)
KINDS = every_kind()


def as_rgb(grey: NDArray[np.uint8]) -> NDArray[np.uint8]:
    return np.repeat(grey[:, :, np.newaxis], 3, axis=2)


def indexed(kind: str) -> bytes:
    return saved(Image.fromarray(PICTURE).quantize(64), kind)


def with_alpha(picture: NDArray[Any], alpha: NDArray[np.uint8]) -> NDArray[Any]:
    return np.dstack([picture, alpha.astype(picture.dtype) * (257 if picture.dtype == np.uint16 else 1)])


# (file, what it shows, largest difference in codes): 0 where the kind keeps every code, else its own loss,
# which chroma at half resolution makes largest at the edge of the white corner
PALETTE = np.array(Image.fromarray(PICTURE).quantize(64).convert("RGB"))
ROUND_TRIPS = {
    "png": (KINDS["png"], PICTURE, 0),
    "png 16": (png16(WIDE), PICTURE, 0),
    "png 16 grey": (png16(WIDE[:, :, 0]), as_rgb(GREY), 0),
    "png 16 alpha": (png16(with_alpha(WIDE, OPAQUE)), PICTURE, 0),
    "png grey": (saved(GREY, "PNG"), as_rgb(GREY), 0),
    "png palette": (indexed("PNG"), PALETTE, 0),
    "png 1 bit": (saved(Image.fromarray(GREY > 128), "PNG"), as_rgb((GREY > 128) * np.uint8(255)), 0),
    "png alpha": (saved(with_alpha(PICTURE, OPAQUE), "PNG"), PICTURE, 0),
    "png grey alpha": (saved(with_alpha(GREY, OPAQUE), "PNG"), as_rgb(GREY), 0),
    "tiff": (KINDS["tiff"], PICTURE, 0),
    "tiff lzw": (saved(PICTURE, "TIFF", compression="tiff_lzw"), PICTURE, 0),
    "tiff deflate": (saved(PICTURE, "TIFF", compression="tiff_deflate"), PICTURE, 0),
    "tiff grey": (saved(GREY, "TIFF"), as_rgb(GREY), 0),
    "tiff palette": (indexed("TIFF"), PALETTE, 0),
    "tiff white is zero": (tiff(255 - GREY, photometric="miniswhite"), as_rgb(GREY), 0),
    "tiff alpha": (saved(with_alpha(PICTURE, OPAQUE), "TIFF"), PICTURE, 0),
    "tiff planes": (tiff(np.moveaxis(PICTURE, 2, 0), photometric="rgb", planarconfig="separate"), PICTURE, 0),
    "tiff big": (tiff(PICTURE, photometric="rgb", bigtiff=True), PICTURE, 0),
    "tiff cmyk": (saved(Image.fromarray(PICTURE).convert("CMYK"), "TIFF"), PICTURE, 0),
    "tiff 16": (KINDS["tiff 16"], PICTURE, 0),
    "tiff 16 big-endian": (tiff(WIDE, photometric="rgb", byteorder=">"), PICTURE, 0),
    "tiff 16 tiles": (tiff(WIDE, photometric="rgb", tile=(64, 64)), PICTURE, 0),
    "tiff 16 deflate": (tiff(WIDE, photometric="rgb", compression="zlib", predictor=True), PICTURE, 0),
    "tiff 16 grey": (tiff(WIDE[:, :, 0]), as_rgb(GREY), 0),
    "tiff 16 white is zero": (tiff(65535 - WIDE[:, :, 0], photometric="miniswhite"), as_rgb(GREY), 0),
    "webp lossless": (saved(PICTURE, "WEBP", lossless=True), PICTURE, 0),
    "webp alpha": (saved(with_alpha(PICTURE, OPAQUE), "WEBP", lossless=True), PICTURE, 0),
    "webp": (KINDS["webp"], PICTURE, 20),
    "jpeg": (KINDS["jpeg"], PICTURE, 20),
    "jpeg progressive": (KINDS["progressive jpeg"], PICTURE, 20),
    "jpeg grey": (saved(GREY, "JPEG", quality=95), as_rgb(GREY), 12),
    "jpeg cmyk": (saved(Image.fromarray(PICTURE).convert("CMYK"), "JPEG", quality=95), PICTURE, 20),
    "heic": (KINDS["heic"], PICTURE, 8),
    "heic 10 bit": ((DATA / "ten-bit.heic").read_bytes(), PICTURE, 8),
}


@pytest.mark.parametrize("kind", ROUND_TRIPS)
def test_every_kind_shows_its_picture(kind: str) -> None:
    data, picture, loss = ROUND_TRIPS[kind]
    loaded = photo.load(data)
    assert np.abs(loaded.rgb.astype(int) - picture).max() <= loss
    assert loaded.rgb.shape == (*loaded.luminance.shape, 3) == (*loaded.clipped.shape, 3)
    kinds = [str(part.dtype) for part in (loaded.rgb, loaded.luminance, loaded.clipped)]
    assert kinds == ["uint8", "float32", "bool"]
    assert (loaded.facts.height_px, loaded.facts.width_px) == loaded.luminance.shape
    assert loaded.clipped[20:80, 20:80].all()
    assert not loaded.clipped[150:300, 150:300].any() or "1 bit" in kind
    assert loaded.luminance[50, 50] == pytest.approx(1, abs=1e-6)


def test_depths_are_told() -> None:
    assert photo.load(KINDS["png"]).facts.bits == 8
    assert photo.load(KINDS["tiff 16"]).facts.bits == 16
    assert photo.load((DATA / "ten-bit.heic").read_bytes()).facts.bits == 10


def test_sixteen_bits_keep_what_eight_would_lose() -> None:
    picture = np.full((420, 560, 3), 20000, np.uint16)
    picture[:, 280:] += 100  # less than half a code of 8 bits
    light = photo.load(png16(picture)).luminance
    # IEC 61966-2-1 at 20000/65535: slope 2.4/1.055 ((0.3052+0.055)/1.055)^1.4 = 0.506
    assert light[0, 400] - light[0, 0] == pytest.approx(0.506 * 100 / 65535, rel=0.01)


# Each of the eight values: how the stored picture is made from the upright one. Pillow's own exif_transpose,
# an independent implementation of CIPA DC-008, is asked below as well.
STORED = {
    1: lambda p: p,
    2: lambda p: p[:, ::-1],
    3: lambda p: p[::-1, ::-1],
    4: lambda p: p[::-1],
    5: lambda p: p.transpose(1, 0, 2),
    6: lambda p: np.rot90(p),
    7: lambda p: p[::-1, ::-1].transpose(1, 0, 2),
    8: lambda p: np.rot90(p, -1),
}


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("kind", ["PNG", "JPEG", "WEBP", "TIFF", "TIFF 16"])
def test_orientation_is_applied_exactly_once(kind: str, orientation: int) -> None:
    stored = np.ascontiguousarray(STORED[orientation](PICTURE))
    if kind == "TIFF 16":
        tag = (ORIENTATION, 3, 1, orientation, True)
        data = tiff(stored.astype(np.uint16) * 257, photometric="rgb", extratags=[tag])
    else:
        data = saved(stored, kind, exif=exif_block(orientation=orientation))
    loaded = photo.load(data)
    loss = 0 if kind in ("PNG", "TIFF", "TIFF 16") else 25  # the lossy kinds at their default quality
    assert loaded.rgb.shape == PICTURE.shape
    assert np.abs(loaded.rgb.astype(int) - PICTURE).max() <= loss
    assert loaded.rgb.flags.c_contiguous
    assert (loaded.facts.width_px, loaded.facts.height_px) == (560, 420)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_turning_agrees_with_an_independent_library(orientation: int) -> None:
    image = Image.fromarray(PICTURE)
    image.getexif()[ORIENTATION] = orientation
    assert np.array_equal(photo.turn_upright(PICTURE, orientation), np.array(ImageOps.exif_transpose(image)))


def test_heic_is_turned_by_its_container_and_not_again_by_exif() -> None:
    loaded = photo.load(DATA / "turned.heic")
    assert np.abs(loaded.rgb.astype(int) - PICTURE).max() <= 8  # the encoder's loss


def test_facts_come_with_the_picture() -> None:
    data = saved(PICTURE, "JPEG", exif=exif_block())
    facts = photo.load(data, name="bonnet 3").facts
    assert facts.name == "bonnet 3"
    assert facts.sha256 == hashlib.sha256(data).hexdigest()
    assert (facts.taken, facts.iso, facts.camera) == ("2025-06-07T08:09:10", 200, "Example Camera One")
    assert facts.exposure_s == pytest.approx(1 / 125)
    assert not facts.hdr


@pytest.mark.parametrize("kind", ["PNG", "WEBP", "TIFF"])
def test_facts_are_read_from_other_kinds(kind: str) -> None:
    assert photo.load(saved(PICTURE, kind, exif=exif_block())).facts.iso == 200


def test_focal_length_in_pixels_follows_from_the_diagonal() -> None:
    # CIPA DC-008: the length that gives the same diagonal view on 36 x 24 mm (43.27 mm); ours is 700 px
    loaded = photo.load(saved(PICTURE, "JPEG", exif=exif_block(t41989=26)))
    assert loaded.focal_px == pytest.approx(26 / 43.27 * 700, rel=1e-3)
    assert photo.load(KINDS["jpeg"]).focal_px is None


def test_heic_facts_and_merged_exposures() -> None:
    loaded = photo.load(DATA / "plain.heic")
    assert (loaded.facts.name, loaded.facts.iso, loaded.facts.hdr) == ("plain.heic", 320, True)
    assert Remark(code="merged") in loaded.warnings
    assert "SERIAL123" not in repr(loaded.facts)


def test_a_plain_picture_gives_no_warning() -> None:
    assert photo.load(KINDS["jpeg"]).warnings == ()


def test_transparent_parts_are_black_and_said() -> None:
    alpha = OPAQUE.copy()
    alpha[200:300], alpha[300:] = 128, 0
    for data in (
        saved(with_alpha(PICTURE, alpha), "PNG"),
        saved(with_alpha(PICTURE, alpha), "TIFF"),
        saved(with_alpha(PICTURE, alpha), "WEBP", lossless=True, exact=True),
        png16(with_alpha(WIDE, alpha)),
    ):
        loaded = photo.load(data)
        assert np.array_equal(loaded.rgb[:200], PICTURE[:200])
        # half a code for rounding, once in 16 bits and once in 8
        assert np.abs(loaded.rgb[200:300] - PICTURE[200:300] * (128 / 255)).max() <= 1
        assert not loaded.rgb[300:].any()
        assert loaded.warnings == (Remark(code="see-through"),)
    loaded = photo.load(DATA / "see-through.heic")
    assert loaded.rgb[205:295].max() <= 8  # the encoder's loss
    assert loaded.warnings


def test_display_p3_is_weighted_by_its_own_primaries() -> None:
    data = saved(PICTURE, "PNG", icc_profile=icc(P3_PRIMARIES))
    loaded = photo.load(data)
    plain = photo.load(KINDS["png"])
    # P3's green carries 0.6917 of the light and sRGB's 0.7152; its red 0.2290 against 0.2126
    assert loaded.luminance[-1, 0] < plain.luminance[-1, 0]
    assert loaded.luminance[0, -1] > plain.luminance[0, -1]
    assert loaded.warnings == ()


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "WEBP", "TIFF"])
def test_other_profiles_are_said(kind: str) -> None:
    loaded = photo.load(saved(PICTURE, kind, icc_profile=icc(WIDE_PRIMARIES, gamma=2.2)))
    assert Remark(code="unknown-colours") in loaded.warnings


def test_cmyk_is_said() -> None:
    assert photo.load(ROUND_TRIPS["jpeg cmyk"][0]).warnings[0].code == "printing-colours"


def test_the_first_of_several_pictures_is_taken() -> None:
    other = [Image.fromarray(PICTURE[::-1].copy())]
    files = [saved(PICTURE, kind, save_all=True, append_images=other) for kind in ("PNG", "TIFF")]
    files.append(saved(PICTURE, "WEBP", save_all=True, append_images=other, lossless=True))
    for data in files:
        loaded = photo.load(data)
        assert np.array_equal(loaded.rgb, PICTURE)
        assert loaded.warnings == (Remark(code="several-pictures"),)


def test_gain_map_counts_as_merged_exposures() -> None:
    announcement = b"urn:iso:std:iso:ts:21496:-1\0\0\0\0\0"
    segment = b"\xff\xe2" + struct.pack(">H", len(announcement) + 2) + announcement
    data = KINDS["jpeg"]
    assert photo.load(data[:2] + segment + data[2:]).facts.hdr


# refusals


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"", "is empty; copy it"),
        (b"just some text", "is not a picture that can be read; save it as JPEG"),
        (saved(PICTURE, "GIF"), "is not a picture that can be read"),
        (saved(PICTURE, "BMP"), "is not a picture that can be read"),
        (
            b"\0\0\0\x18ftypcrx \0\0\0\1crx isom" + bytes(99),
            "is a raw camera file; export it as JPEG or TIFF",
        ),
        (b"IIRO\x08\0\0\0" + bytes(99), "is a raw camera file"),
        (b"II*\0\x10\0\0\0CR\2\0" + bytes(99), "is a raw camera file"),
        (
            tiff(PICTURE, photometric="rgb", extratags=[(50706, 1, 4, b"\1\4\0\0", True)]),
            "is a raw camera file",
        ),
        (tiff(PICTURE / np.float32(255), photometric="rgb"), "save it as 8- or 16-bit"),
        (tiff(np.moveaxis(WIDE, 2, 0), photometric="rgb", planarconfig="separate"), "separate planes"),
    ],
)
def test_what_is_no_photograph_is_refused_with_what_to_do(data: bytes, sentence: str) -> None:
    with pytest.raises(UnreadablePhoto, match=sentence):
        photo.load(data)


def test_a_raw_file_is_known_by_its_ending() -> None:
    with pytest.raises(UnreadablePhoto, match=r"p1\.NEF is a raw camera file"):
        photo.load(KINDS["tiff"], name="p1.NEF")


def test_missing_files_and_folders(tmp_path: Path) -> None:
    with pytest.raises(UnreadablePhoto, match=r"File not found: gone\.jpg; check its name"):
        photo.load(tmp_path / "gone.jpg")
    with pytest.raises(UnreadablePhoto, match="is a folder; name a photograph"):
        photo.load(tmp_path)
    with pytest.raises(UnreadablePhoto, match="cannot be opened"):
        photo.load("a\0b")


def test_file_names_may_be_any_text(tmp_path: Path) -> None:
    path = tmp_path / "Haube größer – 1 of 2 #?.jpg"
    path.write_bytes(KINDS["jpeg"])
    assert photo.load(path).facts.name == path.name
    assert photo.load(str(path)).facts.name == path.name


@pytest.mark.parametrize("shape", [(399, 900, 3), (900, 399, 3), (1, 1, 3)])
def test_too_small_is_refused_with_the_limit(shape: tuple[int, int, int]) -> None:
    with pytest.raises(PhotoSizeError, match="the shorter side needs 400"):
        photo.load(saved(np.zeros(shape, np.uint8), "PNG"))


def test_the_smallest_allowed_picture_is_read() -> None:
    assert photo.load(saved(np.zeros((400, 400, 3), np.uint8), "PNG")).facts.width_px == 400


def bombs() -> dict[str, bytes]:
    """Files that claim 3600 megapixels (WebP: 268, its largest) and hold next to nothing."""
    side = 60_000
    ihdr = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
    jpeg, webp = bytearray(KINDS["jpeg"]), saved(with_alpha(PICTURE, OPAQUE), "WEBP", exif=exif_block())
    start = jpeg.index(b"\xff\xc0")
    jpeg[start + 5 : start + 9] = struct.pack(">HH", side, side)
    heic = KINDS["heic"].replace(struct.pack(">II", 560, 420), struct.pack(">II", 20_000, 20_000))
    tags = [
        (256, 4, 1, side),
        (257, 4, 1, side),
        (258, 3, 1, 8),
        (262, 3, 1, 1),
        (273, 4, 1, 8),
        (279, 4, 1, 8),
    ]
    entries = b"".join(struct.pack("<HHII", *tag) for tag in tags)
    return {
        "png": b"\x89PNG\r\n\x1a\n"
        + png_chunk(b"IHDR", ihdr)
        + png_chunk(b"IDAT", zlib.compress(bytes(9)))
        + png_chunk(b"IEND", b""),
        "jpeg": bytes(jpeg),
        "webp": webp[:24] + b"\xff\x3f\x00" * 2 + webp[30:],
        "tiff": b"II*\0\x08\0\0\0" + struct.pack("<H", len(tags)) + entries + bytes(4),
        "heic": heic,
    }


@pytest.mark.parametrize("kind", ["png", "jpeg", "webp", "tiff", "heic"])
def test_too_many_pixels_are_refused_before_decoding(kind: str) -> None:
    data = bombs()[kind]
    tracemalloc.start()
    with pytest.raises(PhotoSizeError, match="megapixels, more than the limit of 100; save a smaller copy"):
        photo.load(data)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 5_000_000  # bytes: copies of a header and no more


def test_the_pixel_limit_can_be_set() -> None:
    with pytest.raises(PhotoSizeError, match=r"more than the limit of 0\.2"):
        photo.load(KINDS["jpeg"], max_megapixels=0.2)


def test_a_jpeg_that_was_cut_is_refused() -> None:
    data = KINDS["jpeg"]
    with pytest.raises(UnreadablePhoto, match="ends before its picture does; copy it"):
        photo.load(data[: len(data) * 2 // 3])


def test_a_jpeg_that_was_cut_and_closed_again_is_refused() -> None:
    rng = np.random.default_rng(2)
    for kind in ("RGB", "L"):
        picture = Image.fromarray(rng.integers(0, 255, (420, 560, 3), dtype=np.uint8)).convert(kind)
        data = saved(picture, "JPEG")
        closed = data[: len(data) // 2] + b"\xff\xd9"
        assert cv2.imdecode(np.frombuffer(closed, np.uint8), cv2.IMREAD_COLOR) is not None  # filled with grey
        with pytest.raises(UnreadablePhoto, match="ends before its picture does"):
            photo.load(closed)


def test_a_sound_jpeg_may_end_in_mid_grey() -> None:
    picture = PICTURE.copy()
    picture[-64:, -64:] = 128
    assert (photo.load(saved(picture, "JPEG", quality=95)).rgb[-8:, -8:] == 128).all()


def test_what_follows_a_jpeg_does_no_harm() -> None:
    for more in (bytes(50), b"moving pictures" * 99, KINDS["jpeg"]):
        assert photo.load(KINDS["jpeg"] + more).rgb.shape == PICTURE.shape


def test_a_jpeg_with_restarts_is_sound() -> None:
    data = cv2.imencode(".jpg", PICTURE, [cv2.IMWRITE_JPEG_RST_INTERVAL, 4])[1].tobytes()
    assert b"\xff\xd0" in data
    assert photo.load(data).rgb.shape == PICTURE.shape


@pytest.mark.parametrize("kind", ["png", "webp", "heic", "tiff 16"])
def test_other_kinds_that_were_cut_are_refused(kind: str) -> None:
    with pytest.raises(UnreadablePhoto, match="ends before its picture does"):
        photo.load(KINDS[kind][: len(KINDS[kind]) // 2])


def test_a_damaged_png_is_refused() -> None:
    data = bytearray(KINDS["png"])
    data[len(data) // 2] ^= 1
    with pytest.raises(UnreadablePhoto, match="is a damaged PNG"):
        photo.load(bytes(data))


def test_a_png_that_lacks_a_part_is_refused() -> None:
    packed = zlib.compress(b"\0" * 9)  # far less than 420 rows
    data = b"\x89PNG\r\n\x1a\n" + png_chunk(b"IHDR", struct.pack(">IIBBBBB", 560, 420, 8, 2, 0, 0, 0))
    with pytest.raises(UnreadablePhoto, match="is a damaged PNG"):
        photo.load(data + png_chunk(b"IDAT", packed) + png_chunk(b"IEND", b""))


# properties

FIRST_BYTES = [
    b"",
    b"\xff\xd8\xff",
    b"\x89PNG\r\n\x1a\n",
    b"RIFF\x20\0\0\0WEBPVP8 ",
    b"II*\0\x08\0\0\0",
    b"\0\0\0\x18ftypheic",
]


@given(start=st.sampled_from(FIRST_BYTES), rest=st.binary(max_size=500))
@settings(deadline=None)
def test_any_bytes_are_refused_in_our_own_words(start: bytes, rest: bytes) -> None:
    with pytest.raises(PhotoError):
        photo.load(start + rest)


@given(kind=st.sampled_from(sorted(KINDS)), share=st.floats(0, 1, exclude_max=True))
@settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
def test_a_cut_file_is_refused_or_whole(kind: str, share: float) -> None:
    data = KINDS[kind]
    try:
        cut = photo.load(data[: int(len(data) * share)])
    except PhotoError:
        return
    assert np.array_equal(cut.rgb, photo.load(data).rgb)  # only bytes after the picture were lost


@given(
    kind=st.sampled_from(sorted(KINDS)), share=st.floats(0, 1, exclude_max=True), value=st.integers(0, 255)
)
@settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
def test_a_changed_byte_gives_a_picture_or_our_own_refusal(kind: str, share: float, value: int) -> None:
    data = bytearray(KINDS[kind])
    data[int(len(data) * share)] = value
    try:
        loaded = photo.load(bytes(data))
    except PhotoError:
        return
    assert loaded.luminance.shape == (loaded.facts.height_px, loaded.facts.width_px)
