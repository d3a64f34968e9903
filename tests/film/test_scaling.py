"""The card in a film: found in whichever frame shows it, carried to the map, and no paint there."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import cast

import cv2
import numpy as np
import pytest

from defectmap.film.homography import transform
from defectmap.film.reading import Film, Frame
from defectmap.film.registering import Registered
from defectmap.film.scaling import FilmScale, find_scale
from defectmap.panel.measurement import PhotoFacts, Scale
from tests.cardshots import TEXELS_PER_MM, card_texture
from tests.film.measured import measured_frame
from tests.phantom.camera import encode_8bit

SHAPE = (720, 1280)
CARD = np.array([[100.0, 100], [300, 100], [300, 200], [100, 200]])
PX_PER_MM = 8.0
FACTS = PhotoFacts(name="door.mp4", sha256="0", width_px=SHAPE[1], height_px=SHAPE[0])


@dataclass(frozen=True)
class Pictures:
    """A film from memory."""

    pictures: Sequence[np.ndarray]
    by_hand: bool = False
    facts: PhotoFacts = FACTS
    said_frames: int = 0
    shape: tuple[int, int] = SHAPE

    def frames(self, wanted: Sequence[int] | None = None) -> Iterator[Frame]:
        for number in wanted or range(len(self.pictures)):
            yield Frame(number=number, rgb=self.pictures[number])


def laid(to_map: Sequence[np.ndarray]) -> Registered:
    frames = [measured_frame(number, (600.0, 300.0), marks=[]) for number in range(len(to_map))]
    count = len(frames)
    return Registered(frames=frames, to_map=list(to_map), sure_px=[0.3] * count, aside_px=0.1, left_out={})


def test_the_card_lies_where_its_frame_lies_on_the_map() -> None:
    found = FilmScale(scale=Scale(px_per_mm=10.0, source="card"), card=CARD, frame=1)
    wider = np.array([[1.1, 0, 20], [0, 1.1, -5], [0, 0, 1]])
    on_map = laid([np.eye(3), wider])
    card = found.card_on_map(on_map)
    assert card is not None
    np.testing.assert_allclose(card, transform(wider, CARD))
    assert found.of_map(on_map).px_per_mm == pytest.approx(11.0)
    assert found.of_map(on_map).source == "card"


def test_a_card_whose_frame_did_not_fit_stays_where_it_was_seen() -> None:
    found = FilmScale(scale=Scale(px_per_mm=10.0, source="card"), card=CARD, frame=7)
    card = found.card_on_map(laid([np.eye(3)]))
    assert card is not None
    assert np.array_equal(card, CARD)
    assert found.of_map(laid([np.eye(3)])).px_per_mm == 10.0


def test_no_lamp_is_sought_about_the_card() -> None:
    mask = FilmScale(scale=Scale(px_per_mm=10.0, source="card"), card=CARD, frame=0).about_card(SHAPE)
    assert mask is not None
    assert mask[150, 200]
    assert mask[150, 330]  # the hand moves by some mm
    assert not mask[150, 420]
    assert FilmScale(scale=Scale(px_per_mm=1.0, source="none")).about_card(SHAPE) is None


def test_the_frame_that_shows_the_card_gives_the_scale() -> None:
    dark = np.full((*SHAPE, 3), 40, np.uint8)
    share = PX_PER_MM / TEXELS_PER_MM
    sheet = cv2.resize(card_texture(), None, fx=share, fy=share, interpolation=cv2.INTER_AREA)
    codes = encode_8bit(np.asarray(sheet, np.float32))[..., None]
    shown = dark.copy()
    shown[30 : 30 + sheet.shape[0], 50 : 50 + sheet.shape[1]] = codes
    film = Pictures([dark, dark, shown, dark])
    found = find_scale(cast("Film", film), range(4), px_per_mm=None, field_width_mm=None)
    assert found.scale.source == "card"
    assert found.frame == 2
    assert found.scale.px_per_mm == pytest.approx(PX_PER_MM, rel=0.01)
    assert found.card is not None
    left, right = found.card[:, 0].min(), found.card[:, 0].max()
    assert 10 < left < 50  # a rim is masked with it
    assert 0 < right - (50 + sheet.shape[1]) < 40
    nothing = find_scale(cast("Film", Pictures([dark, dark])), range(2), px_per_mm=None, field_width_mm=None)
    assert nothing.scale.source == "none"
    typed = find_scale(cast("Film", film), range(4), px_per_mm=12.0, field_width_mm=None)
    assert (typed.scale.px_per_mm, typed.scale.source) == (12.0, "typed")
