"""Whole measurements out of the record: with zone and lines, corrected by hand, laid on each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, cast

from defectmap.errors import OldResult, OriginalDamaged, PhotoError
from defectmap.record import shelf
from defectmap.record.comparisons import ComparisonRecord
from defectmap.record.corrections import Correction, corrected, to_plain
from defectmap.record.keeping import PhotoResult, results_of
from defectmap.record.measuring import keep, measured_whole, request_of
from defectmap.record.recent import Recent
from defectmap.record.shelf import panel_of

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from defectmap.comparison.outcome import SpotComparison
    from defectmap.film.assembling import FilmMeasurement
    from defectmap.panel.measurement import PanelMeasurement
    from defectmap.record.shelf import Whole
    from defectmap.record.store import Store

SEALED_FIGURES = ("density_mm_per_cm2", "zone", "longest_scratch_mm", "haze", "score")
_WHOLE: Recent[Whole] = Recent(12)  # each up to 30 MB: the zone of a 24 megapixel photograph, a film's lines


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotPair:
    """The two photographs of one spot in a comparison, and how they lie on each other."""

    before: PhotoResult
    after: PhotoResult
    laid: SpotComparison


def measurement_of(store: Store, result: PhotoResult) -> PanelMeasurement:
    """The whole measurement that counts, corrections included; shared, so never to be changed.

    Raises
    ------
    OldResult
        It was measured in an earlier way: only its figures are kept.
    """
    return panel_of(_whole(store, result))


def film_of(store: Store, result: PhotoResult) -> FilmMeasurement:
    """The whole measurement of a film that counts, corrections included; shared, so never to be changed.

    Raises
    ------
    OldResult
        It was measured in an earlier way: only its figures are kept.
    """
    return cast("FilmMeasurement", _whole(store, result))


def picture_of(store: Store, result: PhotoResult) -> NDArray[np.uint8]:
    """The picture that the marks of a result lie on: the photograph, or a film's fused light.

    Returns
    -------
    (H, W, 3) uint8 ndarray
        RGB, upright.

    Raises
    ------
    OriginalDamaged
        The kept original is missing or altered.
    """
    from defectmap.panel.photo.photograph import load

    if result.film:
        return film_of(store, result).fused_rgb
    one = result.photograph
    return load(store.originals.read(one.sha256, name=one.name), name=one.name).rgb


def _whole(store: Store, result: PhotoResult) -> Whole:
    found = _WHOLE.get(result.measurement_id)
    if found is None:
        found = uncorrected(store, result)
        if result.corrections:
            found = _as_corrected(found, corrected(panel_of(found), result.corrections))
        _WHOLE.put(result.measurement_id, found)
    return found


def _as_corrected(found: Whole, panel: PanelMeasurement) -> Whole:
    from defectmap.film.assembling import FilmMeasurement
    from defectmap.film.correcting import as_corrected

    return as_corrected(found, panel) if isinstance(found, FilmMeasurement) else panel


def correct(store: Store, result: PhotoResult, corrections: Sequence[Correction]) -> None:
    """Keep a corrected result as the one that counts from now on.

    Parameters
    ----------
    result : PhotoResult
        Of the photograph, as it counts now.
    corrections : sequence of Correction
        All of them; none goes back to what the program found.
    """
    from defectmap.panel.codec import measurement_record

    # The revision keeps each state apart, also one that was there before.
    settings = {"corrections": to_plain(corrections), "revision": result.revision}
    request = request_of(store, result.photograph, settings)
    keep(store, request, measurement_record(corrected(panel_of(uncorrected(store, result)), corrections)))


def spot_pairs(store: Store, reference: str, found: ComparisonRecord) -> tuple[SpotPair, ...]:
    """The photographs that a kept comparison was made from, spot by spot, for crops out of both.

    A spot one of whose photographs is no longer in the job is left out.
    """
    from defectmap.comparison.contract import spot_from
    from defectmap.panel.codec import measurement_from

    if found.verdict == "no" and not found.result.get("spots"):
        return ()
    by_hash = {one.photograph.sha256: one for one in results_of(store, reference, panel=found.panel).values()}
    sides = (found.settings["before"], found.settings["after"])
    pairs = []
    for one, other, said in zip(*sides, found.result["spots"], strict=True):
        if one in by_hash and other in by_hash:
            before, after = by_hash[one], by_hash[other]
            laid = spot_from(said, measurement_from(before.record), measurement_from(after.record))
            pairs.append(SpotPair(before=before, after=after, laid=laid))
    return tuple(pairs)


def uncorrected(store: Store, result: PhotoResult) -> Whole:
    """The measurement before corrections: from the shelf, else measured again from the original."""
    if result.refused:
        raise PhotoError(result.refused)
    if result.old:
        raise OldResult(
            f"{result.photograph.name} was measured in an earlier way, and only its figures are kept: "
            "measure the job anew to see its marks."
        )
    request = request_of(store, result.photograph, {})
    found = shelf.take(request.shelf)
    if found is not None and _same_figures(panel_of(found), result):
        return found
    state = request.original.bring()
    if state != "whole":
        raise OriginalDamaged(f"The kept original of {request.name} is {state}; restore it from a copy.")
    return measured_whole(request)


def _same_figures(found: PanelMeasurement, result: PhotoResult) -> bool:
    """Whether what lies on the shelf gives the figures that the sealed result holds."""
    from defectmap.panel.codec import measurement_record

    again = measurement_record(corrected(found, result.corrections), with_points=False)
    return all(again[key] == result.record.get(key) for key in SEALED_FIGURES)
