"""What a measurement is: frozen results that carry their units in their names.

Geometry is (row, column) in pixels of the upright photograph; the centre of the first pixel is (0, 0).
Lengths, areas and densities are in mm where the scale is known (`Scale.calibrated`); otherwise one "mm" is
one pixel, densities are relative, and every output says `uncalibrated`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from defectmap.words.remark import Remark

MarkKind = Literal["swirl", "scratch", "trail"]
Polarity = Literal["bright", "dark"]
ScaleSource = Literal["typed", "card", "field-width", "none"]
LampSide = Literal[
    "left", "right", "above", "below", "upper left", "upper right", "lower left", "lower right"
]


def _nothing() -> NDArray[np.float32]:
    return np.empty(0, np.float32)


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoFacts:
    """What the file says of itself; everything but name, hash and size may be unknown (None)."""

    name: str
    sha256: str
    width_px: int
    height_px: int
    taken: str | None = None  # ISO 8601, camera clock
    exposure_s: float | None = None
    iso: float | None = None
    f_number: float | None = None
    focal_length_mm: float | None = None
    camera: str | None = None
    bits: int = 8
    hdr: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """Pixels of the photograph for a millimetre of panel, and where that figure comes from."""

    px_per_mm: float  # 1.0 where source is "none"
    source: ScaleSource
    tilt_deg: float | None = None  # of the card's plane against the sensor, where a card was found

    @property
    def calibrated(self) -> bool:
        """Whether lengths are real millimetres."""
        return self.source != "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class Hotspot:
    """The lamp's reflection."""

    row: float
    column: float
    radius_px: float  # of the disc that holds the saturated (or brightest) core
    lamps: int  # separate cores that were grouped into this one hotspot


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One detected line."""

    kind: MarkKind
    polarity: Polarity
    points: NDArray[np.float64]  # (N, 2) row, column, px; smoothed centreline
    length_mm: float
    width_mm: float  # full width at half height of the cross profile, camera blur included
    contrast: float  # median of |peak - surround| / surround, linear light
    contrast_to_noise: float  # median of |peak - surround| / noise of one pixel
    equivalent_width_um: float = math.nan  # median of |um|; in thousandths of a px where the scale is unknown
    # at each point; empty where a mark was read back from a record without them
    um: NDArray[np.float32] = field(default_factory=_nothing)  # (N,) signed equivalent width, + is brighter
    beside: NDArray[np.float32] = field(default_factory=_nothing)  # (N,) linear light beside the line
    lamp_places: int = 1  # frames of a film that show it at the standard
    stands_for: float = 1.0  # times its length, with what stronger neighbours hide of its like (see `hidden`)

    def piece(self, where: slice, *, length_mm: float, equivalent_width_um: float) -> Mark:
        """Some of its points as a mark; written out, as `dataclasses.replace` takes three times as long."""
        return Mark(
            kind=self.kind,
            polarity=self.polarity,
            points=self.points[where],
            length_mm=length_mm,
            width_mm=self.width_mm,
            contrast=self.contrast,
            contrast_to_noise=self.contrast_to_noise,
            equivalent_width_um=equivalent_width_um,
            um=self.um[where],
            beside=self.beside[where],
            lamp_places=self.lamp_places,
            stands_for=self.stands_for,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotDefect:
    """A round thing that is not a mark: dust, or the ring of a dried drop."""

    kind: Literal["dust", "water spot"]
    row: float
    column: float
    diameter_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RingDensity:
    """Density of marks at one distance from the hotspot."""

    inner_mm: float
    outer_mm: float
    area_cm2: float
    length_mm: float

    @property
    def mm_per_cm2(self) -> float:
        """Length over area; 0 where the ring holds no zone."""
        return self.length_mm / self.area_cm2 if self.area_cm2 > 0 else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Density:
    """Length of marks per area of zone, in mm/cm², by kind; what neighbours hide is in it (see `hidden`)."""

    swirl: float
    scratch: float
    trail: float

    @property
    def all(self) -> float:
        """Every kind together."""
        return self.swirl + self.scratch + self.trail


@dataclass(frozen=True, slots=True, kw_only=True)
class DetectionLimit:
    """The faintest mark this photograph could have shown (ISO 8785 asks for the limit of discrimination)."""

    contrast_to_noise: float  # threshold that a mark must reach along `length_mm`
    length_mm: float  # shortest mark counted
    contrast: float  # the same threshold as a share of the surround, median over the zone
    equivalent_width_um: float = math.nan  # faintest that half of the zone could show along `length_mm`


@dataclass(frozen=True, slots=True, kw_only=True)
class Sharpening:
    """Unsharp masking that would leave the dark lobes which stand beside bright lines."""

    overshoot: float  # depth of the lobe beside the median line, over the line's height, in codes
    amount: float = 0.0  # share added of what a code exceeds the blurred copy by; 0: none to be taken back
    sd_px: float = 1.0  # standard deviation of that blur


@dataclass(frozen=True, slots=True, kw_only=True)
class BlindPlace:
    """A place in the picture where a film could not show many directions of groove."""

    x_share: float  # of the picture's width and height
    y_share: float
    directions_share: float  # that could be shown there
    lamp_side: LampSide  # of this place, to which the lamp has to go to show most of the others


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FilmFacts:
    """Which frames of a film, or photographs with the lamp moved, one measurement was made of."""

    frames: int  # that the file gave
    said_frames: int  # that its header promises; 0 where it does not say
    used: tuple[int, ...]  # numbers of frames, from 0
    to_first: tuple[
        NDArray[np.float64], ...
    ]  # (3, 3) of each used frame: its x, y in px to those of the first
    sure_px: tuple[float, ...]  # one standard deviation of each used frame's place
    left_out: Mapping[str, int]  # how many other frames, by reason
    directions_share: float  # of 180 degrees, over the zone: which directions of groove could be shown
    by_hand: bool = False  # photographs, each placed anew
    blind: tuple[BlindPlace, ...] = ()  # the blindest first
    lamps: tuple[tuple[float, float], ...] = ()  # x, y of the hotspot of each used frame, px of the first


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelMeasurement:
    """Everything measured in one photograph."""

    photo: PhotoFacts
    scale: Scale
    hotspot: Hotspot
    zone: NDArray[np.bool_]  # (H, W): where marks count
    area_cm2: float
    marks: tuple[Mark, ...]  # of the standard: equivalent width of at least 100 µm along at least 1 mm
    spots: tuple[SpotDefect, ...]
    density: Density  # mm/cm²
    rings: tuple[RingDensity, ...]
    longest_scratch_mm: float
    haze: float
    score: float | None  # None where the scale is unknown: lengths in px make no score
    detection_limit: DetectionLimit
    sharpening: Sharpening | None = None  # by the phone, taken back in the strength of marks; None: unknown
    faint_marks: tuple[Mark, ...] = ()  # below the standard of `tuning.STANDARD_UM`: in no figure
    strength: Mapping[int, float] = field(default_factory=dict)  # µm → mm/cm² of marks at least so strong
    warnings: tuple[Remark, ...] = field(default=())  # see `words.photo_words`
    film: FilmFacts | None = None  # where the measurement is of a film
