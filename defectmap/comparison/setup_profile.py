"""The set-up's repeatability, kept in a file so that every comparison with it knows its own scatter.

One JSON file for each set-up (lamp, camera, distance, way of holding) under the user's data folder:
`platformdirs.user_data_path("defectmap")/setups/NAME.json`, for example `~/.local/share/defectmap/setups` on
Linux,
`~/Library/Application Support/defectmap/setups` on a Mac and `%LOCALAPPDATA%\\defectmap\\setups` on Windows.
"""

from __future__ import annotations

import json
import math
import re
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from defectmap.comparison import tuning
from defectmap.comparison.outcome import Figure
from defectmap.comparison.repeatability import repeatability_limit
from defectmap.comparison.sampling import CaptureScatter
from defectmap.errors import DefectmapError
from defectmap.words.remark import Remark

SCHEMA = 2  # 1 held the scatter of marks at three times the noise, and warnings as sentences
DEFAULT_NAME = "default"
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 _-]{0,60}")


class SetupError(DefectmapError):
    """The set-up's profile is missing, damaged or badly named."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FigureScatter:
    """How one figure repeats."""

    mean: float
    relative: float  # repeatability standard deviation of one shot over the mean
    common: float  # the part of it that moves all sectors together; `relative` where that is not known
    df: float
    df_common: float
    limit_percent: float  # ISO 5725 repeatability limit of two single shots, in percent of the mean
    smallest_change_percent: float  # smallest change that one shot a side can prove, few shots allowed for
    reproducibility: float | None = None  # as `relative`, with any phone; None for one phone
    own_zones: float | None = None  # scatter of densities counted in each shot's own zone, as `measure` does


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupProfile:
    """Repeatability of one set-up."""

    name: str
    shots: int
    phones: int = 1  # that the shots were taken with
    figures: dict[Figure, FigureScatter]
    taken: str | None = None  # of the first shot, camera clock
    camera: str | None = None
    px_per_mm: float | None = None
    hotspot_radius_mm: float | None = None
    warnings: tuple[Remark, ...] = field(default=())

    def capture(self, figure: Figure) -> CaptureScatter:
        """Scatter that a comparison of this figure must add for each photograph."""
        found = self.figures.get(figure) or ASSUMED.figures[figure]
        if figure.startswith("density"):
            return CaptureScatter(relative=max(found.common, tuning.LEAST_COMMON), df=found.df_common)
        return CaptureScatter(relative=found.relative, df=found.df)


def assumed_figure(relative: float) -> FigureScatter:
    """Scatter taken for granted where nobody ran `repeat`."""
    return FigureScatter(
        mean=math.nan,
        relative=relative,
        common=relative,
        df=tuning.ASSUMED_DF,
        df_common=tuning.ASSUMED_DF,
        limit_percent=100 * repeatability_limit(relative),
        smallest_change_percent=math.nan,
    )


ASSUMED = SetupProfile(
    name="assumed",
    shots=0,
    figures={
        "density all": assumed_figure(tuning.ASSUMED_DENSITY),
        "density swirl": assumed_figure(tuning.ASSUMED_DENSITY),
        "density scratch": assumed_figure(tuning.ASSUMED_FEW),
        "density trail": assumed_figure(tuning.ASSUMED_FEW),
        "longest scratch": assumed_figure(tuning.ASSUMED_LONGEST),
        "haze": assumed_figure(tuning.ASSUMED_HAZE),
        "score": assumed_figure(tuning.ASSUMED_SCORE),
    },
)


def setups_folder() -> Path:
    """Where profiles are kept on this computer."""
    from platformdirs import user_data_path

    return user_data_path("defectmap", appauthor=False) / "setups"


def save_profile(profile: SetupProfile, *, folder: Path | None = None) -> Path:
    """Write a profile; an older one of the same name is replaced.

    Raises
    ------
    SetupError
        The name is no plain file name, or the folder cannot be written.
    """
    path = _path(profile.name, folder)
    record = {"schema": SCHEMA, **asdict(profile)}
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(json.dumps(record, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    except OSError as error:
        raise SetupError(f"{path} cannot be written: {error.strerror}; name another folder.") from error
    return path


def load_profile(name: str = DEFAULT_NAME, *, folder: Path | None = None) -> SetupProfile:
    """Read a profile.

    Raises
    ------
    SetupError
        There is none of that name, or the file is damaged or from a newer version.
    """
    path = _path(name, folder)
    try:
        record = json.loads(path.read_text(encoding="utf-8"))
        return _profile(record)
    except FileNotFoundError as error:
        raise SetupError(f"No set-up is called '{name}'; make it with `defectmap repeat PHOTO…`.") from error
    except OSError as error:
        raise SetupError(f"{path} cannot be read: {error.strerror}; check its permissions.") from error
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise SetupError(
            f"{path} is damaged or from another version; run `defectmap repeat` again."
        ) from error


def find_profile(name: str | None, *, folder: Path | None = None) -> SetupProfile | None:
    """Profile of that name; without a name the default one, or None where it was never made."""
    if name is not None:
        return load_profile(name, folder=folder)
    if not _path(DEFAULT_NAME, folder).exists():
        return None
    return load_profile(folder=folder)


def _path(name: str, folder: Path | None) -> Path:
    if not _NAME.fullmatch(name):
        raise SetupError(
            f"{name!r} is not a valid name for a set-up; use letters, digits, spaces and dashes."
        )
    return (folder or setups_folder()) / f"{name}.json"


def _profile(record: dict[str, Any]) -> SetupProfile:
    if record.pop("schema") != SCHEMA:
        raise ValueError("another schema")
    figures = {figure: FigureScatter(**scatter) for figure, scatter in record.pop("figures").items()}
    for scatter in figures.values():
        if not (scatter.relative >= 0 and scatter.common >= 0 and scatter.df > 0 and scatter.df_common > 0):
            raise ValueError("a scatter below 0")
    warnings = tuple(Remark(**said) for said in record.pop("warnings", ()))
    return SetupProfile(figures=figures, warnings=warnings, **record)
