from dataclasses import replace

import numpy as np
import pytest

from defectmap.panel.measurement import DetectionLimit, FilmFacts, Scale
from defectmap.pictures.legend import _font, _sentences, round_length
from defectmap.words.units import light_words, scale_sentence, unit_names
from tests.measurements import panel_measurement


@pytest.mark.parametrize(("longest", "expected"), [(24.0, 20.0), (19.9, 10.0), (5.0, 5.0), (0.09, 0.05)])
def test_scale_bar_is_a_round_length(longest: float, expected: float) -> None:
    assert round_length(longest) == pytest.approx(expected, rel=1e-12)


def test_no_millimetres_without_a_scale() -> None:
    none = Scale(px_per_mm=1.0, source="none")
    assert "mm" not in "".join((unit_names(none).length, unit_names(none).area, unit_names(none).density))
    assert scale_sentence(none).startswith("uncalibrated")


def test_card_scale_tells_the_tilt() -> None:
    assert scale_sentence(Scale(px_per_mm=12.345, source="card", tilt_deg=4.2)) == (
        "12.35 px/mm (printed card, card tilted 4°)"
    )


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (0.004, None, "0.4 % brighter than"),
        (0.12, None, "12 % brighter than"),
        (0.12, 0.4, "12 to 40 % brighter than"),
        (0.994, None, "99 % brighter than"),
        (0.996, None, "2.0 times as bright as"),  # 1 + 0.996: twice the light, never "100 % more"
        (0.93, 1.18, "1.9 to 2.2 times as bright as"),
        (0.12, 0.1201, "12 % brighter than"),
        (9.2, None, "10 times as bright as"),
    ],
)
def test_the_faintest_mark_in_words_at_any_size(low: float, high: float | None, words: str) -> None:
    assert light_words(low, high) == f"{words} the paint beside it"


def test_the_words_under_the_picture_are_those_of_the_figures() -> None:
    """What a percentage is of is said: black paint gives so little light that it is often near 100 %."""
    found = panel_measurement(
        detection_limit=DetectionLimit(contrast_to_noise=3.0, length_mm=1.0, contrast=0.955)
    )
    said = " ".join(_sentences(found))
    assert "Faintest bright mark that shows (typical of this zone): 96 % brighter than the paint" in said
    assert "beside it, over 1 mm." in said
    unscaled = replace(found, score=None, scale=Scale(px_per_mm=1.0, source="none"))
    assert "No finish score (needs a scale)" in " ".join(_sentences(unscaled))
    assert "No finish score (standard marks would" in " ".join(_sentences(replace(found, score=None)))


def test_a_film_is_told_neither_a_score_nor_the_faintest_mark_of_one_lamp_place() -> None:
    film = FilmFacts(
        frames=9,
        said_frames=9,
        used=(0,),
        to_first=(np.eye(3),),
        sure_px=(0.0,),
        left_out={},
        directions_share=0.9,
    )
    said = " ".join(_sentences(panel_measurement(film=film, score=None)))
    assert "No finish score (photographs only, not films)" in said
    assert "Faintest" not in said


def test_every_letter_of_the_legend_can_be_drawn() -> None:
    """Pillow's own font has no µ or ²: they showed as boxes."""
    font = _font(20)
    missing = bytes(font.getmask("\uffff"))
    said = "".join(_sentences(panel_measurement())) + "µ²×–—≥"
    assert [letter for letter in sorted(set(said)) if bytes(font.getmask(letter)) == missing] == []
