"""`defectmap repeat`: photograph one spot several times, learn how far the figures scatter."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from defectmap.comparison.align import Alignment
from defectmap.comparison.blocks import BlockTable
from defectmap.comparison.common import AlignedPair, common_tables
from defectmap.comparison.figure_changes import KIND_OF
from defectmap.comparison.outcome import Figure
from defectmap.comparison.repeatability import (
    precision,
    relative_sd_of_sd,
    repeatability_limit,
    shot_components,
    smallest_provable_change_percent,
    type_a,
)
from defectmap.comparison.setup_profile import DEFAULT_NAME, FigureScatter, SetupProfile
from defectmap.comparison.spots import PLAIN_FIGURES, plain_figure
from defectmap.comparison.tuning import GOOD_SHOTS, MIN_SHOTS, REPEAT_SECTORS
from defectmap.panel.measurement import MarkKind, PanelMeasurement
from defectmap.words.remark import Remark


def repeat_profile(
    shots: Sequence[PanelMeasurement], alignments: Sequence[Alignment], *, name: str = DEFAULT_NAME
) -> SetupProfile:
    """Repeatability of a set-up from several photographs of one spot.

    Parameters
    ----------
    shots : sequence of PanelMeasurement
        At least three, the same spot, set up anew each time as for a comparison.
    alignments : sequence of Alignment
        How each but the first lies on the first.
    name : str, optional
        Of the set-up.

    Raises
    ------
    ValueError
        There are fewer than three shots, or alignments do not fit them.
    """
    if len(shots) < MIN_SHOTS:
        raise ValueError(f"at least {MIN_SHOTS} shots of one spot are needed, got {len(shots)}")
    if len(alignments) != len(shots) - 1:
        raise ValueError(f"{len(shots)} shots need {len(shots) - 1} alignments, got {len(alignments)}")
    tables = _tables(shots, alignments)
    phones = phones_of(shots[: len(tables)])
    figures: dict[Figure, FigureScatter] = {}
    for figure, kind in KIND_OF.items():
        sectors = np.stack([_sector_density(table, kind) for table in tables])
        if sectors.any():
            found = _across_phones(_density_scatter(sectors), sectors.mean(axis=1), phones)
            own = type_a([plain_figure(shot, figure) for shot in shots]).relative
            figures[figure] = replace(found, own_zones=own)
    every = phones_of(shots)
    for figure in PLAIN_FIGURES:
        values = [plain_figure(shot, figure) for shot in shots]
        if min(values) > 0:
            figures[figure] = _across_phones(_plain_scatter(values), np.array(values), every)
    first = shots[0]
    return SetupProfile(
        name=name,
        shots=len(shots),
        phones=len(set(every)),
        figures=figures,
        taken=first.photo.taken,
        camera=first.photo.camera,
        px_per_mm=first.scale.px_per_mm if first.scale.calibrated else None,
        hotspot_radius_mm=first.hotspot.radius_px / first.scale.px_per_mm if first.scale.calibrated else None,
        warnings=_warnings(shots, alignments),
    )


def _tables(shots: Sequence[PanelMeasurement], alignments: Sequence[Alignment]) -> list[BlockTable]:
    """Each shot in the zone it shares with the first, in the first one's sectors."""
    pairs = [
        common_tables(AlignedPair(before=shots[0], after=shot, alignment=alignment), sectors=REPEAT_SECTORS)
        for shot, alignment in zip(shots[1:], alignments, strict=True)
    ]
    held = [pair for pair in pairs if pair is not None]
    return [held[0].before, *(pair.after for pair in held)] if held else []


def _sector_density(table: BlockTable, kind: MarkKind | None) -> NDArray[np.float64]:
    area = table.area_cm2.sum(axis=1)
    return np.where(area > 0, table.length_of(kind).sum(axis=1) / np.where(area > 0, area, 1.0), 0.0)


def phones_of(shots: Sequence[PanelMeasurement]) -> list[str]:
    """Which phone took each shot: by the camera's name, or by the picture's size where no file tells it."""
    sizes = [sorted((shot.photo.width_px, shot.photo.height_px)) for shot in shots]
    return [shot.photo.camera or f"{w} x {h}" for shot, (w, h) in zip(shots, sizes, strict=True)]


def _across_phones(
    scatter: FigureScatter, values: NDArray[np.float64], phones: Sequence[str]
) -> FigureScatter:
    """Part the scatter of single shots into that with one phone and that with any phone (ISO 5725-1).

    Where each phone took one shot, the two cannot be parted: the scatter with any phone stands for both.
    """
    groups = [values[[one == phone for one in phones]] for phone in dict.fromkeys(phones)]
    if len(groups) < 2:
        return scatter
    found = precision(groups)
    reproducibility = found.reproducibility / found.mean
    if math.isnan(found.repeatability):
        return replace(scatter, reproducibility=reproducibility)
    relative, df = found.repeatability / found.mean, float(len(values) - len(groups))
    return replace(
        scatter,
        relative=relative,
        common=min(scatter.common, relative),
        df=df,
        limit_percent=100 * repeatability_limit(relative),
        smallest_change_percent=smallest_provable_change_percent(relative, df=df),
        reproducibility=reproducibility,
    )


def _density_scatter(sectors: NDArray[np.float64]) -> FigureScatter:
    parts, mean = shot_components(sectors), float(sectors.mean())
    return FigureScatter(
        mean=mean,
        relative=parts.total,
        common=parts.common,
        df=parts.df_total,
        df_common=parts.df_common,
        limit_percent=100 * repeatability_limit(parts.total),
        smallest_change_percent=smallest_provable_change_percent(parts.total, df=parts.df_total),
    )


def _plain_scatter(values: Sequence[float]) -> FigureScatter:
    found = type_a(values)
    return FigureScatter(
        mean=found.mean,
        relative=found.relative,
        common=found.relative,
        df=found.df,
        df_common=found.df,
        limit_percent=100 * repeatability_limit(found.relative),
        smallest_change_percent=smallest_provable_change_percent(found.relative, df=found.df),
    )


def _warnings(shots: Sequence[PanelMeasurement], alignments: Sequence[Alignment]) -> tuple[Remark, ...]:
    said = []
    if len(shots) < GOOD_SHOTS:
        doubt = 100 * relative_sd_of_sd(len(shots))
        values = {"shots": len(shots), "doubt": doubt, "good": GOOD_SHOTS}
        said.append(Remark(code="few shots", values=values))
    unsure = [shot.photo.name for shot, pose in zip(shots[1:], alignments, strict=True) if not pose.sure]
    if unsure:
        said.append(Remark(code="place of shots", values={"names": ", ".join(unsure)}))
    if len({shot.photo.sha256 for shot in shots}) < len(shots):
        said.append(Remark(code="file twice"))
    return tuple(said)
