"""A phone-like camera: blur, glare, exposure, noise, the phone's own processing, JPEG with EXIF."""

from __future__ import annotations

from io import BytesIO

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image
from PIL.TiffImagePlugin import IFDRational
from shading import pixel_noise
from shots import Shot

Picture = NDArray[np.float32]
GAIN_1_S = (
    1 / 24000
)  # exposure at ISO 100 that makes a radiance of 1 saturate: the lamp of every shot is as bright
LUMA = np.array([0.2126, 0.7152, 0.0722], np.float32)


def through_lens(light: Picture, *, blur_px: float, glare: float) -> Picture:
    """Blur by the lens, and a share of all light spread wide by lens and cover glass."""
    sharp = cv2.GaussianBlur(light, (0, 0), blur_px)
    small = cv2.resize(light, None, fx=1 / 16, fy=1 / 16, interpolation=cv2.INTER_AREA)
    width = small.shape[1]
    veil = sum(
        share * cv2.GaussianBlur(small, (0, 0), width * sigma, borderType=cv2.BORDER_CONSTANT)
        for share, sigma in ((0.5, 0.03), (0.3, 0.1), (0.2, 0.3))
    )
    spread = cv2.resize(veil, (light.shape[1], light.shape[0]), interpolation=cv2.INTER_CUBIC)
    return np.asarray((1 - glare) * sharp + glare * spread, np.float32)


def exposure(light: Picture, *, saturated_area_px: float) -> float:
    """Factor that brings the brightest `saturated_area_px` pixels to saturation."""
    rank = -int(saturated_area_px)
    level = np.partition((light @ LUMA).ravel(), rank)[rank]
    return 1.0 / float(level)


def exposure_time(gain: float, iso: float) -> float:
    """Seconds that the shutter was open for a given factor from lamp radiance to saturation."""
    return GAIN_1_S * gain * 100 / iso


def srgb(linear: Picture) -> Picture:
    """IEC 61966-2-1 encoding of linear light 0..1."""
    curve = 1.055 * np.maximum(linear, 1e-9) ** (1 / 2.4) - 0.055
    return np.where(linear <= 0.0031308, 12.92 * linear, curve).astype(np.float32)


def sensor(light: Picture, *, iso: float, seed: int) -> Picture:
    """One exposure: noise by level and ISO, cut off at black and at saturation."""
    rng = np.random.default_rng([seed, 5])
    noise = rng.standard_normal(light.shape, dtype=np.float32) * pixel_noise(light, iso)
    return np.clip(light + noise, 0, 1).astype(np.float32)


def developed(linear: Picture, *, denoise: float, sharpen: float) -> NDArray[np.uint8]:
    """Encode to 8 bit, with the noise reduction and sharpening that a phone does on the way (0: none)."""
    coded = srgb(linear)
    if denoise > 0:
        coded = cv2.bilateralFilter(coded, 5, 0.03 * denoise, 1.2)
    if sharpen > 0:
        coded = coded + sharpen * (coded - cv2.GaussianBlur(coded, (0, 0), 1.2))
    return np.asarray(np.round(np.clip(coded, 0, 1) * 255), np.uint8)


def jpeg(picture: NDArray[np.uint8], shot: Shot, *, exposure_s: float) -> bytes:
    """JPEG bytes with the facts a camera writes."""
    exif = Image.Exif()
    exif[0x010F], exif[0x0110] = "virtual", "rendered panel"
    exif[0x0132] = shot.taken
    facts = exif.get_ifd(0x8769)
    facts[0x829A] = IFDRational(1, round(1 / exposure_s))
    facts[0x829D], facts[0x8827] = IFDRational(18, 10), shot.iso
    facts[0x9003] = facts[0x9004] = shot.taken
    facts[0x920A] = IFDRational(6, 1)
    out = BytesIO()
    Image.fromarray(picture).save(out, "JPEG", quality=shot.quality, subsampling="4:2:0", exif=exif)
    return out.getvalue()
