"""Comparing on the pages and on the command line: one way, with what was corrected by hand."""

from __future__ import annotations

import shutil
from pathlib import Path

from defectmap import __version__
from defectmap.panel.measure import measure
from defectmap.record import pairs
from defectmap.record.comparisons import ComparisonRecord, compare_panel
from defectmap.record.core import compare_photographs
from defectmap.record.corrections import Exclusion, keep_corrections
from defectmap.record.intake import photographs_of
from defectmap.record.store import Store, open_store
from tests.pages.conftest import JOB, PX_PER_MM

BEFORE, AFTER = "decontaminated", "wiped"


def leave_left_half_out(store: Store) -> None:
    """Correct the first photograph of the bonnet by hand, as the page does it."""
    photograph = next(p for p in photographs_of(store, JOB) if p.stage == BEFORE)
    data = store.originals.path(photograph.sha256).read_bytes()
    measured = measure(data, px_per_mm=PX_PER_MM, name=photograph.name)
    half = Exclusion(left=0, top=0, right=490, bottom=760)
    keep_corrections(store, JOB, photograph.id, measured, [half], program_version=__version__)


def by_command(store: Store) -> ComparisonRecord:
    """As `defectmap job compare` does it: measured again from the originals."""
    return compare_panel(
        store,
        JOB,
        "bonnet",
        compare=compare_photographs,
        program_version=__version__,
        before=BEFORE,
        after=AFTER,
        settings={"setup": None},
    )


def test_a_correction_counts_on_the_command_line_as_on_the_page(
    record: Path, store: Store, tmp_path: Path
) -> None:
    plain = by_command(store)
    leave_left_half_out(store)
    shutil.copytree(record, tmp_path / "copy")
    corrected = by_command(store)
    assert any("Corrected by hand" in said for said in corrected.result["before"]["warnings"])
    # about half of the area that both photographs show is left, give or take where the lamp's disc lies
    areas = [found.result["spots"][0]["common_area_cm2"] for found in (corrected, plain)]
    assert 0.3 < areas[0] / areas[1] < 0.7
    # the page, which compares what was measured before, comes to the same by itself
    copied = open_store(tmp_path / "copy")
    page = pairs.compare(copied, JOB, "bonnet", before=BEFORE, after=AFTER)
    copied.close()
    assert (page.result, page.settings) == (corrected.result, corrected.settings)
    assert pairs.compare(store, JOB, "bonnet", before=BEFORE, after=AFTER).id == corrected.id
