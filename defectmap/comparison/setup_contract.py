"""A set-up's repeatability as the dictionary that `repeat --json` writes; keys are only added."""

from __future__ import annotations

from defectmap.comparison.contract import COMMON_AREA, PROGRAM
from defectmap.comparison.repeatability import repeatability_limit
from defectmap.comparison.setup_profile import FigureScatter, SetupProfile
from defectmap.panel.codec import SCHEMA, Record, finite_or_none
from defectmap.words.comparison_words import WARNINGS
from defectmap.words.remark import sentence


def setup_record(profile: SetupProfile) -> Record:
    """Turn a set-up's repeatability into the dictionary that `repeat --json` writes."""
    return {
        "schema": SCHEMA,
        "program": PROGRAM,
        "setup": profile.name,
        "shots": profile.shots,
        "phones": profile.phones,
        "figures_of": COMMON_AREA,
        "figures": {
            figure.replace(" ", "_"): {
                "mean": finite_or_none(scatter.mean),
                "repeatability_sd_percent": finite_or_none(100 * scatter.relative),
                "common_sd_percent": finite_or_none(100 * scatter.common),
                "degrees_of_freedom": finite_or_none(scatter.df),
                "repeatability_limit_percent": finite_or_none(scatter.limit_percent),
                **_reproducibility(scatter),
                "own_zones_sd_percent": _percent(scatter.own_zones),
                "smallest_provable_change_percent": finite_or_none(scatter.smallest_change_percent),
            }
            for figure, scatter in profile.figures.items()
        },
        "warnings": [sentence(one, WARNINGS) for one in profile.warnings],
    }


def _reproducibility(scatter: FigureScatter) -> Record:
    """ISO 5725's words for shots with several phones; None where one phone took them all."""
    found = scatter.reproducibility
    return {
        "reproducibility_sd_percent": _percent(found),
        "reproducibility_limit_percent": None if found is None else 100 * repeatability_limit(found),
    }


def _percent(share: float | None) -> float | None:
    return None if share is None else finite_or_none(100 * share)
