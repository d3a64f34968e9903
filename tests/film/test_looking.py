"""The first look: where the lamp is, and what stands still in the picture."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np
import pytest

from defectmap.film import tuning
from defectmap.film.looking import look
from defectmap.film.reading import Film, Frame
from defectmap.panel.measurement import PhotoFacts

SHAPE = (360, 640)
FACTS = PhotoFacts(name="door.mp4", sha256="0", width_px=SHAPE[1], height_px=SHAPE[0])


@dataclass(frozen=True)
class Swept:
    """A lamp that wanders over dark paint, with or without signs that stand still."""

    signs: bool = False
    count: int = 12
    by_hand: bool = False
    facts: PhotoFacts = FACTS
    shape: tuple[int, int] = SHAPE

    @property
    def said_frames(self) -> int:
        return self.count

    def frames(self, wanted: Sequence[int] | None = None) -> Iterator[Frame]:
        y, x = np.mgrid[: SHAPE[0], : SHAPE[1]]
        for number in range(self.count) if wanted is None else wanted:
            away = np.hypot(y - 180, x - (120 + 35 * number))
            light = 12 + 243 * np.exp(-((np.maximum(away - 22, 0) / 18) ** 2))
            light += np.random.default_rng(number).normal(0, 2, SHAPE)
            if self.signs:
                light[6:26:2, 10:200] = 220
            yield Frame(
                number=number, rgb=np.repeat(np.clip(light, 0, 255).astype(np.uint8)[..., None], 3, 2)
            )


def test_the_lamp_is_followed() -> None:
    found = look(cast("Film", Swept()))
    assert found.seen == 12
    assert found.static_share < tuning.STATIC_SHARE
    for number, frame in enumerate(found.frames):
        assert frame.lamp is not None
        assert frame.lamp[0] == pytest.approx(120 + 35 * number, abs=4)
        assert frame.changed > tuning.DOUBLED_CODES


def test_signs_that_stand_still_tell_the_recording_of_a_screen() -> None:
    assert look(cast("Film", Swept(signs=True))).static_share > tuning.STATIC_SHARE
