"""Page: what has changed between two stages of a panel, how sure that is, and why it may not be said."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import streamlit as st

from defectmap.comparison.contract import PLACES, figure_in, reduced, side_records
from defectmap.comparison.films_apart import film_share
from defectmap.comparison.outcome import Figure
from defectmap.pages import cached, frame, waiting
from defectmap.pages.film_shown import fused_slider
from defectmap.pages.page_units import PageUnits, units_of
from defectmap.pages.widgets.interval_bar import interval_svg
from defectmap.pages.widgets.slider import compare_slider
from defectmap.pages.widgets.strength_bars import strength_svg, strength_words
from defectmap.record.comparisons import ComparisonRecord
from defectmap.record.results import compare
from defectmap.record.shop_style import screen_writer
from defectmap.record.whole import SpotPair, spot_pairs
from defectmap.trade.stages import BASELINE, PROOF, STAGE_NAMES
from defectmap.words.changes import by_hand_words, change_words, full_change, kept_change
from defectmap.words.comparison_words import WARNINGS
from defectmap.words.counting import counted
from defectmap.words.film_words import FILM_COUNTED, FILM_VERDICT_WORDS
from defectmap.words.page_words import VERDICT_WORDS, plain
from defectmap.words.remark import kept_sentences
from defectmap.words.report_words import figure_name
from defectmap.words.writer import Writer

INTERVAL_PX = 560  # at most; narrower where the page is
CENTRES: dict[cached.CropCentre, str] = {"hotspot": "At the lamp", "worst scratch": "At the longest scratch"}
RANGES: Mapping[Figure, str] = {"haze": "0 to 1", "score": "0 to 100"}
VERDICT_ICONS = {
    "yes": ":material/check_circle:",
    "with care": ":material/priority_high:",
    "no": ":material/block:",
}


def show() -> None:
    """Draw the page."""
    with frame.page("before_after"):
        desk = frame.chosen_job()
        if waiting.measure_this_panel(desk):
            st.rerun()
        two = {p.history.panel.name for p in desk.look.panels if len(p.stages) > 1}
        panel = frame.chosen_panel(
            desk,
            only=two.__contains__,
            without="No panel has photographs of two stages yet. Take the second on the page Camera.",
        )
        before, after = _stages(desk, panel)
        with st.spinner("Laying the photographs on each other and counting …"):
            found = compare(desk.store, desk.reference, panel, before=before, after=after)
        _headline(found)
        pairs = spot_pairs(desk.store, desk.reference, found)
        pairs = tuple(pair for pair in pairs if pair.before.film is pair.after.film)
        if pairs:
            _pictures(desk, found, pairs)
        with st.expander("What may be said, and how sure it is", icon=":material/rule:"):
            _reasons(found)
        if found.result.get("spots"):  # none where a photograph was refused
            with st.expander("All figures", icon=":material/table_rows:"):
                _table(found.result, screen_writer(desk.store))


def _stages(desk: frame.Desk, panel: str) -> tuple[str, str]:
    look = desk.panel(panel)
    have = [stage for stage in STAGE_NAMES if look.at(stage)]
    first = BASELINE if BASELINE in have[:-1] else have[0]
    last = PROOF if PROOF in have[1:] else have[-1]
    if len(have) == 2:
        st.caption(f"{plain(frame.stage_words(first))} against {plain(frame.stage_words(last))}")
        return first, last
    left, right = st.columns(2)
    before = left.selectbox(
        "First", have[:-1], index=have[:-1].index(first), format_func=frame.stage_words, key="pair_before"
    )
    later = have[have.index(before) + 1 :]
    after = right.selectbox(
        "Second",
        later,
        index=later.index(last) if last in later else len(later) - 1,
        format_func=frame.stage_words,
        key="pair_after",
    )
    return before, after


def _headline(found: ComparisonRecord) -> None:
    verdict = found.verdict
    films = film_share(found.result) is not None
    words = f"{(FILM_VERDICT_WORDS if films else VERDICT_WORDS)[verdict]}."
    if verdict == "no":
        reasons = found.result.get("reasons", ())
        why = f" {plain(reasons[0])}" if reasons else ""
        st.error(f"**{words}** No percentage is given.{why}", icon=VERDICT_ICONS[verdict])
        return
    change = found.result["density_mm_per_cm2"]["all"]
    scope = found.result.get("scope", "this spot")
    st.subheader(f"Marks that show on {scope}: {plain(full_change(kept_change(change)))}", anchor=False)
    low, high = change.get("ci95_percent") or (None, None)
    if low is not None and high is not None:  # an end that is not limited cannot be drawn; it is said above
        svg = interval_svg(change["change_percent"], low, high, dark=frame.is_dark())
        st.image(
            svg,
            width=INTERVAL_PX,
            alt=f"Change {change['change_percent']:+.0f} %, interval {low:+.0f} to {high:+.0f} %",
        )
    reasons = found.result.get("reasons", ())
    said = f"{words} {plain(reasons[0])}" if reasons else words
    (st.success if verdict == "yes" else st.warning)(said, icon=VERDICT_ICONS[verdict])
    rebound = found.result.get("rebound")
    if rebound:
        st.warning(plain(rebound["sentence"]), icon=":material/priority_high:")


def _reasons(found: ComparisonRecord) -> None:
    for sentence in found.result.get("reasons", ())[1:]:
        st.markdown(f"- {plain(sentence)}")
    claim = found.result.get("claim")
    if claim and reduced(found.result):
        word = claim["word"]
        st.markdown(f"You may say: **{plain(word)}**. {plain(claim.get('reason', ''))}")
    change = kept_change(found.result.get("density_mm_per_cm2", {}).get("all", {}))
    by_hand = by_hand_words(found.result.get("by_hand"), change_words(change))
    if by_hand:
        st.markdown(plain(by_hand))
    st.markdown(
        "The dot is the measured change; the bar is its 95 % confidence interval. If the bar crosses "
        "'no change', no change has been shown."
    )
    details, kept = found.result.get("warning_details"), found.result.get("warnings", ())
    for sentence in kept_sentences(details, WARNINGS, kept=kept, audience="page"):
        st.markdown(f"- {plain(sentence)}")


@st.fragment
def _pictures(desk: frame.Desk, found: ComparisonRecord, pairs: tuple[SpotPair, ...]) -> None:
    number = 0
    if len(pairs) > 1:
        number = st.selectbox(
            "Spot",
            range(len(pairs)),
            format_func=lambda at: f"Spot {pairs[at].before.photograph.spot}",
            key="pair_spot",
        )
    pair = pairs[number]
    units = units_of(desk.store, pair.before.record)
    if pair.before.film:
        fused_slider(desk, pair)
        _strength(pair, units)
        return
    place = st.container()  # what the page is for comes first, how to look at it below
    left, right = st.columns(2)
    centre = left.radio(
        "Piece of panel", list(CENTRES), format_func=CENTRES.__getitem__, horizontal=True, key="pair_centre"
    )
    way = right.radio("Look at it", ["Side by side", "Slider", "Blink"], horizontal=True, key="pair_way")
    before, after, note, side = cached.crops(
        pair.before.photograph.sha256,
        pair.after.photograph.sha256,
        f"{found.id}-{pair.before.measurement_id}-{pair.after.measurement_id}",
        number,
        centre,
        units.inch,
        desk.store,
        pair.laid,
    )
    with place:
        _draw(str(way), before, after, pair)
    st.caption(f"{plain(note)} The piece is {units.length(side)} wide.")
    _strength(pair, units)


def _strength(pair: SpotPair, units: PageUnits) -> None:
    """Marks by strength, from each photograph's own zone."""
    before, after = (one.record.get("strength_mm_per_cm2") for one in (pair.before, pair.after))
    if not before or not after:
        return
    with st.expander("How strong the marks were and are", icon=":material/bar_chart:"):
        before, after, unit = units.densities(before), units.densities(after), units.density_unit
        words = strength_words(before, after, unit=unit)
        st.image(strength_svg(before, after, dark=frame.is_dark()), width=INTERVAL_PX, alt=words)
        st.markdown(
            f"Outlined before, full after; {unit} at or above each strength, each photograph in its own zone."
        )


def _draw(way: str, before: bytes, after: bytes, pair: SpotPair) -> None:
    said = [_alt(one.record) for one in (pair.before, pair.after)]
    if way == "Slider":
        compare_slider(before, after, words=f"Before: {said[0]}. After: {said[1]}.")
    elif way == "Blink":
        side = st.radio("Show", ["Before", "After"], horizontal=True, key="pair_side")
        at = 0 if side == "Before" else 1
        st.image((before, after)[at], width=640, caption=side, alt=said[at])
    else:
        left, right = st.columns(2)
        left.image(before, caption="Before", width="stretch", alt=said[0])
        right.image(after, caption="After", width="stretch", alt=said[1])


def _alt(record: Mapping[str, Any]) -> str:
    kinds = [mark["kind"] for mark in record["marks"]]
    words = (
        f"{counted(len(kinds), 'mark')} in the whole photograph, {kinds.count('scratch')} of them scratches"
    )
    trails = kinds.count("trail")
    return f"{words}, {trails} lines of buffer trails" if trails else words


def _table(result: Mapping[str, Any], writer: Writer) -> None:
    units = PageUnits(writer=writer, scaled=side_records(result, "before")[0]["scale"]["source"] != "none")
    rows: dict[str, list[str]] = {"Figure": [], "Before": [], "After": [], "Change": []}
    for figure in PLACES:
        inside = figure_in(result, figure)
        if figure == "density trail" and not (inside.get("before") or inside.get("after")):
            continue
        if inside.get("before") is None and inside.get("after") is None:
            continue  # a film has no score
        unit, shown = _written(figure, units)
        rows["Figure"].append(f"{figure_name(figure)}, {unit}")
        rows["Before"].append(_number(inside["before"], shown))
        rows["After"].append(_number(inside["after"], shown))
        rows["Change"].append(
            full_change(kept_change(inside))
            if result["comparable"] != "no"
            else "not comparable: no percentage"
        )
    st.table(rows, border="horizontal")
    trails = result["density_mm_per_cm2"].get("trail") or {}
    if (trails.get("after") or 0.0) > (trails.get("before") or 0.0):
        st.caption("Buffer trails are left by machine polishing; see what the page Next step says of them.")
    if film_share(result) is not None:
        st.caption(FILM_COUNTED)
        return
    st.caption(
        f"{units.density_unit}: length of line on each square of panel. They are the marks that this light "
        "shows, counted at equal distance from the lamp on the common area, the piece of panel that both "
        "photographs hold. The page Panel result counts each photograph in its own zone."
    )


def _written(figure: Figure, units: PageUnits) -> tuple[str, Callable[[float], float]]:
    """Unit of a figure, and what turns a kept value into it."""
    if figure.startswith("density"):
        return units.density_unit, units.density_value
    if figure.startswith("longest"):
        return units.length_unit, units.length_value
    return RANGES[figure], float


def _number(value: float | None, shown: Callable[[float], float]) -> str:
    return "–" if value is None else f"{shown(value):.3g}"


show()
