"""Tables for the terminal: every figure with its unit, `uncalibrated` wherever the scale is unknown."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich import box
from rich.table import Table

from defectmap.commands.safe_words import safe
from defectmap.panel.measurement import PanelMeasurement
from defectmap.words.photo_words import told
from defectmap.words.units import UNCALIBRATED, light_words, no_score_words, scale_sentence, unit_names

if TYPE_CHECKING:
    from rich.console import Console


def print_measurements(console: Console, measurements: Sequence[PanelMeasurement]) -> None:
    """Print one photograph as a list of figures, several as a table with a row each; then the warnings."""
    if len(measurements) == 1:
        console.print(one_photo_table(measurements[0]))
    elif measurements:
        for calibrated in (True, False):
            group = [m for m in measurements if m.scale.calibrated is calibrated]
            if group:
                console.print(many_photos_table(group))
    for measurement in measurements:
        for warning in measurement.warnings:
            words = f"{measurement.photo.name}: {told(warning)}"
            console.print(words, style="yellow", markup=False, highlight=False)


def one_photo_table(measurement: PanelMeasurement) -> Table:
    """Return every figure of one measurement, one a line, with its unit."""
    units, limit = unit_names(measurement.scale), measurement.detection_limit
    density = measurement.density
    dust = sum(spot.kind == "dust" for spot in measurement.spots)
    name = measurement.photo.name + ("" if measurement.scale.calibrated else f" ({UNCALIBRATED})")
    table = Table(title=_plain(name), title_justify="left", box=box.SIMPLE_HEAD, show_header=False)
    table.add_column("what")
    table.add_column("figure", justify="right")
    table.add_column("unit")
    for what, figure, unit in (
        ("scale", scale_sentence(measurement.scale), ""),
        ("marks, all kinds", f"{density.all:.2f}", units.density),
        ("  swirl marks", f"{density.swirl:.2f}", units.density),
        ("  scratches", f"{density.scratch:.2f}", units.density),
        ("  buffer trails", f"{density.trail:.2f}", units.density),
        ("marks found", f"{len(measurement.marks)}", "lines"),
        ("longest scratch", f"{measurement.longest_scratch_mm:.1f}", units.length),
        ("haze", f"{measurement.haze:.3f}", "(0 is none)"),
        (
            "finish score",
            *(
                (
                    "–",
                    no_score_words(
                        calibrated=measurement.scale.calibrated, film=measurement.film is not None
                    ),
                )
                if measurement.score is None
                else (f"{measurement.score:.1f}", "of 100")
            ),
        ),
        ("zone measured", f"{measurement.area_cm2:.1f}", units.area),
        (
            "faintest mark that shows",
            "",
            f"{light_words(limit.contrast)}, over {limit.length_mm:.2g} {units.length}",
        ),
        ("dust / water spots", f"{dust} / {len(measurement.spots) - dust}", "(not counted as marks)"),
    ):
        if what != "faintest mark that shows" or measurement.film is None:  # each frame has its own
            table.add_row(what, figure, unit)
    return table


def many_photos_table(measurements: Sequence[PanelMeasurement]) -> Table:
    """Return a table with a row for each measurement; all of them calibrated, or none."""
    scale = measurements[0].scale
    units = unit_names(scale)
    heading = None if scale.calibrated else f"({UNCALIBRATED})"
    table = Table(title=heading, title_justify="left", box=box.SIMPLE_HEAD)
    table.add_column("photo", overflow="fold")
    for head in (
        f"all\n{units.density}",
        f"swirl\n{units.density}",
        f"scratch\n{units.density}",
        f"trail\n{units.density}",
        f"longest\n{units.length}",
        "haze",
        "score\nof 100",
        f"zone\n{units.area}",
        "scale\npx/mm",
    ):
        table.add_column(head, justify="right")
    for m in measurements:
        table.add_row(
            _plain(m.photo.name),
            *(
                f"{value:.2f}"
                for value in (m.density.all, m.density.swirl, m.density.scratch, m.density.trail)
            ),
            f"{m.longest_scratch_mm:.1f}",
            f"{m.haze:.3f}",
            "–" if m.score is None else f"{m.score:.1f}",
            f"{m.area_cm2:.1f}",
            f"{m.scale.px_per_mm:.2f}" if m.scale.calibrated else UNCALIBRATED,
        )
    return table


def _plain(words: str) -> str:
    # File names may hold brackets, which rich would read as markup, and worse, which a terminal would obey.
    from rich.markup import escape

    return escape(safe(words))
