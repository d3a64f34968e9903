"""From two photographs to a verdict and a percentage, on photographs whose truth is known."""

import io
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from _pytest.mark.structures import ParameterSet
from PIL import Image

from defectmap.comparison.compare import PairingError, Shot, compare, compare_shots
from defectmap.comparison.limit import Verdict
from defectmap.comparison.outcome import Comparison, Topic
from defectmap.panel.photo.photograph import load
from defectmap.words.comparison_words import REASONS
from defectmap.words.remark import Remark
from tests import phantom
from tests.comparison import phantoms


def slow(*values: object) -> ParameterSet:
    return pytest.param(*values, marks=pytest.mark.slow)


def verdict_on(comparison: Comparison) -> tuple[Verdict, set[Topic]]:
    return comparison.comparable.verdict, {reason.topic for reason in comparison.comparable.reasons}


def against(after: Shot, before: Shot | None = None) -> Comparison:
    return compare_shots([before or phantoms.before()], [after])


def test_a_true_pair_is_compared() -> None:
    found = against(phantoms.after())
    assert verdict_on(found) == ("yes", set())
    change = found.change("density all")
    # seven swirl marks in ten are gone, all scratches stay; the interval must hold the change of the grooves
    kept = sum(phantom.lengths_mm(phantoms.corrected()).values())
    true = 100 * (kept / sum(phantom.lengths_mm(phantoms.swirled()).values()) - 1)
    assert change.ci95_percent is not None
    assert change.ci95_percent[0] < true < change.ci95_percent[1]
    assert change.distinguishable
    assert found.spots[0].alignment.by == "marks"


def test_the_other_way_round_is_worse() -> None:
    found = compare_shots([phantoms.after()], [phantoms.before()]).change("density all")
    assert found.change_percent is not None
    assert found.change_percent > 0
    assert found.distinguishable
    assert found.remark == Remark(code="more marks")


def test_no_change_is_not_distinguishable() -> None:
    again = phantoms.shot(phantoms.swirled(), **phantoms.BY_HAND)
    found = against(again).change("density all")
    assert found.distinguishable is False
    assert found.remark == Remark(code="no change")


@pytest.mark.parametrize(
    ("settings", "topic"),
    [
        ({"ev": 2.0}, "exposure"),
        slow({"ev": -2.0}, "exposure"),
        ({"lamps": 7}, "lamp"),
        slow({"lamp_radius_mm": 22.0}, "lamp"),
        ({"lamp_radius_mm": 22.0, "ev": -2.0}, "lamp"),
        slow({"lamp_radius_mm": 5.5}, "lamp"),
        ({"panel": phantom.Panel(seed=1, body=(0.12, 0.008, 0.008))}, "paint"),
        slow({"panel": phantom.Panel(seed=1, body=(0.3, 0.3, 0.31), flake=1.0)}, "paint"),
    ],
)
def test_another_light_or_paint_is_refused(settings: dict[str, Any], topic: Topic) -> None:
    found = against(phantoms.shot(phantoms.corrected(), **{**phantoms.BY_HAND, **settings}))
    verdict, topics = verdict_on(found)
    assert verdict == "no"
    assert topic in topics
    assert found.changes == ()


@pytest.mark.parametrize("peel", [1, slow(5)])
def test_another_panel_is_refused(peel: int) -> None:
    # even one whose orange peel happens to be the same
    grooves = phantom.swirls(7, density_mm_per_cm2=40)
    other = phantoms.shot(grooves, panel=phantom.Panel(seed=peel), **phantoms.BY_HAND)
    assert verdict_on(against(other)) == ("no", {"place"})


@pytest.mark.parametrize("stops", [-0.5, slow(0.5)])
def test_half_a_stop_is_fine(stops: float) -> None:
    found = against(phantoms.shot(phantoms.corrected(), **phantoms.BY_HAND, ev=stops))
    assert verdict_on(found)[0] == "yes"


def test_one_stop_asks_for_care() -> None:
    found = against(phantoms.shot(phantoms.corrected(), **phantoms.BY_HAND, ev=1.0))
    assert verdict_on(found) == ("with care", {"exposure"})
    assert found.change("density all").change_percent is not None
    assert found.comparable.reasons[0].values["stops"] == pytest.approx(1.0, abs=0.1)
    assert found.comparable.reasons[0].values["word"] == "brighter"


def test_blur_asks_for_care_or_refuses() -> None:
    soft = phantoms.shot(phantoms.corrected(), **phantoms.BY_HAND, width_mm=0.28)
    assert verdict_on(against(soft)) == ("with care", {"focus"})
    blurred = phantoms.shot(phantoms.corrected(), **phantoms.BY_HAND, width_mm=0.45)
    assert verdict_on(against(blurred)) == ("no", {"focus"})


def test_same_file_twice() -> None:
    found = against(phantoms.before())
    assert verdict_on(found) == ("no", {"same picture"})
    assert found.comparable.reasons[0].code == "same file"


def saved_again(change: str) -> Shot:
    """The before photograph, saved once more in another form."""
    first = phantoms.before()
    picture = Image.fromarray(first.photo.rgb)
    row, column, factor = 0.0, 0.0, 1.0
    if change == "cropped":
        picture, row, column = picture.crop((100, 40, 930, 700)), 40.0, 100.0
    if change == "half size":
        picture, factor = (
            picture.resize((picture.width // 2, picture.height // 2), Image.Resampling.LANCZOS),
            0.5,
        )
    data = io.BytesIO()
    picture.save(data, "JPEG", quality=60)
    photo = load(data.getvalue(), name="copy.jpg") if factor == 1 else None
    if (
        photo is None
    ):  # below the least size that is read as a photograph: enlarge again, as a messenger app would
        data = io.BytesIO()
        picture.resize((980, 760)).save(data, "JPEG", quality=80)
        photo, factor = load(data.getvalue(), name="copy.jpg"), 1.0
    hotspot = first.measured.hotspot
    moved = replace(hotspot, row=hotspot.row - row, column=hotspot.column - column)
    zone = first.measured.zone[
        int(row) : int(row) + photo.rgb.shape[0], int(column) : int(column) + photo.rgb.shape[1]
    ]
    return Shot(
        photo=photo, measured=replace(first.measured, photo=photo.facts, hotspot=moved, zone=zone, marks=())
    )


@pytest.mark.parametrize("change", ["compressed", "cropped", slow("half size")])
def test_same_picture_saved_again(change: str) -> None:
    found = against(saved_again(change))
    assert verdict_on(found) == ("no", {"same picture"})


def test_camera_on_a_stand_is_no_copy() -> None:
    # nothing moved, but three swirl marks in ten are gone
    after = phantoms.shot(phantom.polished(phantoms.swirled(), seed=3, keep_share=0.7), seed=9)
    assert verdict_on(against(after))[0] == "yes"


def test_clean_after_proves_at_least_so_much() -> None:
    bare = phantom.polished(phantoms.swirled(), seed=1, keep_share=0.0, kinds=("swirl", "scratch"))
    found = against(phantoms.shot(bare, **phantoms.BY_HAND))
    change = found.change("density all")
    assert found.spots[0].alignment.by == "texture"
    assert change.change_percent == -100
    assert change.at_least_percent is not None
    assert 90 < change.at_least_percent < 100  # three marks of the usual length in 40 cm2 against 14 mm/cm2
    assert change.remark is not None
    assert change.remark.code == "at least"


def test_clean_before_gives_no_percentage() -> None:
    bare = phantoms.shot((), seed=1)
    found = against(phantoms.shot(phantoms.corrected(), **phantoms.BY_HAND), before=bare).change(
        "density all"
    )
    assert found.change_percent is None
    assert found.ci95_percent is None
    assert found.remark == Remark(code="marks from nothing")


def test_order_of_the_clock() -> None:
    early, late = "2026-03-01T10:00:00", "2026-03-01T12:00:00"

    def dated(shot: Shot, taken: str) -> Shot:
        return replace(shot, measured=replace(shot.measured, photo=replace(shot.measured.photo, taken=taken)))

    swapped = compare_shots([dated(phantoms.before(), late)], [dated(phantoms.after(), early)])
    assert verdict_on(swapped) == ("with care", {"order"})
    right = compare_shots([dated(phantoms.before(), early)], [dated(phantoms.after(), late)])
    assert verdict_on(right) == ("yes", set())


def test_wrong_scale_is_found_and_corrected() -> None:
    # the after photograph was taken from 4 % nearer, and nobody said so
    said = phantoms.shot(phantoms.corrected(), **{**phantoms.BY_HAND, "px_per_mm": 10.4}, said_px_per_mm=10.0)
    found = against(said)
    assert verdict_on(found) == ("with care", {"scale"})
    true = against(phantoms.shot(phantoms.corrected(), **{**phantoms.BY_HAND, "px_per_mm": 10.4}))
    kept = [pair.change("density all").after / pair.change("density all").before for pair in (found, true)]
    # 3 %: half a cell of the grid at the rim of the zone is 0.5 % of scale, and rings are cut a little
    # elsewhere
    assert kept[0] == pytest.approx(kept[1], rel=0.03)


def test_one_scale_known_only_is_refused() -> None:
    blind = phantoms.after()
    unknown = replace(blind.measured, scale=replace(blind.measured.scale, px_per_mm=1.0, source="none"))
    assert "scale" in verdict_on(against(replace(blind, measured=unknown)))[1]


def test_filled_paint_is_flagged() -> None:
    found = compare_shots([phantoms.before()], [phantoms.after()], after_stage="filled")
    assert verdict_on(found) == ("with care", {"stage"})
    assert found.claim.word == "less visible"
    assert found.change("density all").change_percent is not None


def test_no_scale_at_all() -> None:
    def unscaled(shot: Shot) -> Shot:
        measured = shot.measured
        scale = replace(measured.scale, px_per_mm=1.0, source="none")
        marks = tuple(replace(mark, length_mm=10 * mark.length_mm) for mark in measured.marks)
        area = 100 * measured.area_cm2  # 10 px/mm
        return Shot(photo=shot.photo, measured=replace(measured, scale=scale, marks=marks, area_cm2=area))

    found = compare_shots([unscaled(phantoms.before())], [unscaled(phantoms.after())])
    assert verdict_on(found) == ("with care", {"scale"})
    assert Remark(code="uncalibrated") in found.warnings
    known = against(phantoms.after()).change("density all").change_percent
    # the same change; rings are cut and the grid is laid by the hotspot's radius, so a little differs
    assert found.change("density all").change_percent == pytest.approx(known, abs=1.0)


def test_numbers_must_match() -> None:
    with pytest.raises(PairingError, match="1 photographs before and 2 after"):
        compare_shots([phantoms.before()], [phantoms.after(), phantoms.after()])
    with pytest.raises(PairingError, match="at least one"):
        compare_shots([], [])


def test_marks_in_one_photograph_say_nothing_of_the_panel() -> None:
    # the sample is the spot: one photograph full of marks is one observation
    found = against(phantoms.after())
    assert len(found.spots[0].before.marks) > 50
    assert found.scope == "this spot"
    assert Remark(code="few spots") in found.warnings


def test_same_seed_same_interval() -> None:
    first, second = (against(phantoms.after()).change("density all") for _ in range(2))
    assert first == second


def test_one_photograph_saved_again_is_no_second_spot() -> None:
    file = io.BytesIO()
    Image.fromarray(phantoms.before().photo.rgb).save(file, format="JPEG", quality=85)
    again = replace(phantoms.before(), photo=load(file.getvalue(), name="spot2.jpg"))
    found = compare_shots(
        [phantoms.before(), again], [phantoms.after(), phantoms.shot(phantoms.corrected(), seed=5)]
    )
    codes = [reason.code for reason in found.comparable.reasons]
    assert "one picture for two spots" in codes
    assert found.comparable.verdict == "no"
    assert found.changes == ()


@pytest.mark.slow
def test_three_spots_speak_of_the_panel() -> None:
    spots = []
    for seed in (11, 12, 13):
        grooves = phantom.swirls(seed, density_mm_per_cm2=40)
        left = phantom.polished(grooves, seed=seed, keep_share=0.35)
        paint = phantom.Panel(seed=seed)
        spots.append(
            (phantoms.shot(grooves, panel=paint), phantoms.shot(left, panel=paint, **phantoms.BY_HAND))
        )
    found = compare_shots([one for one, _ in spots], [other for _, other in spots])
    change = found.change("density all")
    assert found.scope == "the panel"
    assert change.method == "paired"
    assert change.ci95_percent is not None
    assert change.ci95_percent[0] < -65 < change.ci95_percent[1]


def test_rebound_after_the_wipe() -> None:
    # fillers hid all but 15 % of the swirl marks; the wipe brought back what correction had left, 50 %
    paint = phantoms.swirled()
    hidden, left = (phantom.polished(paint, seed=3, keep_share=share) for share in (0.15, 0.5))
    unwiped = phantoms.shot(hidden, **phantoms.BY_HAND)
    found = compare_shots(
        [phantoms.before()], [phantoms.shot(left, **phantoms.BY_HAND)], unwiped=[unwiped], after_stage="wiped"
    ).rebound
    assert found is not None
    assert found.unwiped_change_percent < found.wiped_change_percent < 0
    low, high = found.ci95_points
    assert 0 < low < 35 < high  # 50 less 15 points of the swirl marks, nearly all there is
    assert found.remark.code == "came back"


@pytest.mark.parametrize(("share", "verdict"), [(0.3, "with care"), (1.0, "no")])
def test_lines_that_do_not_run_round_the_lamp_reach_the_comparison(share: float, verdict: Verdict) -> None:
    # cloth, labels, brushed trim: lines of another direction, which one photograph alone is warned of
    shot = phantoms.after()
    hotspot = np.array([shot.measured.hotspot.row, shot.measured.hotspot.column])
    marks = list(shot.measured.marks)
    for number in range(int(share * len(marks))):
        middle = marks[number].points.mean(axis=0)
        ray = (middle - hotspot) / np.linalg.norm(middle - hotspot)
        along = np.linspace(-5.0, 5.0, 20)[:, None]
        marks[number] = replace(marks[number], points=middle + along * ray, polarity="bright")
    told = against(Shot(photo=shot.photo, measured=replace(shot.measured, marks=tuple(marks))))
    found = [one for one in told.comparable.reasons if one.code == "lines not round the lamp"]
    assert [one.verdict for one in found] == [verdict]
    assert found[0].values["side"] == "after"


@pytest.mark.slow
@pytest.mark.parametrize("lamps", [4, 7])
def test_lights_that_melt_into_one_change_no_figure(lamps: int) -> None:
    """Untouched paint, one lamp before, a cluster of as many in its place after: a "yes" is right there."""
    grooves = phantom.swirls(2, density_mm_per_cm2=70) + phantom.scratches(2, count=4)
    hand = {"offset_mm": (1.0, -1.5), "turn_deg": 1.0, "lamp_mm": (-6.0, 4.0, 480.0)}
    shots = {
        count: phantom.Shot(size_px=(1050, 1330), px_per_mm=14.0, seed=count, lamps=count, **hand)  # type: ignore[arg-type]
        for count in (1, lamps)
    }
    before = phantom.Shot(size_px=(1050, 1330), px_per_mm=14.0, seed=9)
    seen = {
        name: phantom.photograph(grooves, shot).jpeg or b"" for name, shot in {0: before, **shots}.items()
    }
    changes = {
        name: compare(seen[0], seen[name], px_per_mm=14.0).change("density all") for name in (1, lamps)
    }
    assert not changes[lamps].distinguishable
    one, many = (changes[name].change_percent or 0.0 for name in (1, lamps))
    assert many == pytest.approx(one, abs=2.0)


@pytest.mark.parametrize(
    "code", ["second-lamp", "lines-not-round-the-lamp", "underexposed", "soft", "small-zone"]
)
@pytest.mark.parametrize("side", ["before", "after"])
def test_a_warning_of_one_photograph_reaches_the_comparison(code: str, side: str) -> None:
    shots = {"before": phantoms.before(), "after": phantoms.after()}
    said = tuple(Remark(code=one) for one in (code, "off-centre"))
    warned = replace(shots[side].measured, warnings=said)
    shots[side] = Shot(photo=shots[side].photo, measured=warned)
    told = compare_shots([shots["before"]], [shots["after"]]).comparable
    assert [(one.code, one.values) for one in told.reasons] == [(f"warned of {code}", {"side": side})]
    assert told.verdict == "with care"
    assert all(one.code in REASONS for one in told.reasons)


@pytest.mark.parametrize("body", [(0.20, 0.03, 0.03), (0.16, 0.17, 0.18)])
def test_two_paints_as_two_spots_do_not_pass_silently(body: tuple[float, float, float]) -> None:
    """Beside the dark blue of the first spot: a red, told by its colour, and a grey, told by its light."""
    panel = phantom.Panel(body=body, seed=2)
    grooves = phantom.swirls(21, density_mm_per_cm2=40)
    left = phantom.polished(grooves, seed=21, keep_share=0.4)
    other = [
        phantoms.shot(lines, panel=panel, seed=seed, name=f"other{seed}.jpg")
        for seed, lines in ((31, grooves), (32, left))
    ]
    found = compare_shots([phantoms.before(), other[0]], [phantoms.after(), other[1]])
    said = [one for one in found.comparable.reasons if one.code == "spots of two paints"]
    assert [one.values["side"] for one in said] == ["before", "after"]
    assert all(one.verdict == "with care" for one in said)


def test_two_spots_of_one_paint_are_of_one_paint() -> None:
    grooves = phantom.swirls(21, density_mm_per_cm2=10)
    left = phantom.polished(grooves, seed=21, keep_share=0.4)
    same = [phantoms.shot(lines, seed=seed, ev=0.7) for seed, lines in ((31, grooves), (32, left))]
    found = compare_shots([phantoms.before(), same[0]], [phantoms.after(), same[1]])
    assert "spots of two paints" not in [one.code for one in found.comparable.reasons]
