from __future__ import annotations

import struct

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import ImageCms
from skimage import color

from defectmap.panel.photo import colour

SRGB_PRIMARIES = ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06))  # IEC 61966-2-1
P3_PRIMARIES = ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060))  # SMPTE EG 432-1
WIDE_PRIMARIES = ((0.64, 0.33), (0.21, 0.71), (0.15, 0.06))
D65, D50 = (0.3127, 0.3290), (0.34567, 0.35850)
BRADFORD = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])


def xyz(chromaticity: tuple[float, float]) -> NDArray[np.float64]:
    x, y = chromaticity
    return np.array([x / y, 1.0, (1 - x - y) / y])


def primaries_to_xyz(
    primaries: tuple[tuple[float, float], tuple[float, float], tuple[float, float]],
    white: tuple[float, float] = D65,
) -> NDArray[np.float64]:
    """Columns are the XYZ of full red, green, blue (SMPTE RP 177)."""
    columns = np.array([xyz(p) for p in primaries]).T
    return columns * np.linalg.solve(columns, xyz(white))


def icc(
    primaries: tuple[tuple[float, float], tuple[float, float], tuple[float, float]],
    *,
    gamma: float | None = None,
) -> bytes:
    """A small ICC profile (ICC.1:2022): colorants adapted to D50 by Bradford, sRGB or plain gamma curve."""
    cone_50, cone_65 = BRADFORD @ xyz(D50), BRADFORD @ xyz(D65)
    adapt = np.linalg.inv(BRADFORD) @ np.diag(cone_50 / cone_65) @ BRADFORD
    colorants = (adapt @ primaries_to_xyz(primaries)).T
    if gamma is None:
        parameters = (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)
        curve = b"para\0\0\0\0\0\3\0\0" + struct.pack(">5i", *(round(v * 65536) for v in parameters))
    else:
        curve = b"curv\0\0\0\0\0\0\0\1" + struct.pack(">H", round(gamma * 256)) + b"\0\0"
    bodies = {b"gTRC": curve}
    for sign, colorant in zip((b"rXYZ", b"gXYZ", b"bXYZ"), colorants, strict=True):
        bodies[sign] = b"XYZ \0\0\0\0" + struct.pack(">3i", *(round(v * 65536) for v in colorant))
    offset, entries, data = 132 + 12 * len(bodies), b"", b""
    for sign, body in bodies.items():
        entries += struct.pack(">4sII", sign, offset + len(data), len(body))
        data += body
    return bytes(128) + struct.pack(">I", len(bodies)) + entries + data


# IEC 61966-2-1 by the values of the documentation of colour (colour-science) and of libpng's tables; codes
# 10 and 11 stand on the two sides of the change of branch
@pytest.mark.parametrize(
    ("code", "light"),
    [(0, 0.0), (10, 0.00303527), (11, 0.00334654), (50, 0.0318960), (128, 0.2158605), (188, 0.5028865),
     (200, 0.5775804), (255, 1.0)],
)  # fmt: skip
def test_srgb_codes_decode_to_the_published_light(code: int, light: float) -> None:
    # 1e-6: the published figures carry seven digits
    assert colour.linear_table(255)[code] == pytest.approx(light, abs=1e-6)


# 0.18 encodes to 0.4613561 (documentation of colour-science); 0.5 decodes to 0.2140411
@pytest.mark.parametrize(("signal", "light"), [(0.4613561, 0.18), (0.5, 0.2140411)])
def test_sixteen_bit_codes_follow_the_same_curve(signal: float, light: float) -> None:
    # one code of 65535 is 1.5e-5 of signal and, at this slope (below 1), less in light
    assert colour.linear_table(65535)[round(signal * 65535)] == pytest.approx(light, abs=1.5e-5)


def test_luminance_agrees_with_an_independent_library() -> None:
    rgb = np.random.default_rng(4).integers(0, 256, (300, 41, 3), dtype=np.uint8)  # crosses stripe borders
    # 1e-4: that library has the matrix with six digits (0.212671), we the standard's four
    assert np.allclose(colour.luminance(rgb, top_code=255), color.rgb2xyz(rgb)[:, :, 1], rtol=0, atol=1e-4)


@pytest.mark.parametrize(("bits", "dtype"), [(8, np.uint8), (10, np.uint16), (16, np.uint16)])
def test_depths_agree_and_white_is_one(bits: int, dtype: type[np.uint8 | np.uint16]) -> None:
    top = 2**bits - 1
    ramp = np.linspace(0, top, 256).round().astype(dtype)
    rgb = np.repeat(ramp[np.newaxis, :, np.newaxis], 3, axis=2)
    light = colour.luminance(rgb, top_code=top)
    assert light.dtype == np.float32
    # 2e-3: half a code of 10 bits (5e-4) at the steepest slope of the curve (2.3), rounded up
    assert np.allclose(light[0], colour.linear_table(255), atol=2e-3)
    assert light[0, -1] == pytest.approx(1, abs=1e-6)
    assert colour.clipped(rgb, top_code=top)[0].tolist() == [False] * 255 + [True]


@pytest.mark.parametrize("channel", [0, 1, 2])
def test_one_full_channel_is_clipped(channel: int) -> None:
    rgb = np.full((200, 9, 3), 254, np.uint8)
    rgb[150, 4, channel] = 255
    assert np.argwhere(colour.clipped(rgb, top_code=255)).tolist() == [[150, 4]]


@pytest.mark.parametrize(("name", "primaries"), [("sRGB", SRGB_PRIMARIES), ("Display P3", P3_PRIMARIES)])
def test_weights_follow_from_the_primaries(
    name: str, primaries: tuple[tuple[float, float], tuple[float, float], tuple[float, float]]
) -> None:
    # 1e-4: the weights are stated with four digits
    assert colour.WEIGHTS[name] == pytest.approx(primaries_to_xyz(primaries)[1], abs=1e-4)
    assert sum(colour.WEIGHTS[name]) == pytest.approx(1, abs=1e-9)


def test_profiles_are_told_apart() -> None:
    assert colour.identify_profile(b"") == "none"
    assert (
        colour.identify_profile(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()) == "sRGB"
    )
    assert colour.identify_profile(icc(SRGB_PRIMARIES)) == "sRGB"
    assert colour.identify_profile(icc(P3_PRIMARIES)) == "Display P3"
    assert colour.identify_profile(icc(WIDE_PRIMARIES, gamma=2.2)) == "other"
    assert colour.identify_profile(icc(SRGB_PRIMARIES, gamma=1.0)) == "other"
    assert colour.identify_profile(icc(SRGB_PRIMARIES, gamma=1.8)) == "other"


@given(st.binary(max_size=400))
def test_any_bytes_are_some_profile(data: bytes) -> None:
    assert colour.identify_profile(data) in ("none", "other")
    assert colour.identify_profile(icc(P3_PRIMARIES)[:128] + data) in ("none", "other")
