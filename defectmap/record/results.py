"""The results of a job: the one compare and advise of command line, pages, report and demo.

    compare   a panel before and after, from what is measured, kept; the same comparison is made only once
    advise    the next step on each panel, with the repeatability of the set-up that is in use

What has no result yet is measured by `measuring.measure_job`. Read back they are by `keeping.results_of`
(each result that counts), `whole.measurement_of` (the same with zone and lines), `whole.spot_pairs` and
`comparisons.comparisons_of`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from defectmap.errors import DefectmapError, NotInRecord, OldResult, PanelNotComparable
from defectmap.record.advise import PanelAdvice, Repeatability, advise_panels
from defectmap.record.compared import compared
from defectmap.record.comparisons import (
    CompareRequest,
    ComparisonRecord,
    compare_request,
    comparisons_of,
    keep_comparison,
    kept_comparison,
)
from defectmap.record.finished_panels import finished_panels
from defectmap.record.jobs import job_named
from defectmap.record.keeping import PhotoResult, results_of
from defectmap.record.measuring import Failure, Progress, keep, measure_one
from defectmap.record.overview import JobOverview, overview
from defectmap.record.panels import panels_of
from defectmap.record.sealing import canonical, plain, sha256_of_text
from defectmap.record.shop_tables import with_own
from defectmap.trade.stages import BASELINE, PROOF
from defectmap.trade.tables import TradeTables, load_tables

if TYPE_CHECKING:
    from defectmap.record.store import Store


def tables_of(store: Store) -> TradeTables:
    """The trade tables that hold for this record, with what the shop has entered in their place."""
    return with_own(load_tables(store.own_tables), store)


def panel_words(store: Store, reference: str) -> dict[str, tuple[str, ...]]:
    """Each panel of a job to other words for it, for reading the names of files."""
    also = {row.name: row.also for row in tables_of(store).panels.get(job_named(store, reference).kind, ())}
    return {panel.name: also.get(panel.name, ()) for panel in panels_of(store, reference)}


def compare(
    store: Store,
    reference: str,
    panel: str,
    *,
    before: str = BASELINE,
    after: str = PROOF,
    setup: str | None = None,
) -> ComparisonRecord:
    """Compare a panel between two stages, from what is measured, and keep the result.

    Photographs that have no result yet are measured first. Corrections by hand count: a comparison made
    before one of them is not taken for one made after it. Where a photograph was measured in an earlier way,
    the comparison that was made then stands, marked as old.

    Parameters
    ----------
    before, after : str
        Stages.
    setup : str, optional
        Name of the set-up whose repeatability is used; the default one, where there is one, if not given.

    Raises
    ------
    NotInRecord
        No spot of the panel is photographed at both stages.
    PanelNotComparable
        A photograph was refused.
    OldResult
        A photograph was measured in an earlier way, and nothing was compared then.
    """
    from defectmap.comparison.setup_profile import find_profile

    profile = find_profile(setup)
    request = compare_request(
        store,
        reference,
        panel,
        before=before,
        after=after,
        setup=None if profile is None else sha256_of_text(canonical(plain(profile))),
    )
    there = kept_comparison(store, request)
    if there is not None:
        return there
    results = _measured_all(store, reference, request)
    old = [one.photograph.name for one in results.values() if one.old]
    if old:
        return _compared_then(store, reference, request, old)
    return keep_comparison(store, request, compared(store, request, results, profile=profile))


def compare_ready(
    store: Store, reference: str, panels: Sequence[str], *, progress: Progress | None = None
) -> tuple[str, ...]:
    """Compare panels before against after and keep the results; what is compared already is only found.

    Parameters
    ----------
    panels : sequence of str
        See `ready_panels`.
    progress : Progress, optional
        Told after each panel.

    Returns
    -------
    tuple of str
        What could not be compared, and why.
    """
    problems = []
    for number, name in enumerate(panels, start=1):
        try:
            compare(store, reference, name)
        except DefectmapError as error:
            problems.append(f"{name}: {error}")
        if progress is not None:
            progress(number, len(panels), name)
    return tuple(problems)


def ready_panels(look: JobOverview, *, before: str = BASELINE, after: str = PROOF) -> tuple[str, ...]:
    """Panels that have photographs of both stages."""
    return tuple(p.history.panel.name for p in look.panels if p.at(before) and p.at(after))


def advise(
    store: Store, reference: str, *, panel: str | None = None, setup: str | None = None
) -> tuple[PanelAdvice, ...]:
    """Advice, film and budget of every panel of a job, or of one.

    Parameters
    ----------
    setup : str, optional
        Name of the set-up whose repeatability is used; the default one, where there is one, if not given.

    Raises
    ------
    NotInRecord
        There is no such job or panel.
    """
    from defectmap.comparison.setup_profile import find_profile

    profile = find_profile(setup)
    known = {} if profile is None else {name: one.relative for name, one in profile.figures.items()}
    found = advise_panels(
        overview(store, reference),
        tables_of(store),
        Repeatability.of(known),
        finished=finished_panels(store, but_job=reference),
    )
    chosen = tuple(one for one in found if panel in (None, one.advice.panel))
    if panel is not None and not chosen:
        raise NotInRecord(f"Job {reference} has no panel {panel!r}; see its status for their names.")
    return chosen


def _measured_all(store: Store, reference: str, request: CompareRequest) -> Mapping[str, PhotoResult]:
    """Results of all photographs of a comparison by identity; what has none yet is measured now."""
    found = results_of(store, reference, panel=request.panel)
    missing = [one for one in request.photographs if one.photograph_id not in found]
    for one in missing:
        outcome = measure_one(one)
        if isinstance(outcome, Failure):
            raise PanelNotComparable(
                f"Panel {request.panel} cannot be compared: {one.name} could not be measured: {outcome.why}."
            )
        keep(store, one, outcome)
    if missing:
        found = results_of(store, reference, panel=request.panel)
    for one in request.photographs:
        if found[one.photograph_id].refused:
            raise PanelNotComparable(
                f"Panel {request.panel} cannot be compared: {found[one.photograph_id].refused}"
            )
    return {one.photograph_id: found[one.photograph_id] for one in request.photographs}


def _compared_then(
    store: Store, reference: str, request: CompareRequest, old: Sequence[str]
) -> ComparisonRecord:
    """The latest kept comparison of the same photographs, however it was made."""
    hashes = {side: [p.sha256 for p in getattr(request, side)] for side in ("before", "after")}
    made = [
        one
        for one in comparisons_of(store, reference)
        if one.panel == request.panel and all(one.settings.get(side) == hashes[side] for side in hashes)
    ]
    if not made:
        raise OldResult(
            f"{', '.join(old)} of {request.panel} was measured in an earlier way, which cannot be held "
            f"against today's: measure the job anew (`defectmap job measure {reference} --renew`)."
        )
    return made[-1]
