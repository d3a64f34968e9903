"""The coach is shown records of photographs with one fault each, and must name that one."""

from __future__ import annotations

import copy
from collections.abc import Callable
from pathlib import Path
from typing import Any, get_args

import pytest

from defectmap.panel.measurement import LampSide
from defectmap.trade import coach as coach_rule
from defectmap.trade.coach import Coaching, coach, summary, zone_share
from defectmap.words.coach_words import COACH, SIDES, coached, place


def up(times: float) -> float:
    return times


def down(times: float) -> float:
    return 1 / times


def _record(**changes: Any) -> dict[str, Any]:
    """A good photograph of 2000 x 1500 px at 16 px/mm."""
    record: dict[str, Any] = {
        "photo": {"width_px": 2000, "height_px": 1500, "exposure_s": 0.01, "iso": 80.0, "f_number": 1.8},
        "scale": {"px_per_mm": 16.0, "source": "typed", "tilt_deg": None},
        "hotspot": {"x": 1000.0, "y": 750.0, "radius_px": 128.0, "lamps": 1},
        "zone": {"area_cm2": 110.0},
        "marks": [{"width_mm": 2.2 / 16} for _ in range(20)],
        "warnings": [],
        "warning_details": [],
        "refused": None,
    }
    for path, value in changes.items():
        *groups, last = path.split("__")
        inside = record
        for group in groups:
            inside = inside[group]
        inside[last] = value
    return record


def _asked(coaching: Coaching) -> list[tuple[str, str]]:
    return [(hint.topic, coached(hint.remark)) for hint in coaching.to_do]


def test_nothing_is_asked_of_a_good_photograph() -> None:
    coaching = coach(_record(), earlier=_record())
    assert coaching.level == "good"
    assert coaching.to_do == ()


@pytest.mark.parametrize(
    ("changes", "topic", "says"),
    [
        ({"hotspot__x": 200.0, "hotspot__y": 200.0}, "hotspot", "upper left"),
        ({"hotspot__radius_px": 300.0}, "hotspot", "lamp farther"),
        ({"hotspot__radius_px": 20.0}, "hotspot", "closer"),
        ({"zone__area_cm2": 20.0}, "exposure", "17 % of the picture"),
        ({"marks": [{"width_mm": 6 / 16}] * 20}, "focus", "6.0 px wide"),
        ({"scale__source": "none"}, "scale", "uncalibrated"),
        ({"scale__tilt_deg": 31.0}, "scale", "31°"),
        ({"warning_details": [{"code": "merged", "values": {}}]}, "file", "HDR"),
    ],
)
def test_each_fault_is_named_alone(changes: dict[str, Any], topic: str, says: str) -> None:
    asked = _asked(coach(_record(**changes)))
    assert [one for one, _ in asked] == [topic]
    assert says in asked[0][1]


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"hotspot__radius_px": 180.0}, "1.4 times larger"),
        ({"scale__px_per_mm": 24.0, "hotspot__radius_px": 192.0}, "from farther away"),
        ({"photo__exposure_s": 0.04}, "2.0 stops more"),
    ],
)
def test_what_does_not_match_the_earlier_photograph_is_said(changes: dict[str, Any], says: str) -> None:
    record = _record(**changes)
    record["marks"] = [{"width_mm": 2.2 / record["scale"]["px_per_mm"]}] * 20
    asked = _asked(coach(record, earlier=_record()))
    assert [topic for topic, _ in asked] == ["match"]
    assert says in asked[0][1]


LIMITS: dict[str, tuple[float, Callable[[float], dict[str, Any]], Callable[[float], float]]] = {
    # what is asked for: its limit, the change that a value makes to a good photograph, and which way is worse
    "hotspot in": (0.22, lambda x: {"hotspot__y": 749.5 + 1500 * x}, up),
    "hotspot large": (0.16, lambda x: {"hotspot__radius_px": 1500 * x}, up),
    "hotspot small": (0.025, lambda x: {"hotspot__radius_px": 1500 * x}, down),
    "zone small": (0.35, lambda x: {"zone__area_cm2": x * 3e6 / 25600}, down),
    "focus soft": (4.0, lambda x: {"marks": [{"width_mm": x / 16}] * 20}, up),
    "focus unknown": (7.5, lambda x: {"marks": [{"width_mm": 2.2 / 16}] * round(x)}, down),
    "scale tilted": (20.0, lambda x: {"scale__tilt_deg": x}, up),
    "hotspot larger": (1.15, lambda x: {"hotspot__radius_px": 128 * x}, up),
    "hotspot smaller": (1 / 1.15, lambda x: {"hotspot__radius_px": 128 * x}, down),
    "more exposure": (0.7, lambda x: {"photo__exposure_s": 0.01 * 2**x}, up),
    "less exposure": (0.7, lambda x: {"photo__exposure_s": 0.01 * 2**-x}, up),
    "taken farther away before": (1.25, lambda x: zoomed(x), up),
    "taken closer before": (1 / 1.25, lambda x: zoomed(x), down),
}


def zoomed(times: float) -> dict[str, Any]:
    """Taken nearer: everything on the paint is larger, and the zone as large in the picture."""
    marks = [{"width_mm": 2.2 / 16 / times}] * 20
    return {
        "scale__px_per_mm": 16 * times,
        "hotspot__radius_px": 128 * times,
        "zone__area_cm2": 110 / times**2,
        "marks": marks,
    }


@pytest.mark.parametrize("code", LIMITS)
def test_each_thing_is_asked_for_beyond_its_limit_and_not_before(code: str) -> None:
    limit, change, worse = LIMITS[code]
    for times, asked in ((1 / worse(1.07), False), (worse(1.07), True)):
        found = coach(_record(**change(limit * times)), earlier=_record())
        assert (code in [hint.remark.code for hint in found.to_do]) is asked, times


def test_unknown_exposure_is_not_compared() -> None:
    assert coach(_record(photo__iso=None), earlier=_record()).level == "good"


def test_a_refused_photograph_is_to_be_taken_again_for_its_reason() -> None:
    coaching = coach({"refused": "The lamp's reflection is cut by the frame. Retake it."})
    assert coaching.level == "again"
    assert "cut by the frame" in coached(coaching.to_do[0].remark)


def test_a_film_is_told_where_it_was_blind_and_what_to_do_about_it() -> None:
    blind = {"x_share": 0.8, "y_share": 0.9, "directions_share": 0.42, "lamp_side": "left"}
    film = {
        "blind": [blind],
        "directions_share": 0.6,
        "frames": 90,
        "used": [0, 5],
        "left_out": {"blurred": 40, "lamp cut": 30},
    }
    asked = _asked(coach(_record(film=film), earlier=_record()))
    assert asked == [
        (
            "light",
            "Blind spot lower right: only 42 % of directions showed. "
            "Next time move the lamp to the left of it, too.",
        ),
        ("focus", "40 of 90 frames are shaken. Hold still, move only the lamp."),
        (
            "light",
            "In 30 of 90 frames the picture's edge cuts the reflection; they do not count. Turn sooner.",
        ),
        (
            "match",
            "This spot was photographed before. "
            "A film cannot be compared with a photograph: take one as well.",
        ),
    ]
    whole = film | {"blind": [], "left_out": {}}
    said = [coached(hint.remark) for hint in coach(_record(film=whole)).remarks]
    assert said[:2] == [
        "The sweep could show 60 % of all directions.",
        "2 lamp places out of 90 frames count.",
    ]


def test_every_code_of_the_coach_is_worded_and_every_wording_is_used() -> None:
    text = Path(coach_rule.__file__).read_text("utf-8")
    made = {code for code in COACH if code.startswith(("at ", "lamp "))}
    assert {code for code in set(COACH) - made if f'"{code}"' not in text} == set()
    assert {f"lamp {side}" for side in get_args(LampSide)} == set(SIDES)


def test_zone_share_does_not_depend_on_the_scale() -> None:
    # 110 cm² at 16 px/mm are 110 * 100 * 256 px of 3 million
    assert zone_share(_record()) == pytest.approx(110 * 100 * 256 / 3e6)
    halved = copy.deepcopy(_record())
    halved["scale"]["px_per_mm"], halved["zone"]["area_cm2"] = 8.0, 440.0
    assert zone_share(halved) == pytest.approx(zone_share(_record()))


def test_places_in_words() -> None:
    assert [coached(place(x, y)) for x, y in ((0.1, 0.5), (0.5, 0.1), (0.9, 0.9))] == [
        "the left",
        "the top",
        "lower right",
    ]


def test_the_summary_counts() -> None:
    good, again = coach(_record()), coach({"refused": "no"})
    assert coached(summary([good])) == "All photographs are good to use."
    assert coached(summary([good, again])).startswith("1 to take again, of 2")
