import pytest

from defectmap.legend import round_length
from defectmap.results import Scale
from defectmap.units import scale_sentence, unit_names


@pytest.mark.parametrize(("longest", "expected"), [(24.0, 20.0), (19.9, 10.0), (5.0, 5.0), (0.09, 0.05)])
def test_scale_bar_is_a_round_length(longest, expected):
    assert round_length(longest) == pytest.approx(expected, rel=1e-12)


def test_no_millimetres_without_a_scale():
    none = Scale(px_per_mm=1.0, source="none")
    assert "mm" not in "".join((unit_names(none).length, unit_names(none).area, unit_names(none).density))
    assert scale_sentence(none).startswith("uncalibrated")


def test_card_scale_tells_the_tilt():
    assert scale_sentence(Scale(px_per_mm=12.345, source="card", tilt_deg=4.2)) == (
        "12.35 px/mm (printed card, card tilted 4°)"
    )
