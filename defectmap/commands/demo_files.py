"""What `defectmap demo` writes of each photograph and film."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from defectmap.commands.measure_work import overlay_picture
from defectmap.commands.printing import write_record
from defectmap.outputs import write_file
from defectmap.panel.codec import zone_png
from defectmap.record.keeping import PhotoResult
from defectmap.record.store import Store
from defectmap.record.whole import measurement_of, picture_of


def write_files(store: Store, result: PhotoResult, out: Path) -> None:
    """The record, zone mask and overlay of one photograph, as `defectmap measure` writes them."""
    stem = Path(result.photograph.name).stem
    zone, overlay, path = out / f"{stem}-zone.png", out / f"{stem}-overlay.jpg", out / f"{stem}.json"
    record: dict[str, Any] = dict(result.record)
    if not result.refused:
        record["zone"] = {**record["zone"], "mask_png": str(zone)}
        measured = measurement_of(store, result)
        write_file(zone, zone_png(measured.zone))
        write_file(overlay, overlay_picture(picture_of(store, result), measured, overlay.suffix))
    write_record(record, path)
