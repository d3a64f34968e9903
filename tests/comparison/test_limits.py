"""Where each rule of comparability begins: nothing is said just below a limit, its verdict just above."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from defectmap.comparison import light_rules, place_rules
from defectmap.comparison.halo import HaloDifference
from defectmap.comparison.outcome import Reason

NEAR = 0.05  # far under the 20 % by which a limit might slip unseen
FACTS = SimpleNamespace(exposure_s=0.01, iso=100.0, f_number=1.8)


def seen(**more: Any) -> Any:
    """What one photograph shows, as far as these rules look at it."""
    plain: dict[str, Any] = {
        "lamps": 1,
        "facts": FACTS,
        "outline": np.full(10, np.nan),
        "haze": 0.05,
        "body_rgb": np.full(3, 0.1),
        "off_round": 0.0,
        "limit_um": 50.0,
        "area_cm2": 100.0,
        "calibrated": True,
        "px_per_mm": 20.0,
    }
    return SimpleNamespace(**{**plain, **more})


def halo(**more: Any) -> HaloDifference:
    return HaloDifference(**{"stops": 0.0, "shape": 0.0, "radius_steps": 0.0, "body_stops": 0.0, **more})


def laid(**more: float) -> Any:
    return SimpleNamespace(**{"sure": True, "down_mm": 0.0, "right_mm": 0.0, "scale": 1.0, **more})


RULES: dict[str, tuple[float, float, Callable[[float], Iterable[Reason]]]] = {
    # rule: with care from, no from; what it says of a value
    "exposure, stops": (0.8, 1.6, lambda x: light_rules.exposure(seen(), seen(), halo(stops=-x))),
    "paint beside, stops": (1.0, 2.0, lambda x: light_rules.paint(seen(), seen(), halo(body_stops=x))),
    "halo, stops": (0.07, 0.18, lambda x: light_rules.lamp(seen(), seen(), halo(shape=x))),
    "hotspot, ln of radius": (0.10, 0.30, lambda x: light_rules.lamp(seen(), seen(), halo(radius_steps=-x))),
    "unexplained light, stops": (0.7, 1.5, lambda x: light_rules.lamp(seen(), seen(), halo(stops=x))),
    "light read of marks, ln": (
        0.05,
        0.25,
        lambda x: light_rules.focus(SimpleNamespace(lost_steps=-x, width_ratio=1.3)),  # type: ignore[arg-type]
    ),
    "lines not round": (0.2, 0.5, lambda x: light_rules.round_lamp(seen(), seen(off_round=x))),
    "faintest mark, standards": (1.0, 2.0, lambda x: light_rules.detection(seen(limit_um=100 * x), seen())),
    "zone not shared": (
        0.5,
        0.8,
        lambda x: place_rules.overlap(seen(), seen(), common_area_cm2=100 * (1 - x)),
    ),
    "lamp moved, mm": (4.5, math.inf, lambda x: place_rules.lamp_moved(seen(), seen(), laid(down_mm=x))),
    "px per mm, ln of ratio": (
        math.log(1.6),
        math.log(3.0),
        lambda x: place_rules.scale(seen(), seen(px_per_mm=20 * math.exp(x)), laid()),
    ),
    "scale against the paint": (0.015, 0.10, lambda x: place_rules.scale(seen(), seen(), laid(scale=1 - x))),
}


@pytest.mark.parametrize("rule", RULES)
def test_a_limit_is_where_it_is_said_to_be(rule: str) -> None:
    care, no, said = RULES[rule]
    values = [(care * (1 - NEAR), []), (care * (1 + NEAR), ["with care"])]
    values += [] if math.isinf(no) else [(no * (1 - NEAR), ["with care"]), (no * (1 + NEAR), ["no"])]
    for value, verdicts in values:
        assert [reason.verdict for reason in said(value)] == verdicts, value
