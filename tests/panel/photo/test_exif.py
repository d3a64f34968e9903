from __future__ import annotations

import dataclasses
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from defectmap.panel.photo.exif import ExifFacts, read_exif
from tests.photofiles import exif_block


def facts(**tags: Any) -> ExifFacts:
    return read_exif(exif_block(**tags).removeprefix(b"Exif\0\0"))


def test_camera_facts_are_read() -> None:
    read = facts(orientation=6)
    expected: dict[str, Any] = {  # numbers that are close are equal here
        "orientation": 6,
        "taken": "2025-06-07T08:09:10",
        "exposure_s": pytest.approx(1 / 125),
        "iso": 200,
        "f_number": pytest.approx(2.8),
        "focal_length_mm": pytest.approx(26),
        "camera": "Example Camera One",
    }
    assert {name: getattr(read, name) for name in expected} == expected


def test_place_and_serial_number_do_not_leave_the_module() -> None:
    written = repr(dataclasses.asdict(facts()))
    assert not [secret for secret in ("4711", "12.0", "34.0", "56.0") if secret in written]


def test_a_fraction_stored_as_two_numbers_is_one() -> None:
    read = facts(t33434=(1, 120), t33437=(18, 10), t34855=(100, 200))
    assert (read.exposure_s, read.f_number, read.iso) == pytest.approx((1 / 120, 1.8, 100))


def test_maker_is_not_said_twice() -> None:
    assert facts(make="EXAMPLE", model="Example One").camera == "Example One"


# APEX (CIPA DC-008 annex C): Tv = -log2 t, Av = 2 log2 N; so Tv 7 is 1/128 s and Av 3 is f/2.83
def test_apex_values_stand_in_for_plain_ones() -> None:
    read = facts(t33434=0.0, t33437=0.0, t37377=7.0, t37378=3.0)
    assert read.exposure_s == pytest.approx(1 / 128)
    assert read.f_number == pytest.approx(2 * 2**0.5)


def test_full_iso_field_points_to_the_long_one() -> None:
    assert facts(t34855=65535, t34866=102400).iso == 102400


# 2 and 3 of CompositeImage are merged exposures (EXIF 2.32); CustomRendered 2, 3, 8 from memory
@pytest.mark.parametrize(
    ("tags", "hdr"),
    [({"t41985": 0}, False), ({"t41985": 1}, False), ({"t41985": 3}, True), ({"t42080": 3}, True),
     ({"t42080": 1}, False)],
)  # fmt: skip
def test_merged_exposures_are_noticed(tags: dict[str, int], hdr: bool) -> None:
    assert facts(**tags).hdr is hdr


@pytest.mark.parametrize("value", ["", "    :  :     :  :  ", "0000:00:00 00:00:00", "yesterday"])
def test_blank_times_are_unknown(value: str) -> None:
    assert facts(t36867=value).taken is None


@pytest.mark.parametrize("orientation", [0, 9, 4711])
def test_orientation_out_of_range_is_upright(orientation: int) -> None:
    assert facts(orientation=orientation).orientation == 1


@given(st.binary(max_size=300))
def test_any_bytes_give_facts(data: bytes) -> None:
    assert isinstance(read_exif(data), ExifFacts)
    assert isinstance(read_exif(b"II*\0\x08\0\0\0" + data), ExifFacts)


@given(st.integers(0, 10_000), st.integers(0, 255))
def test_a_damaged_block_gives_facts(place: int, value: int) -> None:
    block = bytearray(exif_block().removeprefix(b"Exif\0\0"))
    block[place % len(block)] = value
    assert isinstance(read_exif(bytes(block)), ExifFacts)
