"""Measure a film, or photographs with the lamp moved, as one: from the files to one map of all marks."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import islice
from pathlib import Path

from defectmap.errors import LampCut, PhotoError
from defectmap.film import tuning
from defectmap.film.assembling import FilmMeasurement, assemble
from defectmap.film.choosing import Reason, choose
from defectmap.film.framing import MeasuredFrame, measure_frame, scale_for_windows
from defectmap.film.looking import FilmProgress, look
from defectmap.film.reading import Frame, Source, open_film, open_series
from defectmap.film.registering import register
from defectmap.film.scaling import FilmScale, find_scale
from defectmap.panel.threads import in_pairs


def measure_film(
    source: Path | Sequence[Path],
    *,
    px_per_mm: float | None = None,
    field_width_mm: float | None = None,
    name: str | None = None,
    progress: FilmProgress | None = None,
) -> FilmMeasurement:
    """Measure a film of one spot under a moving lamp, or several photographs of it.

    Parameters
    ----------
    source : Path or sequence of Path
        A film file, or photographs with the lamp moved from one to the next.
    px_per_mm, field_width_mm : float, optional
        Scale of the first frame; the printed card in the picture gives it otherwise.
    name : str, optional
        What to call it.
    progress : callable, optional
        Told what is done, how much of it, and of how much.

    Returns
    -------
    FilmMeasurement
        Points and zone in pixels of the first frame.

    Raises
    ------
    PhotoError
        It cannot be measured; the message says why and what to do.
    ScaleError
        The scale given cannot be right.
    """
    film: Source = open_film(source, name=name) if isinstance(source, Path) else open_series(source)
    name = name or (film.facts.name if isinstance(source, Path) else f"The series of {film.facts.name}")
    looked = look(film, progress=progress)
    most = min(tuning.MOST_FRAMES_USED, int(tuning.MOST_PIXELS_USED / (film.shape[0] * film.shape[1])))
    chosen, left_out = choose(looked, name=name, by_hand=film.by_hand, most=most)
    scale = find_scale(film, chosen, px_per_mm=px_per_mm, field_width_mm=field_width_mm)
    frames, unlit = _measured(film, chosen, scale, progress)
    left_out |= unlit
    known = scale.scale.px_per_mm if scale.scale.calibrated else None
    frames, extra = _with_first(film, frames, known)
    laid = register(frames, shape=film.shape, scale=scale_for_windows(known), by_hand=film.by_hand, name=name)
    if extra:
        laid = laid.without(0)
    if progress:
        progress("joining marks", 0, 1)
    return assemble(film, looked, laid, scale=scale, left_out=left_out | laid.left_out)


def _measured(
    film: Source, chosen: Sequence[int], scale: FilmScale, progress: FilmProgress | None
) -> tuple[list[MeasuredFrame], dict[int, Reason]]:
    """Frames measured one by one, and those whose lamp is not whole in view after all."""
    known = scale.scale.px_per_mm if scale.scale.calibrated else None
    masked = scale.about_card(film.shape)
    frames: list[MeasuredFrame] = []
    unlit: dict[int, Reason] = {}
    done, rest = 0, film.frames(chosen)

    def measured(frame: Frame) -> MeasuredFrame | None:
        try:
            return measure_frame(frame, px_per_mm=known, masked=masked)
        except PhotoError as error:
            unlit[frame.number] = "lamp cut" if isinstance(error, LampCut) else "no lamp"
            return None

    while two := list(islice(rest, 2)):  # two at a time, so that only two are held as they were filmed
        frames += [frame for frame in in_pairs(measured, two) if frame is not None]
        done += len(two)
        if progress:
            progress("measuring frames", done, len(chosen))
    return frames, unlit


def _with_first(
    film: Source, frames: list[MeasuredFrame], px_per_mm: float | None
) -> tuple[list[MeasuredFrame], bool]:
    """Put the film's first frame before the others, as all points are told in its pixels.

    Where its lamp is cut or not in view its marks do not count, but its lines still say where it lies; the
    lamp is taken to be where the next frame has it.
    """
    if not frames or frames[0].number == 0:
        return frames, False
    frame = next(film.frames([0]), None)
    if frame is None:
        return frames, False
    first = measure_frame(frame, px_per_mm=px_per_mm, hotspot=frames[0].hotspot)
    return [first, *frames], True
