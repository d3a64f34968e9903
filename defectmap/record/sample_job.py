"""The sample job as a job of the record, so that every page has something to show."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from defectmap.errors import NotInRecord
from defectmap.record.entries import StepSpec, add_step, moment
from defectmap.record.intake import Place, add_photograph
from defectmap.record.jobs import create_job, job_named
from defectmap.record.panels import FREE_PANEL_AREA_M2, PanelSpec
from defectmap.trade.tables import load_tables

if TYPE_CHECKING:
    from defectmap.record.store import Store

JOB_FILE = "job.json"
FILM_JOB_FILE = "films/job.json"  # a second job, of one filmed spot: its figures stand apart


def load_sample_job(store: Store, samples: Path, *, job_file: str = JOB_FILE) -> str:
    """Put the sample job into a record, once; what is there already stays as it is.

    Parameters
    ----------
    samples : Path
        Folder with the job's file.
    job_file : str, optional
        Its name; the photographs are named from where it lies.

    Returns
    -------
    str
        Reference of the job.
    """
    place_of_job = samples / job_file
    said = json.loads(place_of_job.read_text(encoding="utf-8"))
    reference = str(said["reference"])
    try:
        job_named(store, reference)
    except NotInRecord:
        _create(store, said)
    for entry in said["photographs"]:
        place = Place(
            panel=entry["panel"], stage=said["stages"][entry["stage"]], px_per_mm=float(entry["px_per_mm"])
        )
        file = place_of_job.parent / entry["file"]
        add_photograph(store, reference, file, place, name=file.name)
    return reference


def _create(store: Store, said: Mapping[str, Any]) -> None:
    areas = {
        also: row.area_m2
        for row in load_tables().panels.get(said["kind"], ())
        for also in (row.name, *row.also)
    }
    create_job(
        store,
        said["reference"],
        panels=[
            PanelSpec(
                name=panel["name"],
                area_m2=areas.get(panel["name"], FREE_PANEL_AREA_M2),
                material=panel["material"],
            )
            for panel in said["panels"]
        ],
        kind=said["kind"],
        vehicle=said["vehicle"],
        colour=said["colour"],
        paint="clear coat",
    )
    for step in said["steps"]:
        add_step(
            store,
            said["reference"],
            step["panel"],
            StepSpec(kind=step["step"], product=step.get("what", "")),
            at=moment(step["at"]),
        )
