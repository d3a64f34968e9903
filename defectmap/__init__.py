"""Measure swirl marks, scratches and haze in photographs of car paint under an inspection light."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"
__all__ = ["compare", "measure"]

if TYPE_CHECKING:
    from defectmap.comparison.compare import compare
    from defectmap.panel.measure import measure


def __getattr__(name: str) -> Any:
    # Heavy imports (OpenCV, SciPy) stay out of `import defectmap` until something is measured.
    if name == "measure":
        from defectmap.panel.measure import measure

        return measure
    if name == "compare":
        from defectmap.comparison.compare import compare

        return compare
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
