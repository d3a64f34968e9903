"""What the record gives back: frozen copies of its rows, safe to keep after the database is closed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from defectmap.words.remark import Remark


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """What was agreed with the customer; None leaves that figure free."""

    density_mm_per_cm2: float | None = None
    haze: float | None = None
    trail_mm_per_cm2: float | None = None
    longest_scratch_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierTarget:
    """What held until something else was agreed."""

    target: Target
    until: str


@dataclass(frozen=True, slots=True, kw_only=True)
class JobRecord:
    """One vehicle taken in."""

    id: str
    reference: str
    customer: str
    kind: str
    vehicle: str
    colour: str
    paint: str
    target: Target
    earlier_targets: tuple[EarlierTarget, ...]  # oldest first; nothing that was ever agreed is lost
    created_at: str
    changed_at: str
    version: int  # grows with every change; hand it back to notice that somebody else changed it
    vehicle_id: str | None = None
    closed_at: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelRecord:
    """One panel of a job."""

    id: str
    job_id: str
    name: str
    position: int
    material: str
    area_m2: float
    repainted: str
    clear_coat_um: float | None
    catches_nail: bool
    version: int
    paint: str = ""  # where it differs from the vehicle's
    painted_on: str | None = None  # day of a new paint, ISO 8601


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotographRecord:
    """An original at its place in the job."""

    id: str
    panel: str
    spot: str
    stage: str
    sha256: str
    name: str
    taken_at: str | None
    added_at: str
    px_per_mm: float | None
    field_width_mm: float | None
    warnings: tuple[Remark, ...]
    set_aside: str | None
    film: bool = False  # of one spot while the lamp moves


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """The figures of one measured photograph; lengths in mm, densities in mm/cm² where calibrated."""

    swirl: float | None
    scratch: float | None
    every_mark: float | None
    longest_scratch_mm: float | None
    haze: float | None
    score: float | None
    calibrated: bool
    directions_share: float | None = None  # of a film: which directions of groove it could show; else None


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasurementRecord:
    """One measurement of one photograph, without its marks (`keeping.results_of` has those)."""

    id: str
    photograph_id: str
    program_version: str
    settings: Mapping[str, Any]
    made_at: str
    refused: str | None
    figures: Figures


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingRecord:
    """One reading of a film thickness gauge: the whole film down to the metal, in µm."""

    id: str
    place: str
    value_um: float
    entered: str
    at: str
    set_aside: str | None = None
    stage: str = ""  # at which it was taken
    again: bool = False  # a second look, exactly where the lowest of this place was read
    explained: str | None = None  # why it is low, where that is known: an edge, a repair
    job: str = ""  # reference of the job


@dataclass(frozen=True, slots=True, kw_only=True)
class StepRecord:
    """One thing done to a panel, or to one spot of it (`spot` is then its name).

    A set is one working of a section, four to six movements; removal is that of all sets together.
    """

    id: str
    kind: str
    spot: str | None
    rung: str | None
    product: str
    pad: str
    machine: str
    sets: int
    section_s: float | None
    removal_low_um: float
    removal_high_um: float
    warnings: tuple[Remark, ...]
    at: str
    set_aside: str | None = None
    by: str = ""  # who did it
    minutes: float | None = None  # how long it took


@dataclass(frozen=True, slots=True, kw_only=True)
class StageRecord:
    """A stage that a panel entered."""

    stage: str
    warnings: tuple[Remark, ...]
    at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteRecord:
    """Free words about a job (`panel` None) or a panel."""

    id: str
    panel: str | None
    words: str
    at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckRecord:
    """One line of a checklist; not done while `done_at` is None."""

    id: str
    list_name: str
    words: str
    done_at: str | None
    done_by: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelHistory:
    """All that the rules of the trade look at for one panel; nothing in it was set aside."""

    panel: PanelRecord
    photographed: frozenset[str] = frozenset()  # stages of which there is a photograph
    steps: tuple[StepRecord, ...] = ()  # oldest first
    readings: tuple[ReadingRecord, ...] = ()  # oldest first
    stages: tuple[StageRecord, ...] = ()  # oldest first
    earlier_steps: tuple[StepRecord, ...] = ()  # in earlier jobs of the same vehicle, oldest first
    earlier_readings: tuple[ReadingRecord, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class VehicleRecord:
    """One car over its life; nothing here says whose it is."""

    id: str
    name: str
    kind: str
    make: str
    colour: str
    paint: str
    created_at: str
    version: int


@dataclass(frozen=True, slots=True, kw_only=True)
class KeeperRecord:
    """Whose vehicle it is: personal data, kept apart."""

    name: str = ""
    contact: str = ""
    plate: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DamageRecord:
    """Damage that was there at intake."""

    id: str
    panel: str
    kind: str
    x: float | None  # on the car's plan, shares of its width and height
    y: float | None
    words: str
    stays: str | None  # why it is not corrected; None where it is to be worked on
    sha256: str | None  # of its photograph
    at: str
    set_aside: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CareRecord:
    """A day on which something about the care of a car is due."""

    id: str
    job: str
    vehicle: str  # as the shop calls it
    day: str
    kind: str
    words: str
    done_at: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SignatureRecord:
    """What a customer signed: personal data; its picture is read apart."""

    id: str
    what: str
    words: str
    given: bool
    signed_by: str
    at: str
    on_paper: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class RunningRecord:
    """Work that was started and not yet stopped."""

    id: str
    panel: str
    kind: str
    by: str
    started_at: str
