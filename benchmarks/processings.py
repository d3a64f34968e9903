"""What phones and apps do to a picture after it was taken: the common kinds, each as a plain function.

All act on 8-bit sRGB codes, as an app would. None is the processing of a particular program; where a method
has a name its source stands beside it. `CASES` is what the benchmarks of comparing go through.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from defectmap.panel.photo.colour import to_codes, to_light

Codes = NDArray[np.uint8]
Floats = NDArray[np.float32]
Change = Callable[[Codes], Codes]


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One thing that is done to one photograph of a pair."""

    change: Change | None = None
    quality: int = 92  # of the JPEG
    share: float = 1.0  # of the picture's size; a smaller copy has lost the camera's notes
    iso_step: float = 1.0  # sensitivity of the photograph over that of the other


def as_codes(values: NDArray[np.floating]) -> Codes:
    return np.asarray(np.clip(np.round(values), 0, 255), np.uint8)


def sharpened(amount: float, sd: float) -> Change:
    """Unsharp mask on codes, as phones apply it."""

    def apply(codes: Codes) -> Codes:
        plain = codes.astype(np.float32)
        return as_codes(plain + amount * (plain - cv2.GaussianBlur(plain, (0, 0), sd)))

    return apply


def sharpened_within(amount: float, sd: float, beyond: float = 2.0) -> Change:
    """Sharpening whose halos are held to what lies within 1 px, and hardly more."""

    def apply(codes: Codes) -> Codes:
        plain, near = codes.astype(np.float32), np.ones((3, 3), np.uint8)
        sharp = plain + amount * (plain - cv2.GaussianBlur(plain, (0, 0), sd))
        return as_codes(np.clip(sharp, cv2.erode(plain, near) - beyond, cv2.dilate(plain, near) + beyond))

    return apply


def bent(power: float) -> Change:
    """One tone curve for the whole picture."""
    return lambda codes: as_codes(255 * (codes / 255.0) ** power)


def mapped(codes: Codes) -> Codes:
    """Local tone mapping of the light, as a camera does: its slow part is flattened, its fine part kept."""
    light = _flattened(to_light(codes.astype(np.float32) / np.float32(255)))
    return as_codes(255 * to_codes(np.clip(light, 0, 1)))


def mapped_by_power(codes: Codes) -> Codes:
    """The same by an app that takes codes for a plain power of light, which in the shadows they are not."""
    light = _flattened((codes / 255.0).astype(np.float32) ** 2.2)
    return as_codes(255 * np.clip(light, 0, 1) ** (1 / 2.2))


def _flattened(light: Floats) -> Floats:
    lifted = light + np.float32(1e-5)
    slow = cv2.GaussianBlur(np.log(lifted.mean(axis=2)), (0, 0), 40)
    return np.asarray(lifted * np.exp(-0.35 * slow)[..., None], np.float32)


def equalised(clip: float) -> Change:
    """Histogram equalisation in tiles, its contrast limited (Zuiderveld 1994)."""

    def apply(codes: Codes) -> Codes:
        lab = cv2.cvtColor(codes, cv2.COLOR_RGB2LAB)
        lab[..., 0] = cv2.createCLAHE(clip, (8, 8)).apply(lab[..., 0])
        return np.asarray(cv2.cvtColor(lab, cv2.COLOR_LAB2RGB), np.uint8)

    return apply


def fused(codes: Codes) -> Codes:
    """Three exposures of one picture, merged by how well each is exposed (Mertens et al. 2007)."""
    light = (codes / 255.0) ** 2.2
    takes = [as_codes(255 * np.clip(light * 2.0**stops, 0, 1) ** (1 / 2.2)) for stops in (-1.5, 0.0, 1.5)]
    return as_codes(255 * cv2.createMergeMertens().process([take[..., ::-1] for take in takes])[..., ::-1])


def base_flattened(share: float) -> Change:
    """Tone mapping by an edge-preserving base layer (guided filter of the logarithm) and its detail."""

    def apply(codes: Codes) -> Codes:
        light = (codes / 255.0).astype(np.float32) ** 2.2 + 1e-4
        log = np.log(light.mean(axis=2))
        base = guided(log, radius=40, eps=0.3)
        return as_codes(255 * np.clip(light * np.exp((share - 1) * base)[..., None], 0, 1) ** (1 / 2.2))

    return apply


def guided(picture: Floats, *, radius: int, eps: float) -> Floats:
    """Filter guided by the picture itself (He, Sun and Tang 2013)."""
    size = (2 * radius + 1, 2 * radius + 1)
    mean = cv2.blur(picture, size)
    spread = cv2.blur(picture * picture, size) - mean * mean
    slope = spread / (spread + eps)
    return np.asarray(cv2.blur(slope, size) * picture + cv2.blur(mean - slope * mean, size), np.float32)


def guided_by(radius: int, codes_sd: float) -> Change:
    """Each channel through the guided filter."""

    def apply(codes: Codes) -> Codes:
        parts = [guided(part.astype(np.float32), radius=radius, eps=codes_sd**2) for part in cv2.split(codes)]
        return as_codes(np.dstack(parts))

    return apply


def non_local(strength: float) -> Change:
    """Means of like patches (Buades, Coll and Morel 2005)."""
    return lambda codes: np.asarray(
        cv2.fastNlMeansDenoisingColored(codes, None, strength, strength, 5, 11), np.uint8
    )


def bilateral(side: int, codes_sd: float, px_sd: float) -> Change:
    """Means of near pixels of like light (Tomasi and Manduchi 1998)."""
    return lambda codes: np.asarray(cv2.bilateralFilter(codes, side, codes_sd, px_sd), np.uint8)


def median(side: int) -> Change:
    return lambda codes: np.asarray(cv2.medianBlur(codes, side), np.uint8)


def wavelets(times: float, levels: int = 3) -> Change:
    """Undecimated wavelet planes, small coefficients taken out (Starck and Murtagh; hard threshold)."""

    def apply(codes: Codes) -> Codes:
        parts = []
        for part in cv2.split(codes):
            rest, kept = part.astype(np.float32), np.zeros(part.shape, np.float32)
            for level in range(levels):
                taps = np.zeros(4 * 2**level + 1, np.float32)
                taps[:: 2**level] = np.array([1, 4, 6, 4, 1]) / 16
                slow = cv2.sepFilter2D(rest, -1, taps, taps)
                plane = rest - slow
                least = times * float(np.median(np.abs(plane))) / 0.6745
                kept += np.where(np.abs(plane) > least, plane, 0)
                rest = slow
            parts.append(kept + rest)
        return as_codes(np.dstack(parts))

    return apply


def detail_kept(least: float, sd: float) -> Change:
    """Like a learned filter: smooth where nothing stands out, untouched along what plainly does."""

    def apply(codes: Codes) -> Codes:
        plain = codes.astype(np.float32)
        soft = cv2.GaussianBlur(plain, (0, 0), sd)
        apart = np.abs(cv2.GaussianBlur(plain, (0, 0), 0.8) - soft).max(axis=2)
        keep = cv2.GaussianBlur((cv2.dilate(apart, np.ones((3, 3))) > least).astype(np.float32), (0, 0), 1.0)
        return as_codes(soft + keep[..., None] * (plain - soft))

    return apply


def grained(codes_sd: float) -> Change:
    """Grain added, as some apps do so that a smoothed picture does not look like wax."""

    def apply(codes: Codes) -> Codes:
        grain = np.random.default_rng(codes.size).normal(0, codes_sd, codes.shape[:2])
        return as_codes(codes + grain[..., None])

    return apply


def both(*changes: Change) -> Change:
    """One after the other."""

    def apply(codes: Codes) -> Codes:
        for change in changes:
            codes = change(codes)
        return codes

    return apply


def smaller(share: float) -> Change:
    """What a messenger does before it squeezes."""
    return lambda codes: np.asarray(
        cv2.resize(codes, None, fx=share, fy=share, interpolation=cv2.INTER_AREA), np.uint8
    )


CASES: dict[str, Case] = {
    "nothing": Case(),
    "ISO 125": Case(iso_step=1.25),
    "ISO 160": Case(iso_step=1.6),
    "ISO 250": Case(iso_step=2.5),
    "ISO 400": Case(iso_step=4.0),
    "smoothed": Case(change=bilateral(7, 20, 2)),
    "smoothed hard": Case(change=bilateral(9, 40, 3)),
    "denoised lightly": Case(change=non_local(3)),
    "denoised": Case(change=non_local(5)),
    "denoised hard": Case(change=non_local(10)),
    "median": Case(change=median(3)),
    "guided": Case(change=guided_by(3, 6)),
    "wavelets": Case(change=wavelets(3.0)),
    "detail kept": Case(change=detail_kept(4.0, 2.0)),
    "denoised, grained": Case(change=both(non_local(10), grained(1.5))),
    "denoised, sharpened": Case(change=both(non_local(5), sharpened(0.8, 1.0))),
    "ISO 400, denoised hard": Case(change=non_local(10), iso_step=4.0),
    "ISO 800, guided": Case(change=guided_by(3, 12), iso_step=8.0),
    "sharpened": Case(change=sharpened(1.0, 1.0)),
    "sharpened hard": Case(change=sharpened(2.0, 1.5)),
    "sharpened within": Case(change=sharpened_within(1.5, 1.2)),
    "darker curve": Case(change=bent(1.2)),
    "lighter curve": Case(change=bent(0.8)),
    "tone mapped": Case(change=mapped),
    "tone mapped by power": Case(change=mapped_by_power),
    "equalised": Case(change=equalised(2.0)),
    "fused": Case(change=fused),
    "base flattened": Case(change=base_flattened(0.6)),
    "messenger": Case(change=smaller(0.667), quality=72, share=0.667),
    "small messenger": Case(change=smaller(0.5), quality=60, share=0.5),
    "squeezed": Case(change=lambda codes: codes, quality=60),
}
