"""The car's plan: every panel has its place, its words, and colours that can be read and told apart."""

from __future__ import annotations

from itertools import combinations
from xml.etree import ElementTree

import numpy as np
import pytest

from defectmap.pages.widgets.carplan import (
    PanelMark,
    colour_of,
    contrast,
    luminance,
    places_of,
    plan_svg,
    text_on,
)
from defectmap.pictures.car_shapes import CAR
from defectmap.trade.tables import load_tables


def _apart(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    return (
        one[0] + one[2] <= other[0]
        or other[0] + other[2] <= one[0]
        or one[1] + one[3] <= other[1]
        or other[1] + other[3] <= one[1]
    )


def test_every_standard_panel_of_a_car_has_its_place() -> None:
    assert {row.name for row in load_tables().panels["car"]} == set(CAR)


def test_no_two_shapes_overlap() -> None:
    names = [*CAR, "spoiler", "mirror", "tow bar", "badge"]
    places = places_of(names, aliases={}, kind="car")
    assert len(places) == len(names)
    assert all(_apart(one, other) for one, other in combinations(places.values(), 2))


def test_another_word_for_a_panel_finds_its_place_and_a_second_one_does_not_cover_it() -> None:
    aliases = {"right rear quarter": "right rear wing"}
    places = places_of(["right rear quarter", "right rear wing"], aliases=aliases, kind="car")
    assert places["right rear quarter"] == CAR["right rear wing"]
    assert _apart(*places.values())


@pytest.mark.parametrize("score", [None, *range(0, 101, 5)])
def test_words_stand_out_on_every_colour(score: float | None) -> None:
    colour = colour_of(score)
    assert contrast(colour, text_on(colour)) >= 4.5  # WCAG 2.2, 1.4.3


def test_a_better_score_is_lighter_so_that_no_hue_is_needed() -> None:
    light = [luminance(colour_of(score)) for score in range(0, 101)]
    assert np.all(np.diff(light) > -1e-4)
    assert light[-1] > 5 * light[0]


def test_contrast_ratios_of_known_pairs() -> None:
    # WCAG 2.2: black on white is 21:1; #767676 is the lightest grey that passes 4.5:1 (well known)
    assert contrast((0, 0, 0), (255, 255, 255)) == pytest.approx(21.0)
    assert contrast((0x76, 0x76, 0x76), (255, 255, 255)) == pytest.approx(4.54, abs=0.005)


def test_the_drawing_is_well_formed_and_escapes_names() -> None:
    marks = [PanelMark(name="<script>&", score=12.0), PanelMark(name="roof", score=None, chosen=True)]
    root = ElementTree.fromstring(plan_svg(marks, aliases={}))
    words = " ".join(root.itertext())
    assert "<script>&" in words
    assert "12, heavily marked" in words
    assert "not measured" in words


@pytest.mark.parametrize("kind", ["van", "motorcycle", "boat"])
def test_other_vehicles_get_a_grid(kind: str) -> None:
    marks = [PanelMark(name=row.name, score=50.0) for row in load_tables().panels[kind]]
    assert ElementTree.fromstring(plan_svg(marks, aliases={}, kind=kind)).tag.endswith("svg")
