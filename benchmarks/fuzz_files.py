"""Sound files of every kind that the photo door reads (and some that it does not), for `fuzz`."""

from __future__ import annotations

import random
import shutil
import struct
import subprocess
import zlib
from pathlib import Path

import cv2
import numpy as np
from PIL import Image

from tests.photofiles import exif_block, png_chunk, saved, tiff

ROOT = Path(__file__).resolve().parents[1]


def png_of(
    width: int, height: int, *, depth: int = 8, colour: int = 0, interlace: int = 0, rows: bytes = b""
) -> bytes:
    head = struct.pack(">IIBBBBB", width, height, depth, colour, 0, 0, interlace)
    return (
        b"\x89PNG\r\n\x1a\n"
        + png_chunk(b"IHDR", head)
        + png_chunk(b"IDAT", zlib.compress(rows, 6))
        + png_chunk(b"IEND", b"")
    )


def interlaced_png(picture: np.ndarray) -> bytes:
    """Adam7 (PNG, third edition, 8.1), filter 0."""
    passes = (
        (0, 8, 0, 8),
        (0, 8, 4, 8),
        (4, 8, 0, 4),
        (0, 4, 2, 4),
        (2, 4, 0, 2),
        (0, 2, 1, 2),
        (1, 2, 0, 1),
    )
    rows = bytearray()
    for top, down, left, right in passes:
        for row in picture[top::down, left::right]:
            rows += b"\0" + row.tobytes()
    return png_of(picture.shape[1], picture.shape[0], colour=2, interlace=1, rows=bytes(rows))


def sound_files() -> dict[str, bytes]:
    """Sound (and some unreadable) files of every kind, all showing one panel that can be measured."""
    panel = Image.open(ROOT / "samples/photos/left-front-door-before.jpg").convert("RGB")
    panel = panel.resize((600, 450), Image.Resampling.LANCZOS)
    rgb = np.asarray(panel)
    wide = rgb.astype(np.uint16) * 257
    grey, alpha = panel.convert("L"), Image.new("L", panel.size, 128)
    other = panel.transpose(Image.Transpose.ROTATE_180)
    with_alpha = panel.copy()
    with_alpha.putalpha(alpha)
    exif = exif_block()
    files = {
        "jpeg": saved(panel, "JPEG", quality=90, exif=exif),
        "jpeg progressive": saved(panel, "JPEG", quality=90, progressive=True, exif=exif),
        "jpeg 444 restarts": saved(panel, "JPEG", quality=90, subsampling=0, restart_marker_rows=1),
        "jpeg grey": saved(grey, "JPEG", quality=90),
        "jpeg cmyk": saved(panel.convert("CMYK"), "JPEG", quality=90),
        "mpo": saved(panel, "MPO", save_all=True, append_images=[other]),
        "png": saved(panel, "PNG", exif=exif),
        "png 16": cv2.imencode(".png", wide[:, :, ::-1])[1].tobytes(),
        "png 16 alpha": cv2.imencode(".png", np.dstack([wide, wide[:, :, 0]]))[1].tobytes(),
        "png palette": saved(panel.quantize(64), "PNG"),
        "png trns": saved(panel.quantize(64), "PNG", transparency=3),
        "png trns rgb": saved(panel, "PNG", transparency=(1, 2, 3)),
        "png alpha": saved(with_alpha, "PNG"),
        "png grey": saved(grey, "PNG"),
        "png 1": saved(grey.convert("1"), "PNG"),
        "png interlaced": interlaced_png(rgb),
        "apng": saved(panel, "PNG", save_all=True, append_images=[other], duration=50),
        "tiff": saved(panel, "TIFF", exif=exif),
        "tiff 16": tiff(wide, photometric="rgb"),
        "tiff 16 be": tiff(wide, photometric="rgb", byteorder=">"),
        "tiff 16 grey": tiff(wide[:, :, 0]),
        "tiff big": tiff(rgb, photometric="rgb", bigtiff=True),
        "tiff tiles": tiff(rgb, photometric="rgb", tile=(64, 64)),
        "tiff deflate": tiff(wide, photometric="rgb", compression="zlib", predictor=True),
        "tiff planes": tiff(np.moveaxis(rgb, 2, 0), photometric="rgb", planarconfig="separate"),
        "tiff float": tiff(rgb.astype(np.float32) / 255, photometric="rgb"),
        "tiff lzw": saved(panel, "TIFF", compression="tiff_lzw"),
        "tiff jpeg": saved(panel, "TIFF", compression="jpeg"),
        "tiff g4": saved(grey.convert("1"), "TIFF", compression="group4"),
        "tiff palette": saved(panel.quantize(64), "TIFF"),
        "tiff cmyk": saved(panel.convert("CMYK"), "TIFF"),
        "tiff lab": saved(panel.convert("L").convert("RGB"), "TIFF", compression="packbits"),
        "tiff alpha": saved(with_alpha, "TIFF"),
        "tiff pages": saved(panel, "TIFF", save_all=True, append_images=[other]),
        "webp": saved(panel, "WEBP", exif=exif),
        "webp lossless": saved(panel, "WEBP", lossless=True),
        "webp alpha": saved(with_alpha, "WEBP"),
        "webp animated": saved(panel, "WEBP", save_all=True, append_images=[other], duration=50),
        "gif": saved(panel.quantize(64), "GIF"),
        "gif animated": saved(panel, "GIF", save_all=True, append_images=[other]),
        "bmp": saved(panel, "BMP"),
        "ppm": saved(panel, "PPM"),
        "text": b"This is a shopping list.\n" * 40,
        "pdf": saved(panel, "PDF"),
    }
    files |= {f"heic {f.stem}": f.read_bytes() for f in sorted((ROOT / "tests/data").glob("*.heic"))}
    if shutil.which("cjpeg"):  # arithmetic coding, which Pillow cannot write
        for name, flag in (("jpeg arithmetic", "-arithmetic"), ("jpeg optimised", "-optimize")):
            done = subprocess.run(["cjpeg", flag], input=files["ppm"], capture_output=True, check=False)
            if done.returncode == 0:
                files[name] = done.stdout
    return files


def large_files(rng: random.Random) -> tuple[str, bytes]:
    """Bombs just under and over the limits, and real photographs, damaged."""
    which = rng.randrange(12)
    if which < 4:
        pick = rng.choice(sorted((ROOT / "samples/photos").glob("*.jpg")))
        data = bytearray(pick.read_bytes())
        for _ in range(rng.choice((0, 1, 3, 20))):
            data[rng.randrange(600, len(data))] = rng.randrange(256)
        return f"photo {pick.stem}", bytes(data)
    width, height, depth, colour = rng.choice((
        (14000, 14000, 8, 2), (14000, 14200, 8, 0), (14000, 14000, 16, 2), (14000, 14000, 16, 6), (400, 490000, 8, 0),
        (65535, 65535, 8, 2), (1 << 31, 1 << 31, 8, 2), (20000, 9000, 8, 3), (60000, 400, 8, 2),
    ))  # fmt: skip
    channels = {0: 1, 2: 3, 3: 1, 6: 4}[colour]
    row = b"\0" + bytes([rng.randrange(2)]) * (min(width, 70000) * channels * depth // 8)
    if width * height > 2.1e8:
        return f"png bomb {width}x{height}", png_of(width, height, depth=depth, colour=colour, rows=row * 4)
    packer = zlib.compressobj(1)
    body = b"".join(packer.compress(row) for _ in range(height)) + packer.flush()
    head = struct.pack(">IIBBBBB", width, height, depth, colour, 0, 0, 0)
    palette = png_chunk(b"PLTE", bytes(range(48))) if colour == 3 else b""
    packed = png_chunk(b"IHDR", head) + palette + png_chunk(b"IDAT", body) + png_chunk(b"IEND", b"")
    return f"png bomb {width}x{height} {depth} bit colour {colour}", b"\x89PNG\r\n\x1a\n" + packed
