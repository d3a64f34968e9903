"""Before and after: may they be compared, and how much has changed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

__all__ = ["Comparison", "Shot", "compare", "compare_shots", "comparison_record", "crop_pair"]

if TYPE_CHECKING:
    from defectmap.comparison.contract import comparison_record
    from defectmap.comparison.crops import crop_pair
    from defectmap.comparison.outcome import Comparison
    from defectmap.comparison.pipeline import Shot, compare, compare_shots

_HOMES = {
    "Comparison": "outcome",
    "Shot": "pipeline",
    "compare": "pipeline",
    "compare_shots": "pipeline",
    "comparison_record": "contract",
    "crop_pair": "crops",
}


def __getattr__(name: str) -> Any:
    # NumPy, SciPy and OpenCV are imported when something is compared, not with the command line's help.
    if name in _HOMES:
        from importlib import import_module

        return getattr(import_module(f"defectmap.comparison.{_HOMES[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
