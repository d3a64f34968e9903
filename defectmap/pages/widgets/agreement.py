"""What is agreed with the customer as good enough: its fields, changing it, going back."""

from __future__ import annotations

import streamlit as st

from defectmap.pages import frame
from defectmap.record.advise import limits_of
from defectmap.record.agreed import target_words
from defectmap.record.jobs import change_job
from defectmap.record.shop_style import screen_writer
from defectmap.trade.facts import EarlierTarget, Target
from defectmap.trade.table_forms import Goal
from defectmap.trade.targets import Limits
from defectmap.words.page_words import plain
from defectmap.words.writer import ENGLISH, Writer

WHY = (
    "Agree with the customer at the car, before the work: how good is good enough? What is left empty is "
    "held against the shop's usual aim. Promise nothing that the clear coat may not allow."
)
FIELD_PX = 280  # two beside each other; on a phone held upright they stand in a column


def target_fields(goal: Goal, *, now: Target, key: str, writer: Writer) -> Target:
    """Fields for what is agreed; the shop's usual aim stands in those that are empty.

    Parameters
    ----------
    goal : Goal
        The shop's usual aim.
    now : Target
        What the fields show at first.
    key : str
        Begins the names of the fields, and changes where they are to start anew.
    writer : Writer
        In whose units they are.
    """
    square, line = writer.density(1.0), writer.length(1.0)  # what 1 mm/cm² and 1 mm are in them
    usual = limits_of(Target(), goal)
    row = st.container(horizontal=True)

    def field(
        name: str,
        label: str,
        held: float | None,
        aim: float | None,
        about: str,
        step: float,
        one: float = 1.0,
    ) -> float | None:
        aimed = "no limit" if aim is None else f"usual aim: {aim * one:.3g}"
        shown = None if held is None else float(f"{held * one:.4g}")
        with row.container(width=FIELD_PX):
            typed = st.number_input(
                label, value=shown, step=step, format="%g", placeholder=aimed, help=about, key=f"{key}_{name}"
            )
        return held if typed == shown else typed if typed is None else typed / one  # untouched stays exact

    density = field(
        "density",
        f"Marks at most, {writer.density_unit}",
        now.density_mm_per_cm2,
        usual.density_mm_per_cm2,
        "Length of the marks that show under the lamp, on each square of panel, all kinds together.",
        0.5,
        square,
    )
    longest = field(
        "longest",
        f"Longest scratch at most, {writer.length_unit}",
        now.longest_scratch_mm,
        usual.longest_scratch_mm,
        "No scratch longer than this may be left; 0 means none at all.",
        5.0 if line == 1.0 else 0.2,
        line,
    )
    haze = field(
        "haze",
        "Haze at most, 0 to 1",
        now.haze,
        usual.haze,
        "Haze depends on the lamp: agree on a figure only if you know what yours gives on good paint.",
        0.01,
    )
    trails = field(
        "trails",
        f"Buffer trails at most, {writer.density_unit}",
        now.trail_mm_per_cm2,
        usual.trail_mm_per_cm2,
        "Streaks that machine polishing leaves; more than this asks for a finishing pass. 0 means none.",
        0.1,
        square,
    )
    return Target(density_mm_per_cm2=density, haze=haze, trail_mm_per_cm2=trails, longest_scratch_mm=longest)


def held_against(limits: Limits, writer: Writer = ENGLISH) -> str:
    """What the figures of this job are held against, in one line.

    Examples
    --------
    >>> held_against(Limits(density_mm_per_cm2=3.0, trail_mm_per_cm2=0.5, agreed=frozenset({"density"})))
    'Agreed: at most 3 mm/cm² of marks. Usual aim: at most 0.5 mm/cm² of buffer trails.'
    >>> held_against(Limits(density_mm_per_cm2=3.0))
    'Nothing is agreed. Usual aim: at most 3 mm/cm² of marks.'
    """
    figures = {
        "density": ("density_mm_per_cm2", limits.density_mm_per_cm2),
        "longest scratch": ("longest_scratch_mm", limits.longest_scratch_mm),
        "haze": ("haze", limits.haze),
        "trail": ("trail_mm_per_cm2", limits.trail_mm_per_cm2),
    }
    agreed = Target(**{key: value for name, (key, value) in figures.items() if name in limits.agreed})
    usual = Target(**{key: value for name, (key, value) in figures.items() if name not in limits.agreed})
    said = f"Agreed: {target_words(agreed, writer=writer)}." if limits.agreed else "Nothing is agreed."
    return said if usual == Target() else f"{said} Usual aim: {target_words(usual, writer=writer)}."


def agreement(desk: frame.Desk, goal: Goal) -> None:
    """Change what is agreed, and go back to what held before."""
    job = desk.job
    with st.expander("What is good enough", icon=":material/handshake:"):
        st.caption(plain(WHY))
        writer = screen_writer(desk.store)
        key = f"next_agreed_{job.id}_{job.version}_{writer.length_unit}"
        with st.form("next_agreed", border=False):
            target = target_fields(goal, now=job.target, key=key, writer=writer)
            if st.form_submit_button("Keep what is agreed", type="primary"):
                with frame.guarded():
                    _change(desk, target)
        if job.earlier_targets:
            _earlier(desk)


def _earlier(desk: frame.Desk) -> None:
    st.markdown("**What held before**, the latest first. All of it stays in the record.")
    writer = screen_writer(desk.store)
    for number, one in reversed(list(enumerate(desk.job.earlier_targets))):
        words, button = st.columns([3, 1], vertical_alignment="center")
        words.markdown(plain(earlier_words(one, writer)))
        if one.target != desk.job.target and button.button(
            "Undo" if number == len(desk.job.earlier_targets) - 1 else "Back to this",
            key=f"next_agreed_back_{number}",
            width="stretch",
        ):
            with frame.guarded():
                _change(desk, one.target)


def earlier_words(one: EarlierTarget, writer: Writer) -> str:
    """What held until when.

    Examples
    --------
    >>> one = EarlierTarget(target=Target(haze=0.1), until="2026-05-12T12:51:00.000000+00:00")
    >>> earlier_words(one, Writer(Style(time_zone="UTC")))
    'Until 2026-05-12 12:51: haze at most 0.1'
    """
    return f"Until {writer.moment(one.until)}: {target_words(one.target, writer=writer)}"


def _change(desk: frame.Desk, target: Target) -> None:
    change_job(desk.store, desk.reference, seen_version=desk.job.version, target=target)
    st.rerun()
