"""Whole measurements, before any correction, kept beside the record, so that no photograph is measured twice.

The record keeps a result's JSON, sealed; the whole measurement, with zone mask and centrelines at full
precision, and what only a film has, lies in `kept/SHA256-….npz` in the record's
folder. It may be deleted: it is made again.
"""

from __future__ import annotations

import json
import os
import uuid
import zipfile
import zlib
from pathlib import Path
from typing import TYPE_CHECKING, cast

from defectmap.record.sealing import canonical, sha256_of_text
from defectmap.versions import MEASURING

if TYPE_CHECKING:
    from defectmap.film.assembling import FilmMeasurement
    from defectmap.panel.measurement import PanelMeasurement

    Whole = PanelMeasurement | FilmMeasurement

FOLDER = "kept"


def place_of(folder: Path, sha256: str, *, px_per_mm: float | None, field_width_mm: float | None) -> Path:
    """Where the measurement of a photograph lies in the record's folder, whether or not it does.

    Parameters
    ----------
    folder : Path
        Of the record.
    sha256 : str
        Of the photograph.
    px_per_mm, field_width_mm : float or None
        Its scale as it was typed: with another scale, another measurement.
    """
    made_with = canonical([MEASURING, px_per_mm, field_width_mm])
    return folder / FOLDER / f"{sha256}-{sha256_of_text(made_with)[:12]}.npz"


def put(measured: Whole, place: Path) -> None:
    """Keep a measurement; a full disk only costs time later."""
    import numpy as np

    from defectmap.film.kept import film_arrays
    from defectmap.panel.arrays import measurement_arrays
    from defectmap.panel.codec import measurement_record

    panel = panel_of(measured)
    arrays = measurement_arrays(panel) | (
        {} if panel is measured else film_arrays(cast("FilmMeasurement", measured))
    )
    record = json.dumps(measurement_record(panel, with_points=False)).encode()
    unfinished = place.with_name(f"{uuid.uuid4().hex}.part")
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        with unfinished.open("xb") as file:
            record_array = np.frombuffer(record, dtype=np.uint8)
            np.savez_compressed(file, **{"record": record_array, **arrays})  # type: ignore[arg-type]
        os.replace(unfinished, place)
    except OSError:
        unfinished.unlink(missing_ok=True)


def panel_of(measured: Whole) -> PanelMeasurement:
    """The figures of a measurement in the form that photographs and films share."""
    from defectmap.film.assembling import FilmMeasurement

    return measured.panel if isinstance(measured, FilmMeasurement) else measured


def take(place: Path) -> Whole | None:
    """The measurement that is kept there; None where there is none that can be read."""
    import numpy as np

    from defectmap.film.kept import film_from
    from defectmap.panel.arrays import completed
    from defectmap.panel.codec import measurement_from

    try:
        with place.open("rb") as file, np.load(file, allow_pickle=False) as kept:
            arrays = {name: kept[name] for name in kept.files}
        panel = completed(measurement_from(json.loads(arrays["record"].tobytes())), arrays)
        return panel if panel.film is None else film_from(panel, arrays)
    except (OSError, KeyError, IndexError, ValueError, TypeError, EOFError, zipfile.BadZipFile, zlib.error):
        return None
