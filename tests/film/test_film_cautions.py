"""What is said beside a film's figures."""

from __future__ import annotations

import numpy as np
import pytest

from defectmap.film.film_cautions import film_cautions
from defectmap.panel.measurement import FilmFacts, Scale

SCALE = Scale(px_per_mm=10.0, source="typed")


def facts(*, used: tuple[int, ...] = (0, 1), beside_px: float = 0.0, sure_px: float = 0.5) -> FilmFacts:
    """A film of 40 frames, its used ones some px beside each other."""
    place = np.array([[1.0, 0, beside_px], [0, 1, 0], [0, 0, 1]])
    return FilmFacts(
        frames=40,
        said_frames=40,
        used=used,
        to_first=(place,) * len(used),
        sure_px=(sure_px,) * len(used),
        left_out={},
        directions_share=0.9,
        by_hand=False,
        blind=(),
    )


@pytest.mark.parametrize(
    ("film", "said"),
    [
        (facts(), None),
        (facts(used=(4, 5), beside_px=3.0), None),  # told in the first frame's pixels, and surely
        (facts(used=(4, 5)), "film-other-map"),
        (facts(used=(4, 5), beside_px=3.0, sure_px=6.0), "film-first-unsure"),
    ],
)
def test_where_the_first_frame_lies_is_said_when_it_matters(film: FilmFacts, said: str | None) -> None:
    codes = {remark.code for remark in film_cautions(film, SCALE)}
    assert codes & {"film-other-map", "film-first-unsure"} == ({said} if said else set())
