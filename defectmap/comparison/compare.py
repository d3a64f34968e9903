"""Compare photographs before and after: measure, align, check, estimate."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from defectmap.comparison.align import Alignment
from defectmap.comparison.common import common_tables
from defectmap.comparison.conditions import Evidence
from defectmap.comparison.masking import Stage, claim, rebound, stage_reasons
from defectmap.comparison.one_paint import spots_of_two_paints
from defectmap.comparison.outcome import Change, Comparability, Comparison, Rebound
from defectmap.comparison.pair import Pair, Shot, compare_pair, evidence_on, laid
from defectmap.comparison.place_rules import spots_apart
from defectmap.comparison.sampling import Draws, block_draws, ratio_interval
from defectmap.comparison.setup_profile import ASSUMED, SetupProfile
from defectmap.comparison.spots import joint_changes, scope_of
from defectmap.comparison.tuning import RADIUS_APART
from defectmap.errors import DefectmapError
from defectmap.panel.photo.photograph import Photo, load
from defectmap.words.remark import Remark

__all__ = ["PairingError", "Shot", "align_shots", "compare", "compare_shots", "measured_shot"]

Source = str | Path | bytes


class PairingError(DefectmapError):
    """Before and after do not go together in pairs."""


def compare_shots(
    before: Sequence[Shot],
    after: Sequence[Shot],
    *,
    unwiped: Sequence[Shot] = (),
    before_stage: Stage | None = None,
    after_stage: Stage | None = None,
    setup: SetupProfile | None = None,
    seed: int = 0,
) -> Comparison:
    """Compare photographs that are already measured.

    Parameters
    ----------
    before, after : sequence of Shot
        One a spot, in the same order on both sides.
    unwiped : sequence of Shot, optional
        The same spots after correction and before the solvent wipe, for the rebound.
    before_stage, after_stage : Stage, optional
        When each side was photographed.
    setup : SetupProfile, optional
        Repeatability of the set-up; an assumed one if not given.
    seed : int, optional
        Of the bootstrap.

    Returns
    -------
    Comparison
        Without changes where the photographs cannot be compared; its reasons say why.

    Raises
    ------
    PairingError
        There is no photograph, or the numbers differ.
    """
    _check_pairs(before, after, unwiped)
    scatter = setup or ASSUMED
    first = [evidence_on(shot, shot) for shot in before]
    pairs = [
        compare_pair(one, other, ground, scatter, seed)
        for one, other, ground in zip(before, after, first, strict=True)
    ]
    found = [reason for pair in pairs for reason in pair.said.comparable.reasons]
    if len(pairs) > 1:
        last = [evidence_on(shot, shot) for shot in after]
        for side, spots in (("before", first), ("after", last)):
            found += [*spots_apart(side, spots), *spots_of_two_paints(side, spots)]
    verdict = Comparability(reasons=(*found, *stage_reasons(after_stage)))
    held = [pair.tables for pair in pairs if pair.tables is not None]
    changes: tuple[Change, ...] = ()
    back = None
    if verdict.verdict != "no" and len(held) == len(pairs):
        own = [pair.said.changes for pair in pairs]
        doubts = [pair.doubt for pair in pairs]
        changes = joint_changes(own, held, setup=scatter, doubts=doubts, seed=seed)
        if unwiped:
            back = _rebound(before, unwiped, after, first, pairs, scatter, seed)
    return Comparison(
        spots=tuple(pair.said for pair in pairs),
        comparable=verdict,
        changes=changes,
        scope=scope_of(len(pairs)),
        claim=claim(before_stage=before_stage, after_stage=after_stage),
        rebound=back,
        setup=setup.name if setup else None,
        warnings=_warnings(pairs, setup),
    )


def compare(
    before: Source | Sequence[Source],
    after: Source | Sequence[Source],
    *,
    px_per_mm: float | None = None,
    field_width_mm: float | None = None,
    unwiped: Source | Sequence[Source] = (),
    before_stage: Stage | None = None,
    after_stage: Stage | None = None,
    setup: SetupProfile | None = None,
    seed: int = 0,
) -> Comparison:
    """Measure and compare photographs before and after.

    Parameters
    ----------
    before, after : str, Path, bytes or a sequence of them
        One photograph a spot, in the same order on both sides.
    px_per_mm, field_width_mm : float, optional
        Scale of all photographs, as in `defectmap.measure`; a printed card in each photograph is better.
    unwiped : str, Path, bytes or a sequence of them, optional
        The same spots after correction and before the solvent wipe.
    before_stage, after_stage : Stage, optional
        When each side was photographed; decides between "removed" and "less visible".
    setup : SetupProfile, optional
        Repeatability of the set-up, from `defectmap.comparison.setup_profile`; assumed if not given.
    seed : int, optional
        Of the bootstrap.

    Raises
    ------
    PhotoError
        A photograph was refused.
    PairingError
        Before and after do not go together in pairs.
    """

    def shots(sources: Source | Sequence[Source]) -> list[Shot]:
        several = [sources] if isinstance(sources, str | Path | bytes) else sources
        return [
            measured_shot(load(source), px_per_mm=px_per_mm, field_width_mm=field_width_mm)
            for source in several
        ]

    return compare_shots(
        shots(before),
        shots(after),
        unwiped=shots(unwiped),
        before_stage=before_stage,
        after_stage=after_stage,
        setup=setup,
        seed=seed,
    )


def measured_shot(
    photo: Photo, *, px_per_mm: float | None = None, field_width_mm: float | None = None
) -> Shot:
    """Measure a photograph that is already loaded."""
    from defectmap.panel.measure import measure

    return Shot(photo=photo, measured=measure(photo, px_per_mm=px_per_mm, field_width_mm=field_width_mm))


def align_shots(before: Shot, after: Shot) -> Alignment:
    """How one photograph of a spot lies on another."""
    return laid(before, after, evidence_on(before, before))[0].alignment


def _check_pairs(before: Sequence[Shot], after: Sequence[Shot], unwiped: Sequence[Shot]) -> None:
    if not (before and after):
        raise PairingError("A comparison needs at least one photograph before and one after.")
    if len(before) != len(after):
        raise PairingError(
            f"There are {len(before)} photographs before and {len(after)} after; give one of each for every "
            "spot, in the same order."
        )
    if unwiped and len(unwiped) != len(after):
        raise PairingError(
            f"There are {len(unwiped)} photographs from before the wipe and {len(after)} after it; give one "
            "of each for every spot, in the same order."
        )


def _rebound(
    before: Sequence[Shot],
    unwiped: Sequence[Shot],
    after: Sequence[Shot],
    first: Sequence[Evidence],
    pairs: Sequence[Pair],
    setup: SetupProfile,
    seed: int,
) -> Rebound | None:
    """From before to unwiped, from before to after, and from unwiped to after, all spots together."""
    draws: dict[str, list[Draws]] = {"unwiped": [], "wiped": [], "back": []}
    for number, (one, middle, last) in enumerate(zip(before, unwiped, after, strict=True)):
        first_laid, _ = laid(one, middle, first[number])
        last_laid, _ = laid(middle, last, evidence_on(middle, middle))
        tables = {
            "unwiped": common_tables(first_laid),
            "wiped": pairs[number].tables,
            "back": common_tables(last_laid),
        }
        for name, table in tables.items():
            if table is None:
                return None
            draws[name].append(block_draws(table, None, seed=seed + number))
    capture = setup.capture("density all")
    if any(min(_totals(part)) <= 0 for part in draws.values()):
        return None
    found = {name: ratio_interval(part, capture=capture) for name, part in draws.items()}
    return rebound(unwiped=found["unwiped"], wiped=found["wiped"], back=found["back"])


def _totals(draws: Sequence[Draws]) -> tuple[float, float]:
    return sum(one.value_before for one in draws), sum(one.value_after for one in draws)


def _warnings(pairs: Sequence[Pair], setup: SetupProfile | None) -> tuple[Remark, ...]:
    said = [Remark(code="scatter assumed")] if setup is None else _setup_warnings(pairs, setup)
    if scope_of(len(pairs)) != "the panel":
        said.append(Remark(code="few spots"))
    if any(not pair.said.before.scale.calibrated for pair in pairs):
        said.append(Remark(code="uncalibrated"))
    return tuple(said)


def _setup_warnings(pairs: Sequence[Pair], setup: SetupProfile) -> list[Remark]:
    """Where these photographs are not of the set-up whose repeatability is used."""
    said = []
    shot = pairs[0].said.before
    if setup.camera and shot.photo.camera and setup.camera != shot.photo.camera:
        values = {"setup": setup.name, "known": setup.camera, "found": shot.photo.camera}
        said.append(Remark(code="another camera", values=values))
    if setup.hotspot_radius_mm and shot.scale.calibrated:
        ratio = shot.hotspot.radius_px / shot.scale.px_per_mm / setup.hotspot_radius_mm
        if not 1 / RADIUS_APART < ratio < RADIUS_APART:
            said.append(Remark(code="another hotspot", values={"setup": setup.name, "ratio": ratio}))
    return said
